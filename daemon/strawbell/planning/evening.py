"""The evening note: only when there is something to prepare or to protect."""

from __future__ import annotations

from dataclasses import dataclass

from strawbell.model.brief import Action, Alert, AlertCode, Brief, State, Task

PROTECT = frozenset({AlertCode.FROST, AlertCode.FREEZE})
"""Alerts that ask for something to be done before the night."""
PREPARE = frozenset(
    {Action.SOAK, Action.FEED, Action.COVER_WITH_MIX, Action.PLANT, Action.SOW, Action.SUPPORT}
)
"""Work of tomorrow that needs things to be at hand."""


@dataclass(frozen=True, slots=True)
class Evening:
    """What is worth saying in the evening."""

    protect: tuple[Alert, ...]
    prepare: tuple[Task, ...]

    def __bool__(self) -> bool:
        return bool(self.protect or self.prepare)


def evening(brief: Brief) -> Evening:
    """Return what to protect tonight and what to have at hand tomorrow.

    An ordinary feeding in the middle of the sequence is in the morning's own brief and in the
    one before; it is prepared for only when it is the first of its kind (see `_is_new`).
    """
    protect = tuple(alert for alert in brief.alerts if alert.code in PROTECT)
    tomorrow = brief.ahead[0].tasks if brief.ahead else ()
    prepare = tuple(
        task
        for task in tomorrow
        if task.action in PREPARE and task.state is State.DUE and _is_new(task, brief)
    )
    return Evening(protect, prepare)


def _is_new(task: Task, brief: Brief) -> bool:
    """Return whether today had no work of the same kind for the batch with the same feed."""
    feed = task.dose.feed if task.dose else None
    today = [
        each for each in brief.tasks if each.batch == task.batch and each.action is task.action
    ]
    return not any((each.dose.feed if each.dose else None) == feed for each in today)
