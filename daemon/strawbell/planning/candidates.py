"""What the plan alone, without weather, has due for a batch on a date.

A new part of the season is one file with one stage, and one line in `STAGES`.
"""

from __future__ import annotations

from datetime import date

from strawbell.model.brief import Action, Task
from strawbell.model.garden import Batch, Garden
from strawbell.planning.batch_state import BatchState, OnceDue
from strawbell.planning.conditioning import conditioning, resting
from strawbell.planning.planting import planting, surface_watering
from strawbell.planning.stage import Day, Stage

STAGES: tuple[Stage, ...] = (conditioning, resting, planting, surface_watering)
"""The stages of a batch's life, in the order their tasks are told."""

ONCE = frozenset(
    {
        Action.COVER_WITH_MIX,
        Action.PLANT,
        Action.SOW,
        Action.THIN,
        Action.MULCH,
        Action.SUPPORT,
        Action.SPREAD,
    }
)
"""Actions that are done once; the state of a batch remembers their dates."""


def candidates(day: Day) -> tuple[Task, ...]:
    """Return everything the plan has due for a batch on a date, in the order it is done."""
    if day.on < day.batch.start_on:
        return ()
    return tuple(task for stage in STAGES for task in stage(day))


def once_due(garden: Garden) -> OnceDue:
    """Return the function that tells a batch's state what is done once, for days as planned."""

    def keys(batch: Batch, state: BatchState, on: date) -> tuple[str, ...]:
        if state.sequence.finished_on is None:
            return ()
        tasks = candidates(Day(garden, batch, state, on))
        return tuple(task.key for task in tasks if task.action in ONCE)

    return keys
