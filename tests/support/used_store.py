"""A store after three days of use, and what the tests of its bad days look at."""

from __future__ import annotations

import random
import shutil
import tempfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import OutboxRow
from support.queued import GARDEN, queued

NAME = "strawbell.db"
NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
PAGE_BYTES = 4096
IN_THE_COPY, IN_ALL = 20, 40
"""Rows of the journal in yesterday's copy and when the use ends; three and six messages."""


def entry(number: int, at: datetime = NOW) -> JournalEntry:
    """Return the numbered row of the journal, with data that does not pack."""
    return JournalEntry(
        at=at,
        garden=GARDEN,
        local_date=at.date(),
        kind=EntryKind.SERVICE,
        text=f"row {number}",
        data={"random": random.Random(number).randbytes(900).hex()},
    )


def message(number: int, at: datetime = NOW) -> OutboxRow:
    """Return the numbered message, longer than two pages."""
    return queued(number, at, 9000)


def fill(path: Path, now: datetime = NOW) -> None:
    """Use a store for three days with a copy of yesterday, and end in order."""
    with SqliteStore(path, now, owner=True) as store:
        old = now - timedelta(days=2)
        store.write([entry(number, old) for number in range(IN_THE_COPY)])
        store.enqueue([message(number, old) for number in range(3)])
        store.backup(now - timedelta(days=1))
        store.write([entry(number, now) for number in range(IN_THE_COPY, IN_ALL)])
        store.enqueue([message(number, now) for number in range(3, 6)])


def fill_and_kill(path: Path, now: datetime = NOW) -> None:
    """Leave at `path` what a kill leaves: the last changes are only in the write-ahead file."""
    with tempfile.TemporaryDirectory() as living:
        killed = Path(living) / "state" / path.name
        fill(killed, now)
        with SqliteStore(killed, now, owner=True) as store:
            store.write([entry(number, now) for number in range(IN_ALL, IN_ALL + 10)])
            store.enqueue([message(number, now) for number in range(6, 9)])
            shutil.copytree(killed.parent, path.parent)


def texts(store: SqliteStore) -> list[str]:
    """Return the texts of the journal, oldest first."""
    return [row.text for row in store.journal(GARDEN)]


def every_row(store: SqliteStore) -> object:
    """Return all that a store holds."""
    journal = [(row, dict(row.data)) for row in store.journal(GARDEN)]
    return journal, store.outbox(GARDEN, date.min)


def set_aside(path: Path) -> list[Path]:
    """Return the damaged stores that were kept."""
    found = path.parent.glob("*.damaged-*")
    return [one for one in found if not one.name.endswith(("-wal", "-shm"))]


def random_bytes(seed: int, size: int) -> bytes:
    """Return bytes that are the same in every run."""
    return random.Random(seed).randbytes(size)


def overwrite(path: Path, at: int, content: bytes) -> None:
    """Put other bytes into the middle of a file."""
    with path.open("r+b") as file:
        file.seek(at)
        file.write(content)
