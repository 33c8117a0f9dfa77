"""One morning from the store to the mail server, small enough to be killed at every call.

As a program: `morning.py STATE_FILE PORT`. The calls that are of interest begin where it looks
for the file named by `BEGINS`.
"""

from __future__ import annotations

import random
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from strawbell.app.outbox import Sender, queue
from strawbell.edges.machine import SystemClock
from strawbell.edges.smtp import SmtpChannel
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.configuration import MailSettings
from strawbell.model.journal import EntryKind, JournalEntry
from support.notices import notice

BEGINS = "/strawbell-sweep-begins"
GARDEN = "Orchard corner"
TODAY = date(2027, 4, 9)
CREATED = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
NEVER = datetime(2100, 1, 1, tzinfo=UTC)
RECIPIENTS = ("a@example.org", "b@example.org")


def mail_to(port: int) -> SmtpChannel:
    """Return the channel to a mail server of the test's."""
    return SmtpChannel(MailSettings("127.0.0.1", port, "none", "bell@example.org", RECIPIENTS))


def decide(store: SqliteStore, channel: SmtpChannel, now: datetime) -> None:
    """Put the morning's intention on disk, unless it is there."""
    if store.journal(GARDEN):
        return
    made = notice(text="500 g per bale\n", html="<p>500 g per bale</p>", expires_at=NEVER)
    brief = JournalEntry(CREATED, GARDEN, TODAY, EntryKind.BRIEF, data={"version": 1})
    with store.together():
        store.write([brief])
        store.enqueue(queue(made, [channel], now, store.secret))


def morning(path: Path, port: int, now: datetime) -> None:
    """Do what the daemon does: intention on disk, then deliver, then leave."""
    channel = mail_to(port)
    with SqliteStore(path, now, owner=True) as store:
        decide(store, channel, now)
        Sender(At(now), random.Random(1)).deliver_due(store, channel)


class At(SystemClock):
    """A clock that stands where the test put it."""

    def __init__(self, now: datetime) -> None:
        self._now = now

    def now(self) -> datetime:
        return self._now


if __name__ == "__main__":
    Path(BEGINS).exists()
    morning(Path(sys.argv[1]), int(sys.argv[2]), CREATED + timedelta(minutes=1))
