"""What was decided of each feeding that stood first in line, read out of a journal."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime

from strawbell.model.brief import State, TaskKey
from strawbell.model.garden import Batch
from strawbell.model.journal import EntryKind, Journal
from strawbell.rehearsal.course import Walk
from strawbell.season.journal_index import Record, task_of
from strawbell.season.sequence import front, is_feeding, step_key


@dataclass(frozen=True, slots=True)
class Decision:
    """A date on which a feeding stood first in line, and what its morning said of it."""

    on: date
    at: datetime
    held: bool
    turned: bool
    """Whether the last word of the day was another than that of the morning."""


def decisions_of(batch: Batch, record: Record, walk: Walk, journal: Journal) -> Iterator[Decision]:
    """Yield what was said in the morning of each date on which a feeding stood first in line."""
    first: dict[tuple[date, TaskKey], tuple[datetime, str | None]] = {}
    for entry in journal:
        if entry.kind is EntryKind.TOLD and entry.batch == batch.name and (key := task_of(entry)):
            first.setdefault((entry.local_date, key), (entry.at, entry.state))
    for on, before, _ in walk:
        step = front(before.sequence, batch)
        if step is None or not is_feeding(step):
            continue
        key = step_key(batch, step)
        at, state = first.get((on, key), (None, None))
        if at is not None and state in (State.HELD, State.DUE):
            last = record.batch(batch.name).told.get(on, {}).get(key)
            yield Decision(on, at, state == State.HELD, turned=last != state)
