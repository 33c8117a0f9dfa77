"""What batches are fed: the days, the water, and the sum."""

from __future__ import annotations

import pytest

from strawbell.model.feeds import FeedForm
from strawbell.model.garden import Work
from support.config_trial import Trial, edited

FISH = '[[feeds]]\nname = "Fish feed"\nlabel = "5-1-1"\nform = "liquid"\nlabel_rate = "15 mL/L"\n'
SOLUBLE = (
    '[[feeds]]\nname = "Soluble"\nlabel = "20-20-20"\nform = "soluble"\n'
    'label_rate = "1 tbsp per gal"\n'
)
LINE = 'feed = "Shelf meal"\n'
ORDINARY = (
    '1 = "Shelf meal", 3 = "drench with Fish feed", 5 = "drench with fish feed", 10 = "Soluble"'
)


def fed(days: str, feeds: str = FISH + SOLUBLE, keep: str = "") -> Trial:
    """Load the sound configuration with feeds for single days."""
    return edited((LINE, f"{keep}feeds = {{ {days} }}\n"), ("[[crops]]", f"{feeds}\n[[crops]]"))


def own_schedule(days: str, feeds: str = FISH) -> Trial:
    """Load the sound configuration with a schedule of its own."""
    entry = f'[[schedules]]\nname = "mine"\ndays = [{days}]\nplant_from_day = 12\n'
    return edited(
        ('schedule = "alternate-days"', 'schedule = "mine"'),
        ("[[crops]]", f"{feeds}{entry}\n[[crops]]"),
    )


class TestDays:
    """Each day may have a feed of its own."""

    def test_the_most_ordinary_plan_can_be_written(self) -> None:
        """Meal, fish, meal, and a soluble feed at the end."""
        trial = fed(ORDINARY)
        assert trial.errors == ()
        assert trial.loaded is not None
        batch = trial.loaded.gardens[0].batches[0]
        given = [(day.day, day.work, day.feed and day.feed.name) for day in batch.schedule.days]
        assert [each for each in given if each[2]] == [
            (1, Work.FEED, "Shelf meal"),
            (3, Work.DRENCH, "Fish feed"),
            (5, Work.DRENCH, "Fish feed"),
            (10, Work.FINISH, "Soluble"),
        ]
        assert batch.feed.name == "Shelf meal"
        assert batch.finishing_feed is not None
        assert batch.finishing_feed.form is FeedForm.SOLUBLE

    def test_a_schedule_may_name_feeds_itself(self) -> None:
        """In the short form and as tables."""
        short = '"feed half with Urea", "drench with Fish feed", "water", "finish with Balanced"'
        table = '{ day = 1, work = "feed", rate = 0.5, feed = "Urea" }'
        for days in (short, f'{table}, {{ day = 2, work = "drench", feed = "Fish feed" }}'):
            trial = own_schedule(days)
            assert trial.errors == (), [each.sentence() for each in trial.errors]
            assert trial.loaded is not None
            batch = trial.loaded.gardens[0].batches[0]
            first, second, *_ = batch.schedule.days
            assert (first.rate, first.feed and first.feed.name) == (0.5, "Urea")
            assert (second.work, second.feed and second.feed.name) == (Work.DRENCH, "Fish feed")

    @pytest.mark.parametrize("day", ["2", "11"])
    def test_a_feed_for_a_day_of_water_is_refused_but_a_drench_is_none(self, day: str) -> None:
        """It is poured instead of the water."""
        assert "for water only" in fed(f'{day} = "Urea"').error.what
        assert fed(f'{day} = "drench with Fish feed"').errors == ()

    def test_a_day_that_the_schedule_does_not_have_is_refused(self) -> None:
        error = fed('14 = "Urea"').error
        assert "does not have" in error.what
        assert "1, 3, 5, 7, 8, 9, 10" in error.allowed

    @pytest.mark.parametrize("day", ["0", "61", "one", "-1"])
    def test_what_is_no_day_is_refused(self, day: str) -> None:
        assert "no day of a schedule" in fed(f'"{day}" = "Urea"').error.what

    def test_an_unknown_feed_is_told_with_the_nearest_name(self) -> None:
        error = fed('3 = "drench with Fsh feed"').error
        assert error.where.endswith("feeds.3")
        assert 'Did you mean "Fish feed"?' in error.remedy
        assert "no feed of that name" in own_schedule('"feed with Ureea"').error.what


class TestWater:
    """A dose that a bale cannot take up is refused, and the alternative is told."""

    def test_a_liquid_cannot_carry_the_nitrogen(self) -> None:
        """39 g of 5-1-1 at 15 mL/L are 52 L a bale by arithmetic."""
        error = fed('3 = "Fish feed"', keep='feed = "Shelf meal"\n').error
        assert "39 g of nitrogen" in error.what
        assert "52.3 L" in error.what
        assert "L on each bale at once" in error.what
        assert '3 = "drench with Fish feed"' in error.remedy
        assert "3.8 L a bale" in error.remedy
        assert "g of blood meal or" in error.remedy
        assert "g of urea" in error.remedy

    def test_nor_where_its_rate_is_not_given(self) -> None:
        """660 g of it in a small can would be no feed any more."""
        plain = FISH.replace('label_rate = "15 mL/L"\n', "")
        error = fed('3 = "Fish feed"', plain, keep='feed = "Shelf meal"\n').error
        assert "its label_rate is not given" in error.what
        assert '3 = "drench with Fish feed"' in error.remedy

    def test_it_is_told_in_the_growers_units(self) -> None:
        trial = edited(
            (LINE, 'feed = "Fish feed"\n'),
            ("[[crops]]", f"{FISH}\n[[crops]]"),
            ('units = "metric"', 'units = "us"'),
        )
        assert "gal on each bale" in trial.error.what
        assert "oz of urea" in trial.error.remedy

    def test_a_drench_needs_a_rate_and_something_to_pour(self) -> None:
        """Otherwise nobody knows how strong it is."""
        plain = FISH.replace('label_rate = "15 mL/L"\n', "")
        assert "no label_rate" in fed('3 = "drench with Fish feed"', plain).error.what
        assert "is dry" in fed('3 = "drench with Urea"').error.what

    @pytest.mark.parametrize("rate", ["a splash", "1 scoop per gal", "900 mL per L"])
    def test_a_rate_that_no_label_prints_is_refused(self, rate: str) -> None:
        error = fed('3 = "Urea"', FISH.replace("15 mL/L", rate)).error
        assert "label_rate" in error.where
        assert "1 tbsp per gal" in error.allowed


class TestSum:
    """What a sequence lacks is said, with what would carry it."""

    def test_drenches_leave_a_sequence_short_of_nitrogen(self) -> None:
        warning = fed(ORDINARY).warning
        assert "too little to heat it well" in warning.what
        assert "of blood meal or" in warning.remedy
        assert "g of urea a bale more" in warning.remedy

    def test_a_plan_of_meal_lacks_nothing(self) -> None:
        assert fed('1 = "Urea"', keep='feed = "Shelf meal"\n').fine


class TestManure:
    """Raw manure wants a wait before anything is picked."""

    MANURE = '[[feeds]]\nname = "Hen manure"\nlabel = "5-3-2"\n'

    def test_a_crop_picked_too_soon_is_told_with_its_dates(self) -> None:
        """Kale set out in April is picked in June."""
        trial = fed('1 = "Hen manure"', self.MANURE, keep='feed = "Urea"\n')
        told = [each for each in trial.warnings if "poultry manure" in each.what]
        assert len(told) == 1
        assert "kale" in told[0].what
        assert "2027-08-03 or later" in told[0].allowed

    def test_a_material_that_is_named_ends_it(self) -> None:
        """Heat-treated pellets are another feed."""
        treated = f'{self.MANURE}material = "other"\n'
        trial = fed('1 = "Hen manure"', treated, keep='feed = "Urea"\n')
        assert not [each for each in trial.warnings if "poultry manure" in each.what]
