"""The index of a garden's journal in a checkpoint, so that nothing older is read for a morning.

It holds no more than the rows it came of, and is made anew from them on any doubt: another build of
the program, a batch that was changed. What was folded already goes with it, batch by batch.

Decided 2026-11-29: The index is kept whole, and not a season cut off: what an earlier season still
says (a thermometer that reads low, work told before) stays in it, and reading a thousand days of it
costs less than indexing ten.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterable, Mapping
from datetime import date
from functools import cache
from typing import Any

import msgspec
from msgspec import Struct, field

from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.bale_course import Course, Stood
from strawbell.season.fold import Reached, Value
from strawbell.season.journal_index import JournalIndex
from strawbell.season.stage import BatchState

FAST = 1
"""Level of zlib: a tenth of the size for a sixth of the time of the usual level."""


class FoldCache(Struct):
    """How far the state and the bale of each batch were followed; it decides nothing.

    Whoever keeps it beside an index has it forget what new rows may change.
    """

    states: dict[str, Reached[BatchState]] = field(default_factory=dict)
    courses: dict[str, Reached[tuple[Stood, Course]]] = field(default_factory=dict)

    def forget(self, entries: Iterable[JournalEntry], index: JournalIndex) -> None:
        """Forget what new rows, which the index has taken, may change.

        A state rests on rows of earlier dates, and on the grower's words, about whatever date.
        """
        if not self.states and not self.courses:
            return
        for entry in entries:
            if entry.kind in (EntryKind.DONE, EntryKind.MISSED):
                self.states.clear()
                self.courses.clear()
                return
            # The figures of work told again take the place of those of the earlier day.
            again = entry.batch if index.is_told_again(entry) else None
            _drop(self.states, entry.local_date, again)
            _drop(self.courses, entry.local_date, again)


def _drop(kept: dict[str, Reached[Value]], on: date, again: str | None) -> None:
    for name in [name for name, each in kept.items() if on < each.on or name == again]:
        del kept[name]


class _Checkpoint(Struct):
    """A checkpoint: by batch what it was when it was followed, and how far that is."""

    build: str
    index: JournalIndex
    batches: dict[str, bytes]
    states: dict[str, tuple[date, BatchState]]
    courses: dict[str, tuple[date, tuple[Stood, Course]]]


@cache
def _decoder() -> msgspec.msgpack.Decoder[_Checkpoint]:
    """Return what reads checkpoints; to make it costs as much as to read a few."""
    return msgspec.msgpack.Decoder(_Checkpoint)


def packed(index: JournalIndex, folds: FoldCache, garden: Garden, build: str) -> bytes | None:
    """Return the index of a garden as bytes; `build` names the program that made it.

    None where a row holds what cannot be put into bytes: a morning is worth more than quick starts.
    """
    states = {name: (each.on, each.value) for name, each in folds.states.items()}
    courses = {name: (each.on, each.value) for name, each in folds.courses.items()}
    laid = _Checkpoint(build, index, _batches(garden), states, courses)
    said = in_bytes(laid)
    return None if said is None else zlib.compress(said, FAST)


def in_bytes(value: object) -> bytes | None:
    """Return values as bytes, None where one cannot be put into bytes.

    Values that came about in the same way give the same bytes within a process.
    """
    try:
        return msgspec.msgpack.encode(value, enc_hook=_plain)
    except (TypeError, ValueError, OverflowError):
        return None


def unpacked(content: bytes, garden: Garden, build: str) -> tuple[JournalIndex, FoldCache] | None:
    """Return the index of a checkpoint, None where it is not sure to be the same."""
    try:
        laid = _decoder().decode(zlib.decompress(content))
    except (msgspec.DecodeError, zlib.error, ValueError):
        return None
    if laid.build != build:
        return None
    folds, now = FoldCache(), _batches(garden)
    for batch in garden.batches:
        if batch.name not in now or laid.batches.get(batch.name) != now[batch.name]:
            continue
        if batch.name in laid.states:
            folds.states[batch.name] = Reached(batch, *laid.states[batch.name])
        if batch.name in laid.courses:
            folds.courses[batch.name] = Reached(batch, *laid.courses[batch.name])
    return laid.index, folds


def _batches(garden: Garden) -> dict[str, bytes]:
    """Return a digest of all that a batch was followed with beside the journal."""
    said = {batch.name: in_bytes((garden.place, batch)) for batch in garden.batches}
    return {name: hashlib.sha256(each).digest() for name, each in said.items() if each is not None}


def _plain(value: Any) -> Any:
    """Return the plain form of what is only read through, such as the data of a stored row."""
    if isinstance(value, Mapping):
        return dict(value)
    raise TypeError(f"value cannot be put into bytes: {type(value).__name__}")
