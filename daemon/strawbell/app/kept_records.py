"""The journals of the gardens, indexed and kept between looks.

Decided 2026-11-25: The index of the journal is kept between looks, and with it how far each batch
was walked; a new row makes it forget the walks it could change. The brief is the one from all rows
anew, which a property test holds.
"""

from __future__ import annotations

from collections import OrderedDict

from strawbell.app.ports import Store
from strawbell.model.journal import EntryKind
from strawbell.season.journal_index import Record

MOST_RECORDS = 32
"""Gardens whose journal stays indexed between looks; with more, each is read again."""


class KeptRecords:
    """The index of each garden's journal, with what was written since it was asked for last."""

    def __init__(self, store: Store) -> None:
        """Keep the store; nothing is read yet."""
        self._store = store
        self._kept: OrderedDict[str, tuple[Record, int]] = OrderedDict()

    def of(self, garden: str) -> Record:
        """Return the index as the store stands; commands beside the daemon write too."""
        record, last = self._kept.pop(garden, (Record(), 0))
        rows, last = self._store.planners_rows(garden, last)
        if any(row.kind is EntryKind.UNDONE for row in rows):
            # What was taken in cannot be taken out again: the index is made anew without it.
            record = Record()
            rows, last = self._store.planners_rows(garden, 0)
        record.take(rows)
        self._kept[garden] = (record, last)
        if len(self._kept) > MOST_RECORDS:
            self._kept.popitem(last=False)
        return record

    def last_row(self, garden: str) -> int:
        """Return the number of the last row that is indexed, 0 for none."""
        return self._kept[garden][1] if garden in self._kept else 0
