"""What is still to be bought for what is left of a plan, and when it is brought to mind."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.decision.brief import brief
from strawbell.decision.projection import REMIND_DAYS, _of_task, needed_soon, season, shopping
from strawbell.model.brief import Also
from strawbell.model.feeds import Need, Supply
from strawbell.model.garden import Garden, Method
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.journal_index import FEED_PER_BALE
from strawbell.season.stage import extra_key
from support.gardens import (
    RADISH,
    START,
    at,
    batch,
    forecast,
    garden,
    on_day,
    planting,
    tell,
)
from support.standing import night, warm


def list_of(plan: Garden, on: date, journal: Journal = (), change=None) -> dict[str, Need]:
    """Return the list on the morning of a date, by name."""
    moment = at(on)
    seen = forecast(moment, change) if change else forecast(moment)
    return {need.name: need for need in shopping(plan, journal, seen, moment)}


def soon(plan: Garden, on: date, journal: Journal = ()) -> list[str]:
    """Return what the evening of a date speaks of."""
    moment = at(on, 18, 30)
    seen = forecast(moment)
    today = brief(plan, journal, seen, moment)
    return [need.name for need in needed_soon(plan, journal, seen, moment, today)]


class TestShopping:
    """All that is left, each thing once."""

    def test_the_whole_plan_before_it_begins(self) -> None:
        """Three full doses of 400 g and three halves, for six bales: 10.8 kg."""
        wanted = list_of(garden(), START)
        doses_g = [400.0] * 3 + [200.0] * 3
        meal = wanted["Blood meal"]
        assert meal.kg == pytest.approx(6 * sum(doses_g) / 1000)
        assert (meal.needed_by, meal.last_on) == (on_day(1), on_day(9))
        assert wanted["Balanced"].needed_by == on_day(10)

    def test_what_is_past_is_bought(self) -> None:
        """On day 6 three doses of 400 g are given."""
        left, whole = (list_of(garden(), on_day(day))["Blood meal"].kg for day in (6, 1))
        assert left is not None
        assert whole is not None
        assert whole - left == pytest.approx(7.2)

    def test_what_is_due_today_is_still_needed(self) -> None:
        """It is in the list until the day is over."""
        assert list_of(garden(), on_day(9))["Blood meal"].needed_by == on_day(9)
        assert "Blood meal" not in list_of(garden(), on_day(10))

    def test_a_held_feeding_counts_once_on_the_day_it_is_projected(self) -> None:
        """A freeze moves it, makes no second one of it, and moves no other."""
        plain = list_of(garden(), on_day(5))["Blood meal"]
        held = list_of(garden(), on_day(5), change=night(on_day(5), -3.0))["Blood meal"]
        assert held.kg == plain.kg
        assert held.needed_by == on_day(6)
        assert held.last_on == plain.last_on

    def test_two_batches_share_the_bag(self) -> None:
        """Twice the bales, twice the feed."""
        both = garden(batch(), batch(name="Row B"))
        one, two = (list_of(plan, START)["Blood meal"].kg for plan in (garden(), both))
        assert one is not None
        assert two == pytest.approx(2 * one)

    def test_whole_packages_are_counted_over_the_plan(self) -> None:
        """With what they cost."""
        feed = replace(batch().feed, package_kg=5.0, price=20.0)
        meal = list_of(garden(batch(feed=feed)), START)["Blood meal"]
        assert (meal.packages, meal.cost) == (3, 60.0)

    def test_sown_crops_need_mix_for_every_bale(self) -> None:
        """A layer of 4 cm on 0.45 square metres: 18 L a bale."""
        sown = garden(batch(plantings=(planting(RADISH, Method.SEED, 60),)))
        mix = list_of(sown, START)["potting mix"]
        assert mix.litres == pytest.approx(6 * 18.0)
        assert mix.kind is Supply.MIX
        assert "potting mix" not in list_of(garden(), START)

    def test_a_day_of_feed_takes_the_water_that_washes_it_in(self) -> None:
        """Day 7 is one of feed: 8 mm on 0.45 square metres, six times."""
        seventh, eighth = (list_of(garden(), on_day(day))["water"].litres for day in (7, 8))
        assert seventh is not None
        assert eighth is not None
        assert seventh - eighth == pytest.approx(6 * 3.6, abs=1.0)

    def test_water_of_a_hot_day_is_counted_as_often_as_it_is_given(self) -> None:
        """Young plants on a hot day: twice or more."""
        plan = garden(batch(plantings=(planting(),)))
        hot = date(2027, 4, 26)
        moment = at(hot)
        seen = forecast(moment, warm(hot, 33.0))
        asked = [
            (task.water_per_bale_l * task.bales, task.times_a_day)
            for day in season(plan, (), seen, moment)
            for task in day.tasks
            if day.on >= hot and task.water_per_bale_l is not None
        ]
        assert asked[0][1] >= 2
        water = {need.name: need for need in shopping(plan, (), seen, moment)}["water"]
        assert water.litres == pytest.approx(sum(litres * times for litres, times in asked))

    @pytest.mark.parametrize("also", [Also.FULL, Also.LITTLE_ROOM])
    def test_of_a_day_that_is_only_expected_to_be_too_wet_the_whole_dose_is_bought(
        self, also: Also
    ) -> None:
        """What there is room for is known on its morning; the ninth day's own 200 g a bale."""
        moment = at(START)
        ninth = next(
            task
            for day in season(garden(), (), forecast(moment), moment)
            for task in day.tasks
            if task.day == 9
        )
        assert ninth.dose is not None
        less = replace(ninth, dose=replace(ninth.dose, total_g=1.0))
        (whole, part) = (
            next(item.dose.total_g for item in _of_task(task, batch(), on_day(9)))
            for task in (replace(less, also=(also,)), less)
        )
        assert (whole, part) == (pytest.approx(1200.0), 1.0)

    def test_after_the_season_nothing_is_needed(self) -> None:
        """And the list is empty."""
        assert list_of(replace(garden(), batches=()), START) == {}


class TestNeededSoon:
    """Three days before something new is needed, once."""

    @pytest.mark.parametrize(("before", "told"), [(2, []), (3, ["Blood meal"]), (4, [])])
    def test_the_first_feed_is_brought_to_mind_three_days_before(
        self, before: int, told: list[str]
    ) -> None:
        """Neither sooner nor again."""
        assert REMIND_DAYS == 3
        assert soon(garden(), START - timedelta(days=before)) == told

    def test_water_is_not_bought(self) -> None:
        """It is needed on the same first day."""
        assert "water" in list_of(garden(), START)
        assert "water" not in soon(garden(), START - timedelta(days=3))

    def test_a_feed_that_was_told_before_is_at_hand(self) -> None:
        """The next dose of the open bag is not spoken of; the balanced feed is new on day 10."""
        journal: Journal = ()
        told = {}
        for day in range(1, 8):
            moment = at(on_day(day))
            journal = tell(journal, brief(garden(), journal, forecast(moment), moment))
            told[day] = soon(garden(), on_day(day), journal)
        assert {day: names for day, names in told.items() if names} == {7: ["Balanced"]}

    def test_the_feed_of_the_season_is_at_hand_where_it_was_used_before(self) -> None:
        """The balanced feed again, weeks later: spoken of only where it is new."""
        plan = garden(batch(plantings=(planting(),)))
        other = JournalEntry(
            at(on_day(10)), "Orchard corner", on_day(10), EntryKind.TOLD, "Row B", "row-b-10-feed",
            "due", data={"feed": "Balanced"},
        )  # fmt: skip
        days = [on_day(day) for day in range(13, 40)]
        new = [day for day in days if "Balanced" in soon(plan, day)]
        assert new
        assert [soon(plan, day, (other,)) for day in new] == [[]] * len(new)

    def test_the_amount_is_for_all_that_is_left(self) -> None:
        """Not for the first day alone."""
        moment = at(START - timedelta(days=3), 18, 30)
        today = brief(garden(), (), forecast(moment), moment)
        (need,) = needed_soon(garden(), (), forecast(moment), moment, today)
        assert need == next(
            each
            for each in shopping(garden(), (), forecast(moment), moment)
            if each.name == "Blood meal"
        )
        assert need.kg == pytest.approx(list_of(garden(), START)["Blood meal"].kg)


class TestShed:
    """A feed of which the grower has written down what is at hand."""

    def counted(self, stock_kg: float, counted_on: date | None = None) -> Garden:
        """Return the garden; its six feedings take 2.4 kg three times and 1.2 kg three times."""
        feed = replace(batch().feed, stock_kg=stock_kg, stock_on=counted_on, package_kg=1.5)
        return garden(batch(feed=feed))

    def told(self, plan: Garden, until: date, *more: JournalEntry) -> Journal:
        """Return the journal of every morning before a date."""
        journal: Journal = ()
        on = START
        while on < until:
            moment = at(on)
            journal = tell(journal, brief(plan, journal, forecast(moment), moment))
            on += timedelta(days=1)
        return (*journal, *more)

    def test_it_lasts_to_a_date_and_what_is_short_is_bought(self) -> None:
        meal = list_of(self.counted(5.0), START)["Blood meal"]
        assert (meal.lasts_until, meal.needed_by) == (on_day(3), on_day(5))
        assert (meal.stock_kg, meal.packages) == (5.0, 4)

    def test_what_was_fed_is_taken_off_from_the_morning_it_was_counted(self) -> None:
        for counted_on, left_kg in ((None, 2.6), (on_day(1), 2.6), (on_day(2), 5.0)):
            plan = self.counted(5.0, counted_on)
            journal = self.told(plan, on_day(3))
            meal = list_of(plan, on_day(3), journal)["Blood meal"]
            assert meal.stock_kg == pytest.approx(left_kg)

    def test_what_was_fed_beyond_the_plan_is_taken_off_too(self) -> None:
        plan = self.counted(9.0)
        beyond = JournalEntry(
            at(on_day(2), 9), "Orchard corner", on_day(2), EntryKind.DONE, "Row A",
            extra_key("Row A", on_day(2)).text(),
            data={FEED_PER_BALE: 100.0, "nitrogen_per_bale_g": 12.0},
        )  # fmt: skip
        before, after = (
            list_of(plan, on_day(3), self.told(plan, on_day(3), *more))["Blood meal"].stock_kg
            for more in ((), (beyond,))
        )
        assert before is not None
        assert after is not None
        assert before - after == pytest.approx(0.6)

    def test_the_evening_speaks_three_days_before_it_runs_out(self) -> None:
        plan = self.counted(5.0)
        for day_, names in ((1, []), (2, ["Blood meal"]), (3, [])):
            assert soon(plan, on_day(day_), self.told(plan, on_day(day_ + 1))) == names

    def test_the_evening_is_silent_of_what_is_enough(self) -> None:
        plan = self.counted(20.0)
        assert "Blood meal" not in soon(plan, START - timedelta(days=REMIND_DAYS))
