"""The evening note: what to protect tonight, what to have at hand tomorrow, or nothing."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace

from strawbell.decision.journal_rows import told_entries
from strawbell.model.brief import Action, Alert, AlertCode, Brief, DayAhead, Task
from strawbell.model.forecast import DayWeather
from strawbell.season.evening import Evening, evening
from strawbell.season.journal_index import JournalIndex
from support.briefs import TODAY, brief, dose, feeding, garden, held_feeding, local, watering
from support.gardens import batch


def ahead(*tasks: Task) -> tuple[DayAhead, ...]:
    """Return tomorrow with these tasks, and a feeding the day after."""
    tomorrow = DayAhead(TODAY + timedelta(days=1), DayWeather(), tasks)
    after = DayAhead(TODAY + timedelta(days=2), DayWeather(), (feeding(),))
    return (tomorrow, after)


def looked(today: Brief, *told: Task) -> Evening:
    """Return the evening of a day after a morning two days ago that told these."""
    before = brief(*told, on=TODAY - timedelta(days=2))
    index = JournalIndex.of(told_entries(before, local(7, 6, 30), {}))
    return evening(today, garden(), index)


@pytest.mark.parametrize("code", AlertCode)
def test_only_the_cold_asks_for_something_before_the_night(code: AlertCode) -> None:
    """Covers for plants, and the hose."""
    found = looked(brief(alerts=(Alert(code, None, None, None, ()),), ahead=ahead()))
    assert bool(found.protect) is (code in (AlertCode.FROST, AlertCode.FREEZE))
    assert bool(found) is bool(found.protect)


@pytest.mark.parametrize("action", Action)
def test_only_work_that_needs_things_at_hand_is_prepared_for(action: Action) -> None:
    """Water for a first soaking, feed, mix, plants, seed and stakes."""
    needs = {"soak", "feed", "cover-with-mix", "plant", "sow", "support"}
    task = watering(action=action)
    found = looked(brief(ahead=ahead(task)))
    assert found.prepare == ((task,) if action in needs else ())
    assert bool(found) is (action in needs)


def test_other_work_of_today_does_not_stand_for_it() -> None:
    """Watering today is no planting tomorrow."""
    planting = watering(action=Action.PLANT)
    assert looked(brief(watering(), ahead=ahead(planting))).prepare == (planting,)


def test_what_is_held_tomorrow_needs_no_preparing() -> None:
    """The bag stays closed."""
    assert not looked(brief(ahead=ahead(held_feeding())))


def test_only_tomorrow_counts() -> None:
    """The day after has an evening of its own."""
    assert not looked(brief(ahead=ahead()))
    assert not looked(brief(ahead=()))


def test_a_feed_that_was_told_before_needs_no_word() -> None:
    """The bag is open and the cup beside it, whatever came between."""
    again = ahead(feeding(day=7))
    assert looked(brief(watering(), ahead=again)).prepare == (feeding(day=7),)
    assert not looked(brief(watering(), ahead=again), feeding(day=5))


def test_a_feed_of_last_season_is_not_at_hand() -> None:
    """A bag from before the batch was begun has been used up, or has become a brick."""
    before = brief(feeding(), on=TODAY - timedelta(days=300))
    index = JournalIndex.of(told_entries(before, local(7, 6, 30), {}))
    batches = (replace(batch(), start_on=TODAY - timedelta(days=2)),)
    plan = replace(garden(), batches=batches)
    assert evening(brief(ahead=ahead(feeding())), plan, index).prepare == (feeding(),)


def test_another_feed_is_prepared_for() -> None:
    """The finishing feed is in another bag."""
    balanced = feeding(day=10, dose=dose(feed="Balanced"))
    found = looked(brief(watering(), ahead=ahead(balanced)), feeding(day=9))
    assert found.prepare == (balanced,)


def test_the_first_feeding_of_another_batch_is_prepared_for() -> None:
    """Row A is fed today, row C begins tomorrow."""
    other = feeding("Row C", 3)
    assert looked(brief(feeding(), ahead=ahead(other)), feeding()).prepare == (other,)


def test_planting_on_two_days_running_is_said_once() -> None:
    """The trays stand ready."""
    today, tomorrow = watering(action=Action.PLANT), watering(action=Action.PLANT, day=None)
    assert not looked(brief(today, ahead=ahead(tomorrow)))
