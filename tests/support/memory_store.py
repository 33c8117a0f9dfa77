"""The store in memory: the same promises as the one on disk, but for the disk."""

from __future__ import annotations

import secrets
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime, timedelta

from msgspec.structs import replace

from strawbell.app.ports import CachedAnswer, ClaimedElsewhere
from strawbell.errors import Defect
from strawbell.model.identity import KEY_BYTES, StoreSecret
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.model.notice import OutboxRow, OutboxState

OPEN = {OutboxState.DUE, OutboxState.LATER, OutboxState.UNKNOWN}
FINAL = {OutboxState.ACCEPTED, OutboxState.FOR_GOOD, OutboxState.EXPIRED}


class MemoryStore:
    """`strawbell.app.ports.Store` and `AnswerCache` without a disk."""

    def __init__(self) -> None:
        self.secret = StoreSecret(secrets.token_bytes(KEY_BYTES))
        self._turn = threading.RLock()
        self._journal: list[JournalEntry] = []
        self._outbox: dict[str, OutboxRow] = {}
        self._answers: dict[str, CachedAnswer] = {}
        self._marks: dict[str, str] = {}
        self._laid: dict[str, tuple[int, bytes]] = {}
        self._inside = 0
        self.backups: list[datetime] = []

    @contextmanager
    def together(self) -> Iterator[None]:
        with self._turn:
            if self._inside:
                yield
                return
            kept = (
                list(self._journal),
                dict(self._outbox),
                dict(self._marks),
                dict(self._laid),
            )
            self._inside += 1
            try:
                yield
            except BaseException:
                self._journal, self._outbox, self._marks, self._laid = kept
                raise
            finally:
                self._inside -= 1

    def journal(self, garden: str, on: date | None = None) -> Journal:
        with self._turn:
            return tuple(
                entry
                for entry in self._journal
                if entry.garden == garden and on in (None, entry.local_date)
            )

    def known(self) -> Journal:
        with self._turn:
            return tuple(entry for entry in self._journal if entry.kind is EntryKind.KNOWN)

    def planners_rows(self, garden: str, after: int) -> tuple[Journal, int]:
        with self._turn:
            new = [
                entry
                for entry in self._journal[after:]
                if entry.garden == garden and entry.kind is not EntryKind.DELIVERY
            ]
            return tuple(new), len(self._journal)

    def write(self, entries: Iterable[JournalEntry]) -> None:
        new = list(entries)
        if any(entry.at.tzinfo is None for entry in new):
            raise ValueError("at must carry a time zone")
        with self.together():
            self._journal.extend(new)

    def save_checkpoint(self, garden: str, last: int, content: bytes) -> None:
        with self.together():
            self._laid[garden] = (last, content)

    def checkpoint(self, garden: str) -> tuple[int, bytes] | None:
        return self._laid.get(garden)

    def enqueue(self, rows: Sequence[OutboxRow]) -> int:
        with self.together():
            new = 0
            for row in rows:
                if row.unique_key not in self._outbox:
                    self._outbox[row.unique_key] = row
                    new += 1
            return new

    def due(self, now: datetime, channels: Sequence[str]) -> tuple[OutboxRow, ...]:
        with self._turn:
            rows = [
                row
                for row in self._outbox.values()
                if row.channel in channels
                and (
                    row.state is OutboxState.SENDING
                    or (
                        row.state in OPEN
                        and (
                            row.next_attempt_at <= now
                            or row.next_attempt_at > now + timedelta(days=1)
                            or row.expires_at <= now
                        )
                    )
                )
            ]
        return tuple(sorted(rows, key=lambda row: row.created_at))

    def move(
        self,
        unique_key: str,
        state: OutboxState,
        *,
        attempts: int,
        next_attempt_at: datetime,
        detail: str,
    ) -> None:
        with self.together():
            row = self._outbox.get(unique_key)
            if state is OutboxState.SENDING and (row is None or row.attempts != attempts - 1):
                raise ClaimedElsewhere("taken")
            if row is None:
                raise Defect(f"There is no message with the key {unique_key}.")
            if row.state in FINAL and state is not row.state:
                raise Defect("the end of a message is final")
            self._outbox[unique_key] = replace(
                row,
                state=state,
                attempts=attempts,
                next_attempt_at=next_attempt_at,
                detail=detail,
            )

    def unsurfaced(self) -> tuple[OutboxRow, ...]:
        failed = {OutboxState.FOR_GOOD, OutboxState.EXPIRED}
        with self._turn:
            return tuple(
                row for row in self._outbox.values() if row.state in failed and not row.surfaced
            )

    def mark_surfaced(self, unique_keys: Iterable[str]) -> None:
        with self.together():
            for key in unique_keys:
                if key in self._outbox:
                    self._outbox[key] = replace(self._outbox[key], surfaced=True)

    def outbox(self, garden: str, since: date) -> tuple[OutboxRow, ...]:
        with self._turn:
            return tuple(
                row
                for row in self._outbox.values()
                if row.garden == garden and row.local_date >= since
            )

    def mark(self, name: str) -> str:
        with self._turn:
            return self._marks.get(name, "")

    def set_mark(self, name: str, value: str) -> None:
        with self.together():
            self._marks[name] = value

    def backup(self, now: datetime) -> None:
        self.backups.append(now)

    def load(self, url: str) -> CachedAnswer | None:
        return self._answers.get(url)

    def keep(self, answer: CachedAnswer) -> None:
        self._answers[answer.url] = answer
