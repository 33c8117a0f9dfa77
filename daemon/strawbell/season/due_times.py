"""When a garden is spoken to: which occasions are due at a moment, and whether an evening is one.

The journal remembers which occasions have been, so asking twice, waking late or a clock put back
never makes a second one. A brief is told each morning, an evening note only when there is something
to prepare or to protect.

Decided 2026-11-29: The evening speaks of plants, seed and mix, and of a first soaking. A feed is
told with the supplies three days before it is needed, stakes with the planting; neither is told
again, nor is a freeze that the morning told: plants are covered at dusk, a hose is drained at any
time. So a frost of this night is told once more, when covers go on; that of a later night only if
the morning did not know of it.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime, timedelta
from enum import StrEnum

from msgspec import Struct

from strawbell.model.brief import PUTS_IN, Action, Alert, AlertCode, AlertKey, Brief, State, Task
from strawbell.model.garden import Garden, Times
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import DAY, moment_of

PROTECT = frozenset({AlertCode.FROST, AlertCode.FREEZE})
"""Alerts that ask for something to be done before the night."""
PREPARE = PUTS_IN | {Action.SOAK}
"""Work of tomorrow that needs things to be at hand."""


class Occasion(StrEnum):
    """Why a garden is looked at."""

    MORNING = "morning"
    EVENING = "evening"
    WATCH = "watch"


class Due(Struct, frozen=True):
    """The occasions due for a garden at a moment, and the dates now too late for a brief."""

    on: date
    occasions: tuple[Occasion, ...]
    too_late: tuple[date, ...]


def due(garden: Garden, index: JournalIndex, now: datetime, last_watch: datetime | None) -> Due:
    """Return what is due for a garden at `now` (aware)."""
    zone = garden.place.zone
    here = now.astimezone(zone)
    times = garden.times
    on = here.date()
    occasions: list[Occasion] = []
    morning = moment_of(on, times.morning, zone)
    give_up = moment_of(on, times.give_up, zone)
    briefed = on in index.briefed
    if not briefed and morning <= now < give_up:
        occasions.append(Occasion.MORNING)
    elif briefed and not quiet(times, here) and _watch_due(garden, now, last_watch):
        occasions.append(Occasion.WATCH)
    evening = moment_of(on, times.evening, zone)
    if on not in index.evenings and evening <= now and not quiet(times, here):
        occasions.append(Occasion.EVENING)
    return Due(on, tuple(occasions), _too_late(index, on, now, give_up))


def next_look(garden: Garden, index: JournalIndex, now: datetime, last_watch: datetime) -> datetime:
    """Return the next moment (UTC) at which something can become due, after a look at `now`."""
    zone = garden.place.zone
    times = garden.times
    on = now.astimezone(zone).date()
    moments = [
        moment_of(day, at, zone)
        for day in (on, on + DAY)
        for at in (times.morning, times.evening, times.give_up, times.quiet_to)
    ]
    if on in index.briefed:
        moments.append(last_watch + timedelta(minutes=times.watch_every_min))
    return min(moment for moment in moments if moment > now)


def quiet(times: Times, here: datetime) -> bool:
    """Return whether a garden-local moment lies in the quiet hours, which may span midnight."""
    at = here.time()
    if times.quiet_from <= times.quiet_to:
        return times.quiet_from <= at < times.quiet_to
    return at >= times.quiet_from or at < times.quiet_to


def _watch_due(garden: Garden, now: datetime, last_watch: datetime | None) -> bool:
    every = timedelta(minutes=garden.times.watch_every_min)
    # A last watch in the future means that the clock was put back: watch again.
    return last_watch is None or not timedelta(0) <= now - last_watch < every


def _too_late(index: JournalIndex, on: date, now: datetime, give_up: datetime) -> tuple[date, ...]:
    """Return the dates that nothing can be told on any more and that are not written down yet."""
    if not index.briefed:
        return ()
    dates = [day for day in index.not_told(on) if day not in index.excused]
    if now >= give_up and on not in index.briefed and on not in index.excused:
        dates.append(on)
    return tuple(dates)


class Evening(Struct, frozen=True):
    """What is worth saying in the evening."""

    protect: tuple[Alert, ...]
    prepare: tuple[Task, ...]

    def __bool__(self) -> bool:
        return bool(self.protect or self.prepare)


def evening(brief: Brief, told: Collection[AlertKey]) -> Evening:
    """Return what to protect tonight and what to have at hand tomorrow.

    `told` are the alerts of today's morning. Work that today had as well needs nothing more.
    """
    protect = tuple(
        alert
        for alert in brief.alerts
        if alert.code in PROTECT and (alert.key not in told or _covers_tonight(alert, brief.on))
    )
    today = {(task.batch, task.action) for task in brief.tasks}
    prepare = tuple(
        task
        for task in (brief.ahead[0].tasks if brief.ahead else ())
        if task.action in PREPARE
        and task.state is State.DUE
        and (task.batch, task.action) not in today
    )
    return Evening(protect, prepare)


def _covers_tonight(alert: Alert, on: date) -> bool:
    """Return whether covers go on for an alert at the dusk of a date."""
    ends_at = alert.ends_at
    return alert.code is AlertCode.FROST and ends_at is not None and ends_at.date() <= on + DAY
