"""One start on a damaged store, from its opening to the telling, to be killed at every call.

As a program: `mending.py STATE_FILE PORT`; nothing listens at the port. What the grower got goes,
synced, into the file `told` beside the state folder. The calls that are of interest begin where
it looks for the file named by `BEGINS`.
"""

from __future__ import annotations

import json
import os
import random
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from strawbell.app.daemon import Daemon
from strawbell.app.pipeline import Pipeline
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import Delivery, Notice, OutboxRow, Outcome
from support.fake_clock import sender
from support.gardens import garden
from support.morning import BEGINS, At
from support.queued import queued
from support.simulated_daemon import CountingManager, StillBell

NAME = "strawbell.db"
NOW = datetime(2027, 4, 2, 1, 0, tzinfo=UTC)
"""Before the first day of the plan and before its morning: nothing else is to be told."""
OLD_MESSAGE, ROWS = 1, 30


class Letterbox:
    """A channel that writes down on disk what it was given."""

    name = "email"
    recipients = ("grower@example.org",)

    def __init__(self, path: Path) -> None:
        self.path = path

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        return notice.text.encode()

    def send(self, row: OutboxRow) -> Delivery:
        line = json.dumps({"key": row.unique_key, "id": row.message_id, "text": _text(row)})
        with self.path.open("ab", buffering=0) as file:
            file.write(line.encode() + b"\n")
            os.fsync(file.fileno())
        return Delivery(Outcome.ACCEPTED, "Taken.")

    def close(self) -> None:
        pass


def _text(row: OutboxRow) -> str:
    return " ".join(row.body.decode(errors="replace").split())


def plan() -> Garden:
    """Return the garden whose store is damaged."""
    return garden()


def fill(path: Path) -> None:
    """Use a store for three days, with a copy on the first of them.

    A message of that day had been accepted since; the copy does not know that.
    """
    earlier = NOW - timedelta(days=2)
    with SqliteStore(path, earlier, owner=True) as store:
        store.write(_row(number, earlier) for number in range(ROWS // 2))
        store.enqueue([queued(OLD_MESSAGE, earlier, 3000)])
        store.backup(earlier)
        store.write(_row(number, NOW) for number in range(ROWS // 2, ROWS))


def _row(number: int, at: datetime) -> JournalEntry:
    text = random.Random(number).randbytes(400).hex()
    return JournalEntry(at, plan().name, at.date(), EntryKind.NOTE, text=text)


def start(path: Path) -> tuple[JournalEntry, ...]:
    """Do what `run --once` does on a store, and return its journal."""
    channels = (Letterbox(path.parent.with_name("told")),)
    clock = At(NOW)
    with SqliteStore(path, NOW, owner=True) as store:
        pipeline = Pipeline(
            (plan(),), store, channels, lambda place, now: (None, ()), sender(clock)
        )
        manager = CountingManager()
        daemon = Daemon(pipeline, StillBell, store, manager, lambda line: None, store.incidents)
        daemon.once()
        return store.journal(plan().name)


def outbox(path: Path) -> tuple[OutboxRow, ...]:
    """Return every message of a store."""
    with SqliteStore(path, NOW) as store:
        return store.outbox(plan().name, date.min)


if __name__ == "__main__":
    Path(BEGINS).exists()
    start(Path(sys.argv[1]))
