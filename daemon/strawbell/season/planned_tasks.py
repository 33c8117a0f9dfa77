"""What the plan alone, without weather, has due for a batch on a date.

A new part of the season is one file with one stage, and one line in `STAGES`.
"""

from __future__ import annotations

from datetime import date

from strawbell.model.brief import Action, Task, TaskKey
from strawbell.model.garden import Batch, Garden
from strawbell.season.aftercare import (
    daily_water,
    inspection,
    mulching,
    spreading,
    supports,
    thinning_due,
)
from strawbell.season.conditioning import conditioning, resting
from strawbell.season.harvesting import harvesting, without_idle_work
from strawbell.season.journal_index import DayLog
from strawbell.season.planting import planting, surface_watering
from strawbell.season.season_feedings import season_feeding_due
from strawbell.season.stage import BatchState, Day, Stage

STAGES: tuple[Stage, ...] = (
    conditioning,
    resting,
    season_feeding_due,
    planting,
    surface_watering,
    daily_water,
    harvesting,
    inspection,
    thinning_due,
    supports,
    mulching,
    spreading,
)
"""The stages of a batch's life, in the order their tasks are told."""

ONCE = frozenset(
    {
        Action.FEED,
        Action.COVER_WITH_MIX,
        Action.PLANT,
        Action.SOW,
        Action.THIN,
        Action.MULCH,
        Action.SUPPORT,
        Action.HARVEST,
        Action.SPREAD,
    }
)
"""Actions whose tasks have a key of their own after conditioning; the state of a batch remembers
the dates they were done."""


def candidates(day: Day) -> tuple[Task, ...]:
    """Return everything the plan has due for a batch on a date, in the order it is done."""
    if day.on < day.batch.start_on:
        return ()
    return without_idle_work(day, tuple(task for stage in STAGES for task in stage(day)))


def once_due(garden: Garden, batch: Batch, state: BatchState, on: date) -> tuple[TaskKey, ...]:
    """Return the keys of the once-done tasks that the plan alone, without weather, has due."""
    if state.sequence.finished_on is None:
        return ()
    tasks = candidates(Day(garden, batch, state, DayLog(on)))
    return tuple(task.key for task in tasks if task.action in ONCE)
