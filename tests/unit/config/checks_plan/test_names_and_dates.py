"""Gardens, batches and plantings that cannot work."""

from __future__ import annotations

from datetime import date

import pytest

from support.config_mistakes import SOUND
from support.config_trial import edited, trial

PLANTING = 'crop = "kale"\nplants = 8'
START = "start_on = 2027-04-05"


class TestNames:
    """Names are told apart in keys, files and briefs."""

    @pytest.mark.parametrize("name", ["Long row", "long row", "LONG ROW", "Long-row", "Löng row"])
    def test_names_of_batches_that_look_alike_are_refused(self, name: str) -> None:
        """The key of a task holds the name in plain letters."""
        error = edited(('"Short row"', f'"{name}"')).error

        assert "Give one of the two another name." in error.remedy
        assert name in error.found
        if name.casefold() != "long row":
            assert '"Long row"' in error.what

    def test_a_letter_and_its_number_are_not_told_apart(self) -> None:
        """Other scripts stand in keys by their code points, and digits by themselves."""
        error = edited(('"Short row"', '"5317"'), ('"Long row"', '"北"')).error

        assert '"北"' in error.what
        assert '"5317"' in error.found

    def test_crops_of_a_batch_that_look_alike_in_keys_are_refused(self) -> None:
        """Both would be planted by the same word."""
        own = (
            '[[crops]]\nname = "Paste-Tomato"\nlike = "tomato"\n\n[[crops]]\nname = "paste tomato"'
        )
        planted = (
            'crop = "paste tomato"\nplants = 2\n\n'
            '[[gardens.batches.plantings]]\ncrop = "Paste-Tomato"\nplants = 2'
        )
        error = edited(('[[crops]]\nname = "paste tomato"', own), (PLANTING, planted)).error

        assert '"paste tomato"' in error.what
        assert '"Paste-Tomato"' in error.found

    def test_gardens_that_look_alike_in_files_are_refused(self) -> None:
        """Their notices are filed under the plain name."""
        other = SOUND[SOUND.index("[[gardens]]") : SOUND.index("[[feeds]]")]
        text = SOUND.replace("[[feeds]]", other.replace("Mill lane", "mill-lane") + "[[feeds]]")

        assert '"Mill lane"' in trial(text).error.what

    def test_names_without_latin_letters_are_told_apart(self) -> None:
        """They keep their letters."""
        assert edited(('"Short row"', '"北"'), ('"Long row"', '"南"')).fine

    def test_two_gardens_may_have_batches_of_one_name(self) -> None:
        """Keys are unique in a garden."""
        other = SOUND[SOUND.index("[[gardens]]") : SOUND.index("[[feeds]]")]
        text = SOUND.replace("[[feeds]]", other.replace("Mill lane", "Far lane") + "[[feeds]]")

        assert trial(text).fine

    def test_a_garden_name_twice_is_refused(self) -> None:
        """The journal is kept by the name."""
        other = SOUND[SOUND.index("[[gardens]]") : SOUND.index("[[feeds]]")]
        text = SOUND.replace("[[feeds]]", other + "[[feeds]]")

        assert "another garden has this name" in trial(text).error.what

    def test_a_feed_name_twice_is_refused(self) -> None:
        """Which one would be meant?"""
        feed = '[[feeds]]\nname = "Shelf meal"\nlabel = "12-0-0"\ndensity_kg_per_l = 0.6\n\n'

        assert "another feed" in edited(("[[crops]]", f"{feed}[[crops]]")).error.what

    def test_a_crop_twice_in_a_batch_is_refused(self) -> None:
        """Its tasks could not be told apart."""
        again = f'{PLANTING}\n\n[[gardens.batches.plantings]]\ncrop = "kale"\nplants = 4'

        assert "another crop of the batch" in edited((PLANTING, again)).error.what

    @pytest.mark.parametrize("name", ["", " ", "a\\nb", "a\\u001bb", "a\\u2028b", "x" * 121])
    def test_names_that_cannot_be_shown_are_refused(self, name: str) -> None:
        """One line of printable text, at most 120 letters."""
        assert edited(('"Short row"', f'"{name}"')).error.found

    @pytest.mark.parametrize(
        "name", ["{{7*7}}", "%(x)s", "$HOME", "<script>", "&lt;", "🌱", "x" * 120]
    )
    def test_names_that_only_look_dangerous_are_fine(self, name: str) -> None:
        """They are shown as they are."""
        assert edited(('"Short row"', f"'{name}'")).fine


class TestDates:
    """Starts and planting days."""

    def test_a_batch_without_a_start_is_refused(self) -> None:
        """Neither start_on nor plant_on."""
        assert "neither" in edited((f"{START}\n", "")).error.what

    @pytest.mark.parametrize(
        ("day", "refused"), [("2027-04-15", True), ("2027-04-16", False), ("2027-04-17", False)]
    )
    def test_planting_before_the_bales_can_be_ready_is_refused(
        self, day: str, refused: bool
    ) -> None:
        """Started on the 5th, day 12 of alternate-days is the 16th; it is named."""
        errors = edited((PLANTING, f"{PLANTING}\nplant_on = {day}")).errors

        assert bool(errors) is refused
        assert all("plant_on = 2027-04-16" in each.remedy for each in errors)

    def test_the_nearest_day_follows_an_own_schedule(self) -> None:
        """Its planting day counts."""
        own = (
            '[[schedules]]\nname = "slow"\ndays = ["feed", "water", "feed", "finish"]\n'
            "plant_from_day = 20\n\n[[crops]]"
        )
        trial = edited(
            ("[[crops]]", own),
            ('schedule = "alternate-days"', 'schedule = "slow"'),
            (PLANTING, f"{PLANTING}\nplant_on = 2027-04-23"),
        )

        assert "2027-04-24 or later" in trial.error.allowed

    @pytest.mark.parametrize("year", [1999, 2100])
    def test_a_year_that_cannot_be_meant_is_refused(self, year: int) -> None:
        """A slip of the finger."""
        assert "cannot be meant" in edited((START, f"start_on = {year}-04-05")).error.what

    @pytest.mark.parametrize(("day", "warned"), [("2028-04-04", False), ("2028-04-05", True)])
    def test_a_start_more_than_400_days_ahead_is_doubted(self, day: str, warned: bool) -> None:
        """The configuration is read on 1 March 2027."""
        assert bool(edited((START, f"start_on = {day}")).warnings) is warned

    def test_a_plan_is_not_past_while_its_crops_stand(self) -> None:
        """In autumn of the same year the season still runs."""
        assert edited(today=date(2027, 9, 1)).fine
        assert "lies in the past" in edited(today=date(2028, 3, 1)).warning.what


class TestPlantings:
    """Crops, numbers and successions."""

    def test_following_an_unknown_crop_is_refused(self) -> None:
        """It must be an earlier one of the batch."""
        assert "follows" in edited((PLANTING, f'{PLANTING}\nfollows = "leek"')).error.where

    def test_following_does_not_mind_capitals(self) -> None:
        """As everywhere else."""
        second = '[[gardens.batches.plantings]]\ncrop = "lettuce"\nplants = 4\nfollows = "Kale"'

        assert edited((PLANTING, f"{PLANTING}\n\n{second}")).fine

    def test_a_crop_that_does_badly_is_warned_about_with_the_reason(self) -> None:
        """Corn is top-heavy."""
        warning = edited(('crop = "kale"', 'crop = "sweet corn"')).warning

        assert "does badly in bales: " in warning.what

    def test_a_crop_left_out_of_the_table_on_purpose_says_why(self) -> None:
        """Rhubarb needs years in one place."""
        assert "several years" in edited(('crop = "kale"', 'crop = "rhubarb"')).error.what

    def test_capitals_do_not_matter(self) -> None:
        """Growers write Kale."""
        loaded = edited(('crop = "kale"', 'crop = "Kale"')).loaded

        assert loaded is not None
        assert loaded.gardens[0].batches[0].plantings[0].crop.name == "kale"


class TestBales:
    """Kinds and sizes."""

    def test_an_unknown_kind_is_refused_with_the_likely_one(self) -> None:
        """The two kinds are named."""
        error = edited(('"two-string"', '"2-string"')).error

        assert '"three-string"' in error.allowed

    def test_a_size_of_ones_own_is_taken(self) -> None:
        """As it is set out."""
        size = "{ length_cm = 80, width_cm = 40, height_cm = 30, dry_mass_kg = 12 }"
        loaded = edited(('"two-string"', size)).loaded

        assert loaded is not None
        bale = loaded.gardens[0].batches[0].bale
        assert (bale.length_cm, bale.width_cm, bale.height_cm) == (80, 40, 30)
        assert bale.dry_mass_kg == 12

    def test_a_size_without_its_mass_is_refused(self) -> None:
        """The key in the inline table is named."""
        size = "{ length_cm = 80, width_cm = 40, height_cm = 30 }"

        assert "dry_mass_kg is missing" in edited(('"two-string"', size)).error.what


def test_a_garden_at_rest_needs_no_bales() -> None:
    """The way to force a garden without tasks."""
    rest = (
        '[[gardens]]\nname = "Far corner"\nlatitude = 47.1\nlongitude = 8.3\n'
        'time_zone = "Europe/Zurich"\nresting = true\n\n[[feeds]]'
    )

    assert edited(("[[feeds]]", rest)).fine


class TestDoses:
    """A full dose of the grower's own, per kg of dry straw."""

    @pytest.mark.parametrize(("dose", "fine"), [("2.86", True), ("2.87", False), ("3.4", False)])
    def test_more_than_the_straw_takes_is_refused_with_the_most(
        self, dose: str, fine: bool
    ) -> None:
        """4.5 full doses and the last feeding: at most 250 g for 17.6 kg of dry straw."""
        asked = ('feed = "Shelf meal"\n', f'feed = "Shelf meal"\ndose_per_kg_straw_g = {dose}\n')
        trial = edited(asked)
        assert trial.fine is fine
        if not fine:
            assert "at most 2.86 with this schedule" in trial.error.allowed
            assert "17.6 kg of dry straw" in trial.error.what


class TestFeedsInUse:
    """What speaks against a feed is told where it is used."""

    @pytest.mark.parametrize(("nitrogen", "warned"), [("2.9", True), ("3", False), ("3.1", False)])
    def test_little_nitrogen_is_warned_about(self, nitrogen: str, warned: bool) -> None:
        """Under 3 percent a bale cannot take enough of it."""
        assert bool(edited(('"12-0-0"', f'"{nitrogen}-0-0"')).warnings) is warned

    def test_slow_release_is_warned_about(self) -> None:
        """Its nitrogen comes too late."""
        trial = edited(('form = "dry"', 'form = "dry"\nslow_release = true'))

        assert "too late" in trial.warning.what

    def test_a_feed_without_nitrogen_is_refused(self) -> None:
        """It cannot condition a bale at all."""
        assert "no nitrogen" in edited(('"12-0-0"', '"0-12-12"')).error.what

    def test_a_feed_that_no_batch_uses_is_not_judged(self) -> None:
        """It may be meant for something else."""
        assert edited(('feed = "Shelf meal"\n', ""), ('"12-0-0"', '"1-0-0"')).fine

    def test_nothing_is_said_about_a_feed_whose_entry_is_wrong(self) -> None:
        """A label that cannot be read says nothing about its nitrogen."""
        trial = edited(('"12-0-0"', '"a lot"'))

        assert trial.error.where.endswith("label")
        assert trial.warnings == ()

    def test_an_unknown_feed_is_not_told_beside_a_wrong_feed_name(self) -> None:
        """The entry with the empty name may be the one that is meant."""
        assert edited(('name = "Shelf meal"', 'name = ""')).error.where.endswith("name")
