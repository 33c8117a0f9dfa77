"""Where a batch stands at the beginning of a date: what the fold of its days carries on.

What comes after conditioning is made of tasks with a key of their own (planting, a support, the
third feeding of the season) and of tasks that carry their date (watering the top). Only the first
kind is remembered.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from msgspec import Struct, field

from strawbell.model.brief import Question, TaskKey
from strawbell.model.schedule import ScheduleDay
from strawbell.season.day_log import Answer


class Given(Struct, frozen=True):
    """A feeding that counts as given."""

    on: date
    key: TaskKey
    step: ScheduleDay


class SequenceState(Struct, frozen=True):
    """Where a batch stands in its conditioning at the beginning of a date.

    `again` are feedings put back to the front; `position` is the index of the next day of the
    schedule; `held_days` counts the days the one in front has been held; `questions` are feedings
    that could not be told, the first of which the sequence waits for; `waits_since` is the date
    from which the one in front has been in line, None for the first of all.
    """

    again: tuple[ScheduleDay, ...] = ()
    position: int = 0
    held_days: int = 0
    given: tuple[Given, ...] = ()
    questions: tuple[Question, ...] = ()
    soaked: bool = False
    finished_on: date | None = None
    waits_since: date | None = None
    taken_back: bool = False
    """The one in front was told as due, and held later that day: it may have been given."""
    behind: int = 0
    """Days that feedings were held for and that no day of water has made up for yet."""
    unanswered: bool = False
    """The one in front was told late, or while nobody was there, and nobody said it was done."""
    said: Mapping[TaskKey, Answer] = field(default_factory=dict)
    """The grower's last word of earlier dates about each day of the sequence."""


class Growth(Struct, frozen=True):
    """The days that count for a planting since a date, and when the soonest and all of it was ripe.

    The dates are None while they are still to come.
    """

    since: date
    days: float = 0.0
    ripe_on: date | None = None
    all_ripe_on: date | None = None


class Frozen(Struct, frozen=True):
    """A planting that stood since a date and was killed on another.

    A `young` one had nothing to pick yet.
    """

    on: date
    since: date
    young: bool


class BatchState(Struct, frozen=True):
    """Conditioning, and by task key when a once-done task was done and how long it was held.

    `frozen` says by the key of its planting what a freeze has killed. What was too young to be
    picked counts as not planted any more; the rest stands until it is cleared. `growth` says by
    the same key how far a planting has come, `tarped` whether a tarp lies over the bales.
    """

    sequence: SequenceState = field(default_factory=SequenceState)
    done: Mapping[TaskKey, date] = field(default_factory=dict)
    held: Mapping[TaskKey, int] = field(default_factory=dict)
    frozen: Mapping[TaskKey, Frozen] = field(default_factory=dict)
    growth: Mapping[TaskKey, Growth] = field(default_factory=dict)
    tarped: bool = False
