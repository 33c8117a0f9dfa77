"""The evening note: only when there is something to prepare or to protect.

Decided 2026-11-25: The evening speaks of a feed once a season and batch, and never of what the
morning or a change told in the same look.
"""

from __future__ import annotations

from msgspec import Struct

from strawbell.model.brief import Action, Alert, AlertCode, Brief, State, Task
from strawbell.model.garden import Garden
from strawbell.season.journal_index import JournalIndex

PROTECT = frozenset({AlertCode.FROST, AlertCode.FREEZE})
"""Alerts that ask for something to be done before the night."""
PREPARE = frozenset(
    {Action.SOAK, Action.FEED, Action.COVER_WITH_MIX, Action.PLANT, Action.SOW, Action.SUPPORT}
)
"""Work of tomorrow that needs things to be at hand."""


class Evening(Struct, frozen=True):
    """What is worth saying in the evening."""

    protect: tuple[Alert, ...]
    prepare: tuple[Task, ...]

    def __bool__(self) -> bool:
        return bool(self.protect or self.prepare)


def evening(brief: Brief, garden: Garden, index: JournalIndex) -> Evening:
    """Return what to protect tonight and what to have at hand tomorrow.

    An ordinary feeding in the middle of the sequence is in the morning's own brief and in the
    one before; only the first with a feed is prepared for (see `_is_new`).
    """
    protect = tuple(alert for alert in brief.alerts if alert.code in PROTECT)
    tomorrow = brief.ahead[0].tasks if brief.ahead else ()
    prepare = tuple(
        task
        for task in tomorrow
        if task.action in PREPARE
        and task.state is State.DUE
        and _is_new(task, brief, garden, index)
    )
    return Evening(protect, prepare)


def _is_new(task: Task, brief: Brief, garden: Garden, index: JournalIndex) -> bool:
    """Return whether a task needs things that are not at hand yet.

    A feed is at hand once it was told for the batch, other things when today had the same work.
    """
    if task.dose is None:
        return not any(
            each.batch == task.batch and each.action is task.action for each in brief.tasks
        )
    if task.dose.is_nothing:
        return False
    since = next((each.start_on for each in garden.batches if each.name == task.batch), brief.on)
    return task.dose.feed not in index.feeds_at_hand(since, task.batch)
