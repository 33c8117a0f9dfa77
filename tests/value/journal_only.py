"""A store for seasons that are only counted: journals in memory, and no messages to send."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime

from strawbell.model.identity import KEY_BYTES, StoreSecret
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.model.notice import OutboxRow, OutboxState


class JournalOnly:
    """`strawbell.app.ports.Store` for a cycle without channels, whose outbox stays empty."""

    secret = StoreSecret(bytes(KEY_BYTES))
    """Proves nothing, and nothing leaves that would have to."""

    def __init__(self) -> None:
        """Begin with empty journals."""
        self._rows: dict[str, list[JournalEntry]] = {}

    @contextmanager
    def together(self) -> Iterator[None]:
        """Keep no promise about a crash: there is nothing to come back to."""
        yield

    def journal(self, garden: str, on: date | None = None) -> Journal:
        """Return all rows of a garden, or those of one local date, oldest first."""
        rows = self._rows.get(garden, ())
        return tuple(row for row in rows if on in (None, row.local_date))

    def known(self) -> Journal:
        """Return nothing: what is played has one name from its beginning to its end."""
        return ()

    def planners_rows(self, garden: str, after: int) -> tuple[Journal, int]:
        """Return the rows of a garden past the first `after`, and how many there are."""
        rows = self._rows.get(garden, [])
        new = tuple(row for row in rows[after:] if row.kind is not EntryKind.DELIVERY)
        return new, len(rows)

    def write(self, entries: Iterable[JournalEntry]) -> None:
        """Append rows to the journal."""
        for entry in entries:
            self._rows.setdefault(entry.garden, []).append(entry)

    def save_checkpoint(self, garden: str, last: int, content: bytes) -> None:
        """Refuse it: a cycle without a build lays nothing by."""
        raise NotImplementedError

    def checkpoint(self, garden: str) -> tuple[int, bytes] | None:
        """Return nothing."""
        return None

    def enqueue(self, rows: Sequence[OutboxRow]) -> int:
        """Refuse messages: a cycle without channels makes none."""
        if rows:
            raise ValueError("rows must be empty: there is no channel to send them through")
        return 0

    def due(self, now: datetime, channels: Sequence[str]) -> tuple[OutboxRow, ...]:
        """Return nothing."""
        return ()

    def move(
        self,
        unique_key: str,
        state: OutboxState,
        *,
        attempts: int,
        next_attempt_at: datetime,
        detail: str,
    ) -> None:
        """Do nothing: there are no messages."""

    def unsurfaced(self) -> tuple[OutboxRow, ...]:
        """Return nothing."""
        return ()

    def mark_surfaced(self, unique_keys: Iterable[str]) -> None:
        """Do nothing: there are no messages."""

    def outbox(self, garden: str, since: date) -> tuple[OutboxRow, ...]:
        """Return nothing."""
        return ()

    def mark(self, name: str) -> str:
        """Return nothing: nobody answers."""
        return ""

    def set_mark(self, name: str, value: str) -> None:
        """Do nothing: nobody answers."""

    def backup(self, now: datetime) -> None:
        """Do nothing."""
