"""The grower's own feeds, schedules and crops."""

from __future__ import annotations

import pytest

from strawbell.agronomy.crop_table import CROP_NEEDS, CROPS
from strawbell.config.build import crop_of, feed_of
from strawbell.config.schema import CropSection, FeedSection
from strawbell.model.feeds import Package
from strawbell.model.garden import Crop, Work
from support.config_trial import edited

OWN = """\
[[schedules]]
name = "slow"
days = {days}
plant_from_day = {plant}

[[crops]]"""
USE = ('schedule = "alternate-days"', 'schedule = "slow"')


def _own(days: str, plant: int = 10) -> tuple[str, str]:
    return ("[[crops]]", OWN.format(days=days, plant=plant))


class TestSchedules:
    """[[schedules]]."""

    def test_the_short_form_is_one_text_a_day(self) -> None:
        """Rates in words or as a share."""
        days = '["water", "feed", "feed half", "feed 0.25", "finish"]'
        loaded = edited(_own(days), USE).loaded

        assert loaded is not None
        schedule = loaded.gardens[0].batches[0].schedule
        assert [(day.day, day.work, day.rate) for day in schedule.days] == [
            (1, Work.WATER, 0.0),
            (2, Work.FEED, 1.0),
            (3, Work.FEED, 0.5),
            (4, Work.FEED, 0.25),
            (5, Work.FINISH, 1.0),
        ]

    def test_the_long_form_says_the_same(self) -> None:
        """Tables with day, work and rate; without a rate feeding is full and water none."""
        days = (
            '[{ day = 1, work = "feed" }, { day = 2, work = "water" }, '
            '{ day = 3, work = "feed", rate = 0.5 }]'
        )
        loaded = edited(_own(days), USE).loaded

        assert loaded is not None
        assert [day.rate for day in loaded.gardens[0].batches[0].schedule.days] == [1.0, 0.0, 0.5]

    @pytest.mark.parametrize(
        ("days", "plant", "complaint"),
        [
            ('["feed", "feeed"]', 10, "for day 2"),
            ('["water", "water"]', 10, "no day with a nitrogen feed"),
            ('["feed", "feed"]', 2, "not after the last feeding"),
            ("[]", 10, "too short"),
            ('[{ day = 2, work = "feed" }]', 10, "without gaps"),
            ('["feed 1.9"]', 10, "out of range"),
        ],
    )
    def test_a_schedule_that_cannot_work_is_refused(
        self, days: str, plant: int, complaint: str
    ) -> None:
        """Each with its reason."""
        assert complaint in edited(_own(days, plant), USE).error.what


class TestFeeds:
    """[[feeds]]."""

    @pytest.mark.parametrize("label", ["12-0-0", "6.5-3-4", "6,5-3-4", "21-0-0 + 24 S"])
    def test_labels_are_taken_as_printed(self, label: str) -> None:
        """Also with a comma and further nutrients."""
        assert not edited(('"12-0-0"', f'"{label}"')).errors

    @pytest.mark.parametrize("label", ["", "12", "12-0", "60-30-20", "N12-P0-K0", "-1-0-0"])
    def test_other_labels_are_refused(self, label: str) -> None:
        """Three figures, at most 100 together."""
        assert edited(('"12-0-0"', f'"{label}"')).error.where.endswith("label")

    @pytest.mark.parametrize(
        "edit",
        [
            ('name = "Shelf meal"\nlabel = "12-0-0"', 'name = "Shelf meal"\nlabel = "34-0-0"'),
            ('form = "dry"', 'form = "dry"\nmaterial = "ammonium-nitrate"'),
        ],
    )
    def test_ammonium_nitrate_is_warned_about_once(self, edit: tuple[str, str]) -> None:
        """By its label or by what the grower says; it is an oxidiser beside straw."""
        assert "oxidiser" in edited(edit).warning.what

    def test_a_dry_feed_with_a_rate_of_mixing_is_refused(self) -> None:
        """It is one or the other."""
        assert "mixed" in edited(('form = "dry"', 'label_rate = "5 mL/L"')).error.what

    @pytest.mark.parametrize(
        ("stock", "kg"), [({"in_stock_kg": 2.5}, 2.5), ({"in_stock_l": 5.0}, 3.0), ({}, None)]
    )
    def test_a_stock_is_kept_in_kilograms(self, stock: dict[str, float], kg: float | None) -> None:
        """A litre of the meal weighs 0.6 kg; what nobody counted is unknown."""
        bag = {"kg": 25, "price": 60}
        shed = {"packages": [bag], "density_kg_per_l": 0.6, **stock}
        feed = feed_of(FeedSection.model_validate({"name": "Meal", "label": "12-0-0", **shed}))
        assert feed.stock_kg == kg
        assert feed.packages == (Package(25.0, None, 60.0),)

    @pytest.mark.parametrize(
        ("edit", "complaint"),
        [
            (("package_kg = 1.5", "[[feeds.packages]]\nprice = 60"), "neither what it weighs"),
            (("package_kg = 1.5", "[[feeds.packages]]\nkg = 5\nl = 5"), "a mass and a volume"),
            (("density_kg_per_l = 0.6", "in_stock_l = 5"), "not what a litre weighs"),
            (("package_kg = 1.5", "in_stock_l = 5\nin_stock_kg = 3"), "given twice"),
            (("package_kg = 1.5", "in_stock_on = 2027-04-01"), "not what was counted"),
        ],
    )
    def test_a_shed_that_cannot_be_counted_is_refused(
        self, edit: tuple[str, str], complaint: str
    ) -> None:
        """Each with what to write instead."""
        assert complaint in edited(edit).error.what


class TestCrops:
    """[[crops]]."""

    def test_every_value_of_a_crop_can_be_given(self) -> None:
        """The section follows the model."""
        assert set(Crop.__struct_fields__) <= set(CropSection.model_fields)

    def test_a_crop_like_another_takes_all_values_not_given(self) -> None:
        """And keeps those that are."""
        section = CropSection(name="paste tomato", like="Tomato", cover_at_c=2.5)
        crop = crop_of(section)

        assert crop is not None
        assert crop.name == "paste tomato"
        assert crop.cover_at_c == 2.5
        assert crop.spacing_cm == CROPS["tomato"].spacing_cm

    def test_a_namesake_overrides_a_built_in_crop(self) -> None:
        """Without a word about like."""
        own = 'name = "kale"\nspacing_cm = 33\n\n[[crops]]\nname = "paste tomato"'
        loaded = edited(('name = "paste tomato"', own)).loaded

        assert loaded is not None
        assert loaded.gardens[0].batches[0].plantings[0].crop.spacing_cm == 33

    def test_a_new_crop_without_a_model_says_what_is_missing(self) -> None:
        """Everything the advice rests on, all at once."""
        errors = edited(('like = "tomato"\ncover_at_c = 2.0\n', "")).errors

        told = {each.where.rsplit(" ", 1)[-1] for each in errors}
        assert told == set(CROP_NEEDS) - {"days_to_maturity"}

    def test_a_model_that_is_not_built_in_is_refused_with_the_likely_one(self) -> None:
        """The name is looked up."""
        assert '"tomato"' in edited(('like = "tomato"', 'like = "tomatoe"')).error.remedy

    @pytest.mark.parametrize(
        ("line", "key"),
        [
            ("per_bale = [6, 4]", "per_bale"),
            ("kill_at_c = 2.1", "cover_at_c"),
            ("emergence = [[20, 8], [15, 14]]", "emergence"),
            ("emergence = [[20, 0]]", "emergence"),
            ("per_bale = [2]", "per_bale"),
            ("per_bale = [2, 3, 4]", "per_bale"),
        ],
    )
    def test_values_in_the_wrong_order_are_refused(self, line: str, key: str) -> None:
        """The key is named."""
        assert (
            edited(("cover_at_c = 2.0", f"cover_at_c = 2.0\n{line}"))
            .error.where.split()[-1]
            .startswith(key)
        )

    def test_killing_at_the_cover_temperature_is_allowed(self) -> None:
        """At it is just in time."""
        assert edited(("cover_at_c = 2.0", "cover_at_c = 2.0\nkill_at_c = 2.0")).fine

    @pytest.mark.parametrize(("kill_at_c", "refused"), [("0.5", False), ("0.6", True)])
    def test_killing_is_held_against_the_cover_of_the_base(
        self, kill_at_c: str, refused: bool
    ) -> None:
        """Tomatoes are covered at 0.56 degC where the entry says nothing else."""
        found = edited(("cover_at_c = 2.0", f"kill_at_c = {kill_at_c}"))

        assert bool(found.errors) is refused
        assert all("cover_at_c = 0.56" in each.found for each in found.errors)
        assert all("kill_at_c" in each.where for each in found.errors)

    @pytest.mark.parametrize(
        ("low", "high", "refused"), [(19, 20, False), (20, 20, False), (21, 20, True)]
    )
    def test_seed_must_come_up_at_some_temperature(
        self, low: int, high: int, refused: bool
    ) -> None:
        """The coolest bale it germinates in is not warmer than the warmest."""
        lines = f"germination_min_c = {low}\ngermination_max_c = {high}"
        found = edited(("cover_at_c = 2.0", lines))

        assert [each.found for each in found.errors] == [
            f"germination_min_c = {low}, germination_max_c = {high}"
        ] * refused

    def test_the_age_of_transplants_and_the_weeks_to_setting_out_are_taken(self) -> None:
        """They go before the values of the base."""
        lines = "germination_max_c = 34.5\ntransplant_weeks = [7, 9]\nset_out_weeks = -1.5"
        loaded = edited(
            ("cover_at_c = 2.0", lines), ('crop = "kale"', 'crop = "paste tomato"')
        ).loaded

        assert loaded is not None
        crop = loaded.gardens[0].batches[0].plantings[0].crop
        assert (crop.germination_max_c, crop.transplant_weeks, crop.set_out_weeks) == (
            34.5,
            (7, 9),
            -1.5,
        )

    def test_an_older_transplant_is_not_younger(self) -> None:
        """The youngest age first."""
        error = edited(("cover_at_c = 2.0", "transplant_weeks = [9, 7]")).error
        assert error.remedy == "Write [7, 9]."
