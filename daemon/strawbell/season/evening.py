"""The evening note: only when there is something to prepare or to protect.

Decided 2026-11-29: The evening speaks of plants, seed and mix, and of a first soaking. A feed is
told with the supplies three days before it is needed, stakes with the planting; neither is told
again, nor is a freeze that the morning told: plants are covered at dusk, a hose is drained at any
time.
"""

from __future__ import annotations

from msgspec import Struct

from strawbell.model.brief import Action, Alert, AlertCode, Brief, State, Task
from strawbell.season.journal_index import JournalIndex

PROTECT = frozenset({AlertCode.FROST, AlertCode.FREEZE})
"""Alerts that ask for something to be done before the night."""
PREPARE = frozenset({Action.SOAK, Action.COVER_WITH_MIX, Action.PLANT, Action.SOW})
"""Work of tomorrow that needs things to be at hand."""


class Evening(Struct, frozen=True):
    """What is worth saying in the evening."""

    protect: tuple[Alert, ...]
    prepare: tuple[Task, ...]

    def __bool__(self) -> bool:
        return bool(self.protect or self.prepare)


def evening(brief: Brief, index: JournalIndex) -> Evening:
    """Return what to protect tonight and what to have at hand tomorrow.

    Work that today had as well needs nothing more.
    """
    morning = index.alerts.get(brief.on, {})
    protect = tuple(
        alert
        for alert in brief.alerts
        if alert.code in PROTECT and not (alert.code is AlertCode.FREEZE and alert.key in morning)
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
