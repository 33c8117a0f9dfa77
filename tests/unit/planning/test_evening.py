"""The evening note: what to protect tonight, what to have at hand tomorrow, or nothing."""

from __future__ import annotations

from datetime import timedelta

import pytest

from strawbell.model.brief import Action, Alert, AlertCode, DayAhead, State, Task
from strawbell.model.forecast import DayWeather
from strawbell.planning.evening import evening
from support.briefs import TODAY, brief, dose, feeding, held_feeding, watering


def ahead(*tasks: Task) -> tuple[DayAhead, ...]:
    """Return tomorrow with these tasks, and a feeding the day after."""
    tomorrow = DayAhead(TODAY + timedelta(days=1), DayWeather(), tasks)
    after = DayAhead(TODAY + timedelta(days=2), DayWeather(), (feeding(),))
    return (tomorrow, after)


@pytest.mark.parametrize("code", AlertCode)
def test_only_the_cold_asks_for_something_before_the_night(code: AlertCode) -> None:
    """Covers for plants, and the hose."""
    found = evening(brief(alerts=(Alert(code, None, None, None, ()),), ahead=ahead()))
    assert bool(found.protect) is (code in (AlertCode.FROST, AlertCode.FREEZE))
    assert bool(found) is bool(found.protect)


@pytest.mark.parametrize("action", Action)
def test_only_work_that_needs_things_at_hand_is_prepared_for(action: Action) -> None:
    """Water for a first soaking, feed, mix, plants, seed and stakes."""
    needs = {"soak", "feed", "cover-with-mix", "plant", "sow", "support"}
    task = watering(action=action)
    found = evening(brief(ahead=ahead(task)))
    assert found.prepare == ((task,) if action in needs else ())
    assert bool(found) is (action in needs)


def test_other_work_of_today_does_not_stand_for_it() -> None:
    """Watering today is no planting tomorrow."""
    planting = watering(action=Action.PLANT)
    assert evening(brief(watering(), ahead=ahead(planting))).prepare == (planting,)


def test_what_is_held_tomorrow_needs_no_preparing() -> None:
    """The bag stays closed."""
    assert not evening(brief(ahead=ahead(held_feeding())))


def test_only_tomorrow_counts() -> None:
    """The day after has an evening of its own."""
    assert not evening(brief(ahead=ahead()))
    assert not evening(brief(ahead=()))


def test_a_feeding_like_todays_needs_no_word() -> None:
    """The bag is open and the cup beside it."""
    assert not evening(brief(feeding(), ahead=ahead(feeding(day=7))))


def test_another_feed_than_todays_is_prepared_for() -> None:
    """The finishing feed is in another bag."""
    balanced = feeding(day=10, dose=dose(feed="Balanced"))
    assert evening(brief(feeding(), ahead=ahead(balanced))).prepare == (balanced,)


def test_the_first_feeding_of_another_batch_is_prepared_for() -> None:
    """Row A is fed today, row C begins tomorrow."""
    other = feeding("Row C", 3)
    assert evening(brief(feeding(), ahead=ahead(other))).prepare == (other,)


def test_planting_on_two_days_running_is_said_once() -> None:
    """The trays stand ready."""
    today, tomorrow = watering(action=Action.PLANT), watering(action=Action.PLANT, day=None)
    assert not evening(brief(today, ahead=ahead(tomorrow)))


def test_what_was_done_today_counts_as_todays() -> None:
    """Whatever became of it."""
    assert not evening(brief(feeding(state=State.DONE), ahead=ahead(feeding(day=7))))
