"""When a garden is spoken to, each occasion at most once a date."""

from __future__ import annotations

from datetime import datetime, time, timedelta

import pytest
from msgspec.structs import replace

from strawbell.decision.brief import brief
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.due_times import Occasion, due, next_look, quiet
from strawbell.season.journal_index import JournalIndex
from support.gardens import START, at, forecast, garden, on_day, tell


def told_record() -> JournalIndex:
    """Return the index of a garden that was told its first morning."""
    moment = at(START)
    plan = garden()
    return JournalIndex.of(tell((), brief(plan, (), forecast(moment), moment)))


@pytest.mark.parametrize(
    ("hour", "minute", "occasions"),
    [
        (6, 29, ()),
        (6, 30, (Occasion.MORNING,)),
        (19, 59, (Occasion.MORNING, Occasion.EVENING)),
        (20, 0, (Occasion.EVENING,)),
        (21, 29, (Occasion.EVENING,)),
        (21, 30, ()),
    ],
)
def test_the_morning_is_due_until_the_give_up_hour(
    hour: int, minute: int, occasions: tuple[Occasion, ...]
) -> None:
    """A missed morning is caught up late, but not after 20:00; nothing is said in quiet hours."""
    assert due(garden(), JournalIndex(), at(START, hour, minute), None).occasions == occasions


def test_a_told_morning_is_not_due_again() -> None:
    """Whatever the clock does on that date."""
    index = told_record()
    for hour in (6, 7, 12, 19):
        occasions = due(garden(), index, at(START, hour, 30), at(START, hour, 29)).occasions
        assert Occasion.MORNING not in occasions


def test_the_weather_is_watched_at_its_interval() -> None:
    """Every 60 min after the brief; a watch in the future means the clock went back."""
    index = told_record()
    watched = at(START, 9, 0)
    assert due(garden(), index, at(START, 9, 59), watched).occasions == ()
    assert due(garden(), index, at(START, 10, 0), watched).occasions == (Occasion.WATCH,)
    assert due(garden(), index, at(START, 8, 0), watched).occasions == (Occasion.WATCH,)


def test_dates_without_a_brief_are_written_down_once() -> None:
    """Two days down: both are excused, and then no more."""
    index = told_record()
    moment = at(on_day(4))
    assert due(garden(), index, moment, None).too_late == (on_day(2), on_day(3))
    for on in (on_day(2), on_day(3)):
        index._take(JournalEntry(moment, "Orchard corner", on, EntryKind.NOT_TOLD))
    assert due(garden(), index, moment, None).too_late == ()


def test_a_day_past_its_give_up_hour_is_too_late() -> None:
    """At 20:00 an untold date joins the missed ones."""
    index = told_record()
    assert due(garden(), index, at(on_day(2), 19, 59), None).too_late == ()
    assert due(garden(), index, at(on_day(2), 20, 0), None).too_late == (on_day(2),)


def test_nothing_becomes_due_before_the_next_look() -> None:
    """Minute by minute through a day: what is due is never before the promised look."""
    plan, index = garden(), told_record()
    now = at(START, 6, 30)
    watched = now
    look = next_look(plan, index, now, watched)
    while now < at(on_day(2), 6, 29):
        now += timedelta(minutes=1)
        if now >= look:
            watched = now
            look = next_look(plan, index, now, watched)
            index.evenings[START] = ""
        else:
            assert due(plan, index, now, watched).occasions in ((), (Occasion.EVENING,))


@pytest.mark.parametrize(
    ("hour", "minute", "is_quiet"), [(21, 29, False), (21, 30, True), (5, 59, True), (6, 0, False)]
)
def test_quiet_hours_span_midnight(hour: int, minute: int, is_quiet: bool) -> None:
    """From half past nine to six."""
    times = replace(garden().times, quiet_from=time(21, 30), quiet_to=time(6, 0))
    assert quiet(times, datetime.combine(START, time(hour, minute))) is is_quiet


@pytest.mark.parametrize(("hour", "is_quiet"), [(0, False), (1, True), (4, True), (5, False)])
def test_quiet_hours_may_lie_within_a_day_or_be_none(hour: int, is_quiet: bool) -> None:
    """From one to five; from one to one are none at all."""
    times, here = garden().times, datetime.combine(START, time(hour))
    assert quiet(replace(times, quiet_from=time(1), quiet_to=time(5)), here) is is_quiet
    assert not quiet(replace(times, quiet_from=time(1), quiet_to=time(1)), here)
