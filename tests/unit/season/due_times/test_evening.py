"""The evening note: what to protect tonight, what to have at hand tomorrow, or nothing."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace

from strawbell.decision.telling import told_entries
from strawbell.model.brief import Action, Alert, AlertCode, Brief, DayAhead, State, Task
from strawbell.model.forecast import DayWeather
from strawbell.season.due_times import Evening, evening
from strawbell.season.journal_index import JournalIndex
from support.briefs import TODAY, brief, local, watering


def ahead(*tasks: Task) -> tuple[DayAhead, ...]:
    """Return tomorrow with these tasks, and a planting the day after."""
    tomorrow = DayAhead(TODAY + timedelta(days=1), DayWeather(), tasks)
    after = DayAhead(TODAY + timedelta(days=2), DayWeather(), (watering(action=Action.PLANT),))
    return (tomorrow, after)


def looked(today: Brief, *morning: Alert) -> Evening:
    """Return the evening of a day whose morning told these alerts."""
    index = JournalIndex.of(told_entries(brief(alerts=morning), local(7, 6, 30), {}))
    return evening(today, index.alerts.get(TODAY, ()))


@pytest.mark.parametrize("code", AlertCode)
def test_only_the_cold_asks_for_something_before_the_night(code: AlertCode) -> None:
    """Covers for plants, and the hose."""
    found = looked(brief(alerts=(Alert(code, None, None, None, ()),), ahead=ahead()))
    assert bool(found.protect) is (code in (AlertCode.FROST, AlertCode.FREEZE))
    assert bool(found) is bool(found.protect)


@pytest.mark.parametrize(
    ("code", "nights_off", "again"),
    [
        (AlertCode.FROST, 0, True),
        (AlertCode.FROST, 1, False),
        (AlertCode.FREEZE, 0, False),
        (AlertCode.FREEZE, 1, False),
    ],
)
def test_only_covers_that_go_on_tonight_are_told_again_after_the_morning(
    code: AlertCode, nights_off: int, again: bool
) -> None:
    """At the dusk of the night itself; the hose was drained in the morning."""
    starts, ends = (local(10 + nights_off, hour, 0) for hour in (5, 9))
    alert = Alert(code, "Row A", starts, ends, ())
    assert bool(looked(brief(alerts=(alert,)), alert)) is again
    assert looked(brief(alerts=(alert,))).protect == (alert,)


@pytest.mark.parametrize("action", Action)
def test_only_work_that_needs_things_at_hand_is_prepared_for(action: Action) -> None:
    """Water for a first soaking, mix, plants and seed; feed is told with the supplies."""
    needs = {"soak", "cover-with-mix", "plant", "sow"}
    task = watering(action=action)
    found = looked(brief(ahead=ahead(task)))
    assert found.prepare == ((task,) if action in needs else ())
    assert bool(found) is (action in needs)


def test_other_work_of_today_does_not_stand_for_it() -> None:
    """Watering today is no planting tomorrow."""
    planting = watering(action=Action.PLANT)
    assert looked(brief(watering(), ahead=ahead(planting))).prepare == (planting,)


def test_what_is_held_tomorrow_needs_no_preparing() -> None:
    """The trays stay where they are."""
    held = replace(watering(action=Action.PLANT), state=State.HELD)
    assert not looked(brief(ahead=ahead(held)))


def test_only_tomorrow_counts() -> None:
    """The day after has an evening of its own."""
    assert not looked(brief(ahead=ahead()))
    assert not looked(brief(ahead=()))


def test_planting_on_two_days_running_is_said_once() -> None:
    """The trays stand ready."""
    today, tomorrow = watering(action=Action.PLANT), watering(action=Action.PLANT, day=None)
    assert not looked(brief(today, ahead=ahead(tomorrow)))
