"""Crops that a freeze kills before they are ripe, and what would work instead."""

from __future__ import annotations

from datetime import date

import pytest

from support.config_mistakes import TODAY
from support.config_trial import Trial, edited

PLANTING = 'crop = "kale"\nplants = 8\nmethod = "transplant"'
START = "start_on = 2027-04-05"


def planted(
    planting: str,
    freeze: str | None = None,
    *,
    start: str = START,
    latitude: float = 47.05,
    today: date = TODAY,
) -> Trial:
    """Load the sound configuration with this planting in the long row.

    Ready is 11 days after the start; bush beans are picked 50 to 60 days from sowing.
    """
    elevation = "elevation_m = 440"
    last = elevation if freeze is None else f"{elevation}\nfirst_freeze_on = {freeze}"
    return edited(
        (PLANTING, planting),
        (START, start),
        (elevation, last),
        ("latitude = 47.05", f"latitude = {latitude}"),
        today=today,
    )


def beans(plant_on: str | None = None, method: str = "seed") -> str:
    """Return beans of the grower's batch."""
    day = "" if plant_on is None else f"\nplant_on = {plant_on}"
    return f'crop = "bean"\nplants = 8\nmethod = "{method}"{day}'


class TestKnownFreeze:
    """The grower has said when it freezes first."""

    @pytest.mark.parametrize("freeze", [None, "2027-10-12"])
    def test_it_is_part_of_the_plan(self, freeze: str | None) -> None:
        """The morning leaves out what cannot ripen before it."""
        loaded = planted(beans(), freeze).loaded
        assert loaded is not None
        known = None if freeze is None else date.fromisoformat(freeze)
        assert loaded.gardens[0].first_freeze_on == known

    @pytest.mark.parametrize(
        ("freeze", "what"),
        [
            ("2027-09-29", "a freeze kills bean before there is anything to pick"),
            ("2027-09-30", "a freeze kills bean before there is anything to pick"),
            ("2027-10-01", "bean may not be ripe before the first freeze"),
            ("2027-10-10", "bean may not be ripe before the first freeze"),
            ("2027-10-11", None),
        ],
    )
    def test_a_harvest_must_begin_before_it(self, freeze: str, what: str | None) -> None:
        """Sown on 11 August: first picked from 30 September to 10 October."""
        found = planted(beans("2027-08-11"), freeze)

        assert not found.errors
        assert [what in each.what for each in found.warnings] == ([] if what is None else [True])

    @pytest.mark.parametrize(
        ("freeze", "by"), [("2027-09-30", "2027-08-10"), ("2027-10-10", "2027-08-10")]
    )
    def test_the_nearest_day_that_works_is_told_and_works(self, freeze: str, by: str) -> None:
        """One day sooner in both cases: fifty days before, or sixty for the slowest."""
        warning = planted(beans("2027-08-11"), freeze).warning

        assert warning.remedy == f"Write plant_on = {by} or earlier."
        assert "plant_on" in warning.where
        better = planted(beans(by), freeze)
        assert all("anything to pick" not in each.what for each in better.warnings)

    def test_the_days_it_rests_on_are_told(self) -> None:
        """Planting, and both ends of the first picking."""
        warning = planted(beans("2027-08-11"), "2027-09-20").warning

        assert "2027-08-11" in warning.found
        assert "2027-09-30 to 2027-10-10" in warning.found
        assert warning.allowed == "a first picking before 2027-09-20"

    def test_bales_that_are_ready_too_late_are_started_sooner(self) -> None:
        """Started on 1 August they are ready on the 12th, ten days too late."""
        warning = planted(beans(), "2027-09-21", start="start_on = 2027-08-01").warning

        assert warning.remedy == (
            "Start the batch on 2027-07-21 or earlier, or choose a quicker crop."
        )
        sooner = planted(beans(), "2027-09-21", start="start_on = 2027-07-21")
        assert all("anything to pick" not in each.what for each in sooner.warnings)

    def test_setting_out_is_told_where_sowing_is_too_slow(self) -> None:
        """Tomatoes take 25 to 30 days more from seed; ready on 1 June the bales are too late."""
        sown = 'crop = "tomato"\nplants = 8\nmethod = "seed"'
        late = "start_on = 2027-05-21"
        warning = planted(sown, "2027-08-25", start=late).warning

        assert warning.remedy.startswith('Write method = "transplant"')
        set_out = planted(sown.replace("seed", "transplant"), "2027-08-25", start=late)
        assert set_out.fine

    def test_setting_out_is_not_told_where_that_is_too_slow_as_well(self) -> None:
        """Ready on 1 August; 65 days from setting out end in October."""
        sown = 'crop = "tomato"\nplants = 8\nmethod = "seed"'
        late = planted(sown, "2027-09-20", start="start_on = 2027-07-21").warning

        assert late.remedy.startswith("Start the batch on 2027-06-10 or earlier")

    def test_what_is_too_late_already_is_not_told_to_be_sooner(self) -> None:
        """On the day it is read, the day that would have worked is over."""
        warning = planted(beans("2027-08-11"), "2027-09-30", today=date(2027, 8, 11)).warning

        assert warning.remedy == "Choose a quicker crop, or leave this one to the next year."

    def test_on_its_last_day_it_is_still_told(self) -> None:
        """Today is soon enough."""
        warning = planted(beans("2027-08-11"), "2027-09-30", today=date(2027, 8, 10)).warning

        assert warning.remedy == "Write plant_on = 2027-08-10 or earlier."

    def test_a_crop_that_follows_waits_for_the_one_before(self) -> None:
        """Kale from 16 April is picked for 60 days from 22 May on; beans come after it."""
        both = f'{PLANTING}\n\n[[gardens.batches.plantings]]\n{beans()}\nfollows = "kale"'
        assert planted(both, "2027-10-20").fine
        warning = planted(both, "2027-09-01").warning
        assert "kale would hold the bales past the last day to plant bean" in warning.what
        assert "bean wanted on 2027-07-02" in warning.found
        assert "pull the kale on 2027-07-02 (first picked from 2027-05-22" in warning.remedy
        assert "let the bean wait, to be first picked from 2027-09-09" in warning.remedy

    def test_hardy_crops_stand_the_first_freeze(self) -> None:
        """Kale is sweeter after it."""
        assert planted(f"{PLANTING}\nplant_on = 2027-09-20", "2027-10-01").fine

    @pytest.mark.parametrize(
        ("kill_at_c", "warned"), [("-0.1", False), ("0.0", True), ("0.5", True)]
    )
    def test_what_dies_at_zero_dies_in_it(self, kill_at_c: str, warned: bool) -> None:
        """By the crop's own limit."""
        own = f'like = "tomato"\nkill_at_c = {kill_at_c}'
        planting = 'crop = "paste tomato"\nplants = 8\nplant_on = 2027-08-11'
        found = edited(
            (PLANTING, planting),
            ("elevation_m = 440", "elevation_m = 440\nfirst_freeze_on = 2027-09-20"),
            ('like = "tomato"', own),
        )
        assert bool(found.warnings) is warned

    @pytest.mark.parametrize(("freeze", "warned"), [("2027-04-13", False), ("2027-04-14", True)])
    def test_the_freeze_of_another_autumn_is_not_this_one(self, freeze: str, warned: bool) -> None:
        """120 days before planting it was last year's, whatever the half of the earth."""
        assert bool(planted(beans("2027-08-11"), freeze).warnings) is warned


class TestUnknownFreeze:
    """Without a date late pickings are doubted."""

    @pytest.mark.parametrize(
        ("plant_on", "doubted"),
        [("2027-08-11", False), ("2027-08-12", True), ("2028-01-09", True), ("2028-01-11", False)],
    )
    def test_in_the_north_from_october_to_february(self, plant_on: str, doubted: bool) -> None:
        """Beans sown on 12 August are first picked on 1 October, on 11 January in March."""
        found = planted(beans(plant_on))

        assert bool(found.warnings) is doubted
        assert all("first_freeze_on" in each.remedy for each in found.warnings)

    @pytest.mark.parametrize(("plant_on", "doubted"), [("2027-07-11", True), ("2027-07-13", False)])
    def test_in_the_south_half_a_year_later(self, plant_on: str, doubted: bool) -> None:
        """April to August: sown on 11 July they are first picked on 30 August."""
        found = edited(
            (PLANTING, beans(plant_on)),
            ("latitude = 47.05", "latitude = -36.85"),
            ("longitude = 8.31", "longitude = 174.76"),
            ('"Europe/Zurich"', '"Pacific/Auckland"'),
        )
        assert bool(found.warnings) is doubted

    @pytest.mark.parametrize(("latitude", "doubted"), [(29.9, False), (30.0, True)])
    def test_where_it_hardly_freezes_nothing_is_doubted(
        self, latitude: float, doubted: bool
    ) -> None:
        """Under 30 degrees."""
        found = edited(
            (PLANTING, beans("2027-10-01")),
            ("latitude = 47.05", f"latitude = {latitude}"),
            ("longitude = 8.31", "longitude = -90.0"),
            ('"Europe/Zurich"', '"America/Chicago"'),
        )
        assert bool(found.warnings) is doubted

    def test_hardy_crops_are_not_doubted(self) -> None:
        """Kale is picked in winter."""
        assert planted(f"{PLANTING}\nplant_on = 2027-09-20").fine


class TestCrowding:
    """A crop that is held past its day by the one before it."""

    RADISH_FIRST = 'crop = "radish"\nplants = 50\nmethod = "seed"'

    def follower(self, plant_on: str) -> Trial:
        """Load radish, sown on 16 April at the earliest, and kale after it."""
        after = f"[[gardens.batches.plantings]]\n{PLANTING}\nplant_on = {plant_on}"
        return planted(f'{self.RADISH_FIRST}\n{after}\nfollows = "radish"')

    def test_a_day_before_the_first_crop_can_be_over_is_told_with_all_choices(self) -> None:
        """Sown on 16 April, nothing of the radish is ripe on 1 May."""
        (warning,) = [
            each for each in self.follower("2027-05-01").warnings if "would hold" in each.what
        ]
        assert "leave the radish out" in warning.remedy
        assert "strike out follows" in warning.remedy
        assert "let the kale wait" in warning.remedy

    def test_a_day_after_it_is_not(self) -> None:
        """Bales that are free in time need no choice."""
        told = self.follower("2027-08-01").warnings
        assert not any("would hold" in each.what for each in told)
