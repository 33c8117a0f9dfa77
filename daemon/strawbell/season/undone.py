"""Rows of the grower's that were taken back: nothing is deleted, a later row says so."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from strawbell.model.journal import GROWERS_KINDS, EntryKind, Journal, JournalEntry

_Mark = tuple[str, str, str, str, str]


def taken_back(entry: JournalEntry, undo: JournalEntry) -> JournalEntry:
    """Return `undo` completed as the row that takes `entry` back."""
    moment, on, kind, batch, task = _mark(entry)
    data = {"at": moment, "on": on, "kind": kind, "batch": batch, "task": task}
    return JournalEntry(
        undo.at, entry.garden, undo.local_date, EntryKind.UNDONE, entry.batch, entry.task,
        None, None, undo.text, data,
    )  # fmt: skip


def standing(journal: Iterable[JournalEntry]) -> Journal:
    """Return the rows that still stand, without the ones that take others back."""
    rows = tuple(journal)
    undone = Counter(_named(row) for row in rows if row.kind is EntryKind.UNDONE)
    if not undone:
        return rows
    kept: list[JournalEntry] = []
    # From the end: of two rows that look the same the later one is meant.
    for row in reversed(rows):
        if row.kind is EntryKind.UNDONE:
            continue
        mark = _mark(row) if row.kind in GROWERS_KINDS else None
        if mark is not None and undone[mark] > 0:
            undone[mark] -= 1
            continue
        kept.append(row)
    return tuple(reversed(kept))


def last_words(journal: Journal) -> Journal:
    """Return the rows of the last answer of the grower's that still stands, all of one moment."""
    words = [row for row in standing(journal) if row.kind in GROWERS_KINDS]
    return tuple(row for row in words if row.at == words[-1].at) if words else ()


def _mark(row: JournalEntry) -> _Mark:
    moment, on = row.at.isoformat(), row.local_date.isoformat()
    return moment, on, row.kind.value, row.batch or "", row.task or ""


def _named(undo: JournalEntry) -> _Mark:
    named = [str(undo.data.get(name, "")) for name in ("at", "on", "kind", "batch", "task")]
    return named[0], named[1], named[2], named[3], named[4]
