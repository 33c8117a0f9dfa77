"""A season read once out of its journal: the summary, the hints and the picture rest on it.

Nothing is decided here and no weather is read. Dates on which nothing was told say nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from msgspec import Struct

from strawbell.model.brief import ReasonCode, State, TaskKey
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.fold import state_at
from strawbell.season.journal_index import (
    Answer,
    DayLog,
    JournalIndex,
    reasons_kept,
    standing,
    task_of,
)
from strawbell.season.local_time import DAY
from strawbell.season.stage import BatchState

TOLD = frozenset({EntryKind.TOLD, EntryKind.TAKEN_BACK})
"""Rows that tell work."""


class BatchHistory(Struct, frozen=True):
    """A batch from its first soaking through today.

    `told` is the last row that each task had on each date, `harvests` the rows of pickings; `state`
    and `log` are where it stands today, once that is told, and what the journal says of it.
    """

    garden: Garden
    batch: Batch
    today: date
    state: BatchState
    log: DayLog
    index: JournalIndex
    told: Mapping[tuple[date, TaskKey], JournalEntry]
    harvests: tuple[JournalEntry, ...]

    @property
    def held_for(self) -> frozenset[ReasonCode]:
        """Every reason that any work was held for."""
        held = (entry for entry in self.told.values() if entry.state == State.HELD)
        return frozenset(code for entry in held for code in reasons_of(entry))

    def answers(self, key: TaskKey) -> list[Answer]:
        """Return the grower's words of this season about a task."""
        words = self.index.answers.get(key, ())
        return [word for word in words if self._is_about(word)]

    def _is_about(self, word: Answer) -> bool:
        return word.on >= self.batch.start_on and word.batch in (None, self.batch.name)

    def dates(self, found: Iterable[date]) -> tuple[date, ...]:
        """Return those of some dates that are of this season, in order."""
        return tuple(sorted(on for on in found if self.batch.start_on <= on <= self.today))


class History(Struct, frozen=True):
    """The season of a garden through today, which begins with the first soaking of a batch.

    `rows` are all that stand, also of earlier seasons; batches that begin later are left out.
    """

    garden: Garden
    today: date
    first: date | None
    rows: Journal
    index: JournalIndex
    batches: tuple[BatchHistory, ...]

    @classmethod
    def of(cls, garden: Garden, journal: Journal, today: date) -> History:
        """Read the history of a garden; today counts once its brief was told."""
        index, rows = JournalIndex.of(journal), standing(journal)
        begun = [batch for batch in garden.batches if batch.start_on <= today]
        # Until today's brief is told, nothing of today has been told that could be counted.
        until = today + DAY if today in index.briefed else today
        return cls(
            garden,
            today,
            min((batch.start_on for batch in begun), default=None),
            rows,
            index,
            tuple(_history(garden, batch, rows, index, today, until) for batch in begun),
        )

    def since_first(self, found: Iterable[date]) -> tuple[date, ...]:
        """Return those of some dates that are of this season, in order."""
        first = self.first or date.max
        return tuple(sorted(on for on in found if first <= on <= self.today))


def _history(
    garden: Garden, batch: Batch, rows: Journal, index: JournalIndex, today: date, until: date
) -> BatchHistory:
    own = [row for row in rows if row.batch == batch.name and row.local_date >= batch.start_on]
    keys = ((row, task_of(row)) for row in own if row.kind in TOLD)
    return BatchHistory(
        garden,
        batch,
        today,
        state_at(garden, batch, index, max(until, batch.start_on)),
        index.day(batch, today),
        index,
        {(row.local_date, key): row for row, key in keys if key is not None},
        tuple(row for row in own if row.kind is EntryKind.HARVEST),
    )


def reasons_of(entry: JournalEntry) -> tuple[ReasonCode, ...]:
    """Return the reasons that work was told with, as far as they are known today."""
    known = {code.value: code for code in ReasonCode}
    return tuple(known[each] for each in reasons_kept(entry.data) if each in known)
