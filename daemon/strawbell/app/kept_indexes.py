"""The journals of the gardens, indexed and kept between looks.

Decided 2026-11-25: The index of the journal is kept between looks, and with it how far each batch
was followed; a new row makes it forget what it could change. The brief is the one from all rows
anew, which a property test holds.

Decided 2026-11-29: With each decision of a morning the index as it was before goes into the store,
in the same transaction and at no sync more, so that a start reads one row and what came after it.
A garden that stays in memory gets a checkpoint once in a while; one of many, read at each look,
with every morning.
"""

from __future__ import annotations

from collections import OrderedDict

from msgspec import Struct, field

from strawbell.app.ports import Journals, Store
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind
from strawbell.season.fold import FoldCache, packed, unpacked
from strawbell.season.journal_index import JournalIndex

MOST_INDEXES = 32
"""Gardens whose journal stays indexed between looks; with more, each is read again."""
CHECKPOINT_AFTER_ROWS = 48
"""New rows after which a garden that stays in memory gets a new checkpoint: those of a week."""


class KeptIndex(Struct):
    """The index of a garden up to its row `last`, and how far its batches were followed."""

    index: JournalIndex = field(default_factory=JournalIndex)
    folds: FoldCache = field(default_factory=FoldCache)
    last: int = 0
    rows: int = 0
    """Rows indexed since its checkpoint."""


class KeptIndexes:
    """The index of each garden's journal, with what was written since it was asked for last."""

    def __init__(self, store: Store, build: str | None = None) -> None:
        """Keep the store; nothing is read yet. Without a `build` there is no checkpoint."""
        self._store = store
        self._build = build
        self._kept: OrderedDict[str, KeptIndex] = OrderedDict()

    def of(self, garden: Garden) -> JournalIndex:
        """Return the index as the store stands; commands beside the daemon write too."""
        kept = self._kept.pop(garden.name, None) or _restored(self._store, garden, self._build)
        self._kept[garden.name] = kept = _caught_up(self._store, garden, kept)
        if len(self._kept) > MOST_INDEXES:
            self._kept.popitem(last=False)
        return kept.index

    def save_checkpoint(self, garden: Garden) -> None:
        """Keep the index of a garden in the store as it was at the last look at it."""
        kept = self._kept.get(garden.name)
        if self._build is None or kept is None:
            return
        stays = len(self._kept) < MOST_INDEXES
        if kept.rows >= (CHECKPOINT_AFTER_ROWS if stays else 1):
            content = packed(kept.index, kept.folds, garden, self._build)
            if content is not None:
                self._store.save_checkpoint(garden.name, kept.last, content)
            kept.rows = 0

    def folds(self, garden: Garden) -> FoldCache:
        """Return how far the batches of a garden were followed, at the last look at it."""
        return self._kept[garden.name].folds

    def last_row(self, garden: str) -> int:
        """Return the number of the last row that is indexed, 0 for none."""
        return self._kept[garden].last if garden in self._kept else 0


def kept_in(store: Journals, garden: Garden, build: str) -> KeptIndex:
    """Return the index of a garden as a store stands, for one look: what a command needs."""
    return _caught_up(store, garden, _restored(store, garden, build))


def _restored(store: Journals, garden: Garden, build: str | None) -> KeptIndex:
    """Return the index of its checkpoint, an empty one where there is none that fits."""
    found = None if build is None else store.checkpoint(garden.name)
    if found is None or build is None:
        return KeptIndex()
    last, content = found
    known = unpacked(content, garden, build)
    return KeptIndex() if known is None else KeptIndex(*known, last)


def _caught_up(store: Journals, garden: Garden, kept: KeptIndex) -> KeptIndex:
    """Return an index with the rows that came after it."""
    rows, kept.last = store.planners_rows(garden.name, kept.last)
    if any(row.kind is EntryKind.UNDONE for row in rows):
        # What was taken in cannot be taken out again: the index is made anew without it.
        kept = KeptIndex()
        rows, kept.last = store.planners_rows(garden.name, 0)
    kept.index.take(rows)
    kept.folds.forget(rows, kept.index)
    kept.rows += len(rows)
    return kept
