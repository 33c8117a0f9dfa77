"""What a store knows: which garden and batch is which, whatever they are called, and a secret.

The store keeps its rows under a key: the name that a thing had when it was first known. Keys
never change, names may; here the two are turned into each other. With its secret it makes what it
later takes for its own.
"""

from __future__ import annotations

import hashlib
import hmac
import json
from collections.abc import Mapping
from datetime import date

from msgspec import Struct, field
from msgspec.structs import replace

from strawbell.model.garden import slug
from strawbell.model.journal import EntryKind, JournalEntry


class KnownBatch(Struct, frozen=True):
    """A batch as the store knows it; `is_over` when the grower said that it is gone."""

    key: str
    name: str
    id: str | None
    start_on: date
    is_over: bool = False


class KnownGarden(Struct, frozen=True):
    """A garden as the store knows it: degrees north and east, and every batch it ever had."""

    key: str
    name: str
    id: str | None
    latitude: float
    longitude: float
    batches: tuple[KnownBatch, ...] = ()
    is_over: bool = False


class KeptNames(Struct, frozen=True):
    """The keys of gardens by name, and of the batches by the name of their garden.

    Only what is not kept under its own name is in here, and a batch with all of its garden.
    """

    gardens: Mapping[str, str] = field(default_factory=dict)
    batches: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def key_of(self, garden: str) -> str:
        """Return the key under which the rows of a garden are kept."""
        return self.gardens.get(garden, garden)

    def name_of(self, key: str) -> str:
        """Return what the garden of a key is called now."""
        return next((name for name, kept in self.gardens.items() if kept == key), key)

    def all_of(self, garden: str) -> str:
        """Return all that rows of a garden are called by and not kept under, as one text."""
        return json.dumps([garden, sorted(self.batches.get(garden, {}).items())])

    def kept(self, entry: JournalEntry) -> JournalEntry:
        """Return a row as it is kept; a row of the known things names keys itself."""
        if entry.kind is EntryKind.KNOWN or not (self.gardens or self.batches):
            return entry
        keys = self.batches.get(entry.garden, {})
        return _renamed(entry, self.key_of(entry.garden), keys)

    def called(self, entry: JournalEntry) -> JournalEntry:
        """Return a kept row by the names of today."""
        if not (self.gardens or self.batches):
            return entry
        garden = self.name_of(entry.garden)
        names = {key: name for name, key in self.batches.get(garden, {}).items()}
        return _renamed(entry, garden, names)


def _renamed(entry: JournalEntry, garden: str, batches: Mapping[str, str]) -> JournalEntry:
    task = None if entry.task is None else _task(entry.task, entry.batch, batches)
    batch = None if entry.batch is None else batches.get(entry.batch, entry.batch)
    return replace(entry, garden=garden, batch=batch, task=task)


def _task(task: str, batch: str | None, batches: Mapping[str, str]) -> str:
    """Return a key of a task or an alert, which holds the name of its batch, with the other."""
    about = batches if batch is None else {batch: batches.get(batch, batch)}
    # The longest first: "Row" begins the keys of "Row A" too.
    for old, new in sorted(about.items(), key=lambda pair: len(slug(pair[0])), reverse=True):
        word = slug(old)
        if task.startswith(f"{word}-"):
            return f"{slug(new)}{task[len(word) :]}"
        if task.startswith("alert-") and task.endswith(f"-{word}"):
            return f"{task[: -len(word)]}{slug(new)}"
    return task


KEY_BYTES = 32
"""As long as what the MAC gives; a longer key proves no more (RFC 2104, section 3)."""

SEPARATOR = "\x1f"
"""Stands between the parts (ASCII unit separator). Without it "ab", "c" were "a", "bc"."""


class StoreSecret(Struct, frozen=True):
    """The key of one store, made once with it and copied with it; never shown."""

    key: bytes

    def __repr__(self) -> str:
        return f"{type(self).__name__}()"

    def __post_init__(self) -> None:
        """Refuse a key of another length: half a secret is none."""
        if len(self.key) != KEY_BYTES:
            raise ValueError(f"key must have {KEY_BYTES} bytes")

    def mac(self, *parts: str) -> bytes:
        """Return HMAC-SHA-256 of the parts (RFC 2104), 32 bytes.

        The first part says what it is for, so that one thing can never be taken for another.
        Raises ValueError when a part holds the separator.
        """
        if any(SEPARATOR in part for part in parts):
            raise ValueError("parts must not hold the separator")
        said = SEPARATOR.join(parts).encode("utf-8", "surrogatepass")
        return hmac.new(self.key, said, hashlib.sha256).digest()
