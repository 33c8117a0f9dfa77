"""What the application needs of the world; adapters in edges/ and fakes in the tests provide it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol

from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Place
from strawbell.model.journal import Journal, JournalEntry
from strawbell.model.notice import Delivery, Notice, OutboxRow, OutboxState
from strawbell.model.secret import StoreSecret


class Clock(Protocol):
    """The only place that time comes from."""

    def now(self) -> datetime:
        """Return the wall clock as an aware datetime in UTC."""
        ...

    def monotonic(self) -> float:
        """Return seconds that never jump [s]."""
        ...


class ForecastSource(Protocol):
    """One forecast service."""

    @property
    def name(self) -> str:
        """Return the name used in the configuration."""
        ...

    def covers(self, place: Place) -> bool:
        """Return whether the service answers for the place at all."""
        ...

    def fetch(self, place: Place, now: datetime) -> Forecast:
        """Return the forecast, from the conditional cache where it is still valid.

        Raises `strawbell.errors.OperationalError` when no usable forecast could be had; a
        partly unknown forecast is returned with None in place of what is unknown.
        """
        ...


@dataclass(frozen=True, slots=True)
class CachedAnswer:
    """The last good answer of one URL, with what a conditional request needs."""

    url: str
    etag: str | None
    last_modified: str | None
    expires_at: datetime | None
    fetched_at: datetime
    body: bytes


class AnswerCache(Protocol):
    """Where forecast adapters keep their last good answers."""

    def load(self, url: str) -> CachedAnswer | None:
        """Return the last good answer of a URL, or None."""
        ...

    def keep(self, answer: CachedAnswer) -> None:
        """Replace the last good answer of `answer.url`."""
        ...


@dataclass(frozen=True, slots=True)
class Incident:
    """What the store suffered: when it was mended, and what was done, for the grower."""

    key: str
    mended_at: datetime
    text: str


class Incidents(Protocol):
    """Where incidents of the store are kept, apart from it, until somebody was told."""

    def untold(self) -> tuple[Incident, ...]:
        """Return the incidents that nobody was told of yet, oldest first."""
        ...

    def told(self, incident: Incident) -> None:
        """Let go of an incident; raises `strawbell.errors.OperationalError` where it cannot."""
        ...


class Calendars(Protocol):
    """Where the calendars of the gardens lie for other programs to read."""

    def read(self, name: str) -> bytes | None:
        """Return a calendar as it was written last, None when it is not there."""
        ...

    def write(self, name: str, content: bytes) -> None:
        """Replace a calendar; raises `strawbell.errors.OperationalError` where it cannot."""
        ...


class Channel(Protocol):
    """One way to reach the grower."""

    @property
    def name(self) -> str:
        """Return "email", "desktop" or "folder"."""
        ...

    @property
    def recipients(self) -> tuple[str, ...]:
        """Return whom the channel reaches; one outbox row each."""
        ...

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        """Return the bytes that will be sent, the same for every attempt. Pure."""
        ...

    def send(self, row: OutboxRow) -> Delivery:
        """Try once to deliver a frozen row, within the channel's own deadline. Never raises."""
        ...

    def close(self) -> None:
        """Let go of connections; called when an outbox pass ends."""
        ...


class ClaimedElsewhere(OperationalError):
    """Another process took the row first; it is being seen to, so this is no trouble."""


class Store(Protocol):
    """Journal and outbox on one disk; every method is one transaction unless in `together`."""

    @property
    def secret(self) -> StoreSecret:
        """Return what only this store and its copies know; in memory, so it never fails."""
        ...

    def together(self) -> AbstractContextManager[None]:
        """Make all writes inside the block one transaction: all of them or none."""
        ...

    def journal(self, garden: str) -> Journal:
        """Return all rows of a garden, oldest first."""
        ...

    def known(self) -> Journal:
        """Return the rows of every garden that say what it is known by, oldest first."""
        ...

    def planners_rows(self, garden: str, after: int) -> tuple[Journal, int]:
        """Return the rows of a garden that the planner reads, and the number of the last.

        These are all but deliveries, numbered over `after`; 0 stands before the first row.
        """
        ...

    def write(self, entries: Iterable[JournalEntry]) -> None:
        """Append rows to the journal."""
        ...

    def enqueue(self, rows: Sequence[OutboxRow]) -> int:
        """Add rows that are not there yet (by unique_key); return how many were new."""
        ...

    def due(self, now: datetime, channels: Sequence[str]) -> tuple[OutboxRow, ...]:
        """Return rows in state due, later or unknown whose next attempt is due, oldest first.

        Rows left in state sending by a crash are returned too. So that memory stays bounded, a
        store may return only the oldest; who has seen to them asks again.
        """
        ...

    def move(
        self,
        unique_key: str,
        state: OutboxState,
        *,
        attempts: int,
        next_attempt_at: datetime,
        detail: str,
    ) -> None:
        """Record the new state of a row; committed durably before it returns.

        A move to sending is a claim: it raises `ClaimedElsewhere` when the row is no longer as
        `due` gave it (`attempts` is one more than the row's), so two processes send it once.
        """
        ...

    def unsurfaced(self) -> tuple[OutboxRow, ...]:
        """Return rows that failed for good or expired and that nobody was told of yet."""
        ...

    def mark_surfaced(self, unique_keys: Iterable[str]) -> None:
        """Record that the grower has been told of failed rows."""
        ...

    def outbox(self, garden: str, since: date) -> tuple[OutboxRow, ...]:
        """Return the rows of a garden from a local date on, oldest first."""
        ...

    def backup(self, now: datetime) -> None:
        """Keep today's online copy beside the store."""
        ...
