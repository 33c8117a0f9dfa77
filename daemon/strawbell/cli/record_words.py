"""What the kinds of `strawbell record` share: which batch is meant, and the row itself."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from difflib import get_close_matches

from strawbell.errors import GrowerError, Problem
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.local_time import local_date, zone_of


def entry_at(
    garden: Garden,
    at: datetime,
    kind: EntryKind,
    *,
    batch: str | None = None,
    task: str | None = None,
    value: float | None = None,
    text: str = "",
    data: Mapping[str, object] | None = None,
    on: date | None = None,
) -> JournalEntry:
    """Return a row of the journal, of the local date of its moment unless another is given."""
    day = on or local_date(at, zone_of(garden.place.time_zone))
    return JournalEntry(at, garden.name, day, kind, batch, task, None, value, text, data or {})


def batch_named(name: str | None, garden: Garden) -> Batch:
    """Return the batch of a name, or the only one; an unknown name is met with the nearest."""
    names = [batch.name for batch in garden.batches]
    if name is None and len(garden.batches) == 1:
        return garden.batches[0]
    found = [batch for batch in garden.batches if name and batch.name.lower() == name.lower()]
    if found:
        return found[0]
    near = get_close_matches(name or "", names, n=1)
    raise GrowerError(
        Problem(
            what="say which batch with --batch" if name is None else "there is no such batch",
            where="--batch",
            found=repr(name) if name else "",
            allowed=", ".join(repr(each) for each in names),
            remedy=f"Did you mean {near[0]!r}?" if near else "",
        )
    )
