"""What the application needs of the world; adapters in edges/ and fakes in the tests provide it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import AbstractContextManager
from datetime import date, datetime
from enum import StrEnum
from typing import Protocol, runtime_checkable

from msgspec import Struct

from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Place
from strawbell.model.identity import StoreSecret
from strawbell.model.journal import Journal, JournalEntry
from strawbell.model.notice import Delivery, Notice, OutboxRow, OutboxState


class Clock(Protocol):
    """The only place that time comes from."""

    def now(self) -> datetime:
        """Return the wall clock as an aware datetime in UTC."""

    def monotonic(self) -> float:
        """Return seconds that never jump [s]."""


class ForecastSource(Protocol):
    """One forecast service."""

    @property
    def name(self) -> str:
        """Return the name used in the configuration."""

    def covers(self, place: Place) -> bool:
        """Return whether the service answers for the place at all."""

    def fetch(self, place: Place, now: datetime) -> Forecast:
        """Return the forecast, from the conditional cache where it is still valid.

        Raises `strawbell.errors.OperationalError` when no usable forecast could be had; a
        partly unknown forecast is returned with None in place of what is unknown.
        """

    def last_good(self, place: Place) -> Forecast | None:
        """Return the last good forecast of a place, however old, or None."""


ForecastFor = Callable[[Place, datetime], tuple[Forecast | None, tuple[str, ...]]]
"""Gives the best forecast to be had for a place, and a sentence for each service that failed."""


class CachedAnswer(Struct, frozen=True):
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

    def keep(self, answer: CachedAnswer) -> None:
        """Replace the last good answer of `answer.url`."""


class Incident(Struct, frozen=True):
    """What the store suffered: when it was mended, and what was done, for the grower."""

    key: str
    mended_at: datetime
    text: str


class Incidents(Protocol):
    """Where incidents of the store are kept, apart from it, until somebody was told."""

    def untold(self) -> tuple[Incident, ...]:
        """Return the incidents that nobody was told of yet, oldest first."""

    def told(self, incident: Incident) -> None:
        """Let go of an incident; raises `strawbell.errors.OperationalError` where it cannot."""


class Calendars(Protocol):
    """Where the calendars of the gardens lie for other programs to read."""

    def read(self, name: str) -> bytes | None:
        """Return a calendar as it was written last, None when it is not there."""

    def write(self, name: str, content: bytes) -> None:
        """Replace a calendar; raises `strawbell.errors.OperationalError` where it cannot."""


class IgnoredFor(StrEnum):
    """Why something that came is no answer, and nothing more is made of it."""

    AUTOMATIC = "automatic"
    LIST = "list"
    OWN = "own"
    FORGED = "forged"
    """The own mail server says that it is not from whom it says."""
    NO_ONE_SENDER = "no-one-sender"
    TOO_MUCH = "too-much"
    """More headers, or more parts within parts, than are looked into."""
    BROKEN = "broken"
    REACTION = "reaction"
    """A sign of the thumb under a mail: it says seen, not done."""


class Bounce(Struct, frozen=True):
    """A report of a mail server on a message of ours; `message_id` is "" where it names none."""

    message_id: str
    action: str
    """"failed", "delayed" or another word of RFC 3464."""
    status: str
    recipient: str
    said: str
    """What the other server said, for the log."""


class Reply(Struct, frozen=True):
    """Something a person typed or tapped; nothing of it is proved yet.

    `identity` is the same when the same reply comes again. `sender` is a bare address in small
    letters, None where the token is the only authority. `is_whole` is False where part of it
    could not be read, so that nothing in it is sure. `carriers` are texts beside the subject in
    which a token may stand, the likeliest first; `carries` the tokens that its mail program
    brought along by itself, the latest first.
    """

    identity: str
    sender: str | None
    subject: str
    lines: tuple[str, ...]
    received_at: datetime
    is_whole: bool = True
    carries: tuple[str, ...] = ()
    carriers: tuple[str, ...] = ()


Arrival = Reply | Bounce | IgnoredFor
"""What came in, or why nothing is made of it."""


class Gathered(Struct, frozen=True):
    """What came in since a mark, and the mark to go on from once all of it is seen to."""

    arrivals: tuple[Arrival, ...]
    mark: str
    is_all: bool = True
    """False where more is waiting than is looked at in one go."""


class Unheard(OperationalError):
    """Answers could not be asked for; `settings_problem` where only the grower can mend it."""

    def __init__(self, sentence: str, settings_problem: bool = False) -> None:
        """Keep the sentence, and whether the settings are to blame."""
        super().__init__(sentence)
        self.settings_problem = settings_problem


@runtime_checkable
class Ear(Protocol):
    """One way by which answers come in. It is never open to anybody: it asks."""

    @property
    def name(self) -> str:
        """Return the name under which its mark is kept: "inbox", "push", "desktop"."""

    @property
    def every_s(self) -> float:
        """Return how often it is asked [s]; infinite where it rings by itself."""

    @property
    def is_ringing(self) -> bool:
        """Return whether something came by itself that was not gathered yet."""

    def call(self, ring: Callable[[], object] | None) -> None:
        """Be wanted from now on; `ring` is for what comes by itself. None: wanted no more."""

    def probe(self) -> str:
        """Try it without taking anything, and return what was found; raises `Unheard`."""

    def gather(self, mark: str, now: datetime) -> Gathered:
        """Return what came since `mark` ("" for the first time); raises `Unheard`."""


class Channel(Protocol):
    """One way to reach the grower."""

    @property
    def name(self) -> str:
        """Return "email", "desktop" or "folder"."""

    @property
    def recipients(self) -> tuple[str, ...]:
        """Return whom the channel reaches; one outbox row each."""

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        """Return the bytes that will be sent, the same for every attempt. Pure."""

    def send(self, row: OutboxRow) -> Delivery:
        """Try once to deliver a frozen row, within the channel's own deadline. Never raises."""

    def close(self) -> None:
        """Let go of connections; called when an outbox pass ends."""


@runtime_checkable
class Answerable(Protocol):
    """A channel whose notices can be answered."""

    @property
    def answers_to(self) -> str | None:
        """Return the address that answers are mailed to, "" where it has buttons of its own.

        None where nobody listens to them.
        """


class ClaimedElsewhere(OperationalError):
    """Another process took the row first; it is being seen to, so this is no trouble."""


class Journals(Protocol):
    """What can be read of the gardens."""

    def known(self) -> Journal:
        """Return the rows of every garden that say what it is known by, oldest first."""

    def journal(self, garden: str, on: date | None = None) -> Journal:
        """Return all rows of a garden, or those of one local date, oldest first."""

    def planners_rows(self, garden: str, after: int) -> tuple[Journal, int]:
        """Return the rows of a garden that the planner reads, and the number of the last.

        These are all but deliveries, numbered over `after`; 0 stands before the first row.
        """

    def checkpoint(self, garden: str) -> tuple[int, bytes] | None:
        """Return the checkpoint of a garden as it is called now, None for nothing."""


class Store(Journals, Protocol):
    """Journal and outbox on one disk; every method is one transaction unless in `together`."""

    @property
    def secret(self) -> StoreSecret:
        """Return what only this store and its copies know; in memory, so it never fails."""

    def together(self) -> AbstractContextManager[None]:
        """Make all writes inside the block one transaction: all of them or none."""

    def write(self, entries: Iterable[JournalEntry]) -> None:
        """Append rows to the journal."""

    def save_checkpoint(self, garden: str, last: int, content: bytes) -> None:
        """Replace what was made of the planner's rows of a garden up to the row `last`."""

    def enqueue(self, rows: Sequence[OutboxRow]) -> int:
        """Add rows that are not there yet (by unique_key); return how many were new."""

    def due(self, now: datetime, channels: Sequence[str]) -> tuple[OutboxRow, ...]:
        """Return rows in state due, later or unknown whose next attempt is due, oldest first.

        Rows left in state sending by a crash are returned too. So that memory stays bounded, a
        store may return only the oldest; who has seen to them asks again.
        """

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

    def unsurfaced(self) -> tuple[OutboxRow, ...]:
        """Return rows that failed for good or expired and that nobody was told of yet."""

    def mark_surfaced(self, unique_keys: Iterable[str]) -> None:
        """Record that the grower has been told of failed rows."""

    def outbox(self, garden: str, since: date) -> tuple[OutboxRow, ...]:
        """Return the rows of a garden from a local date on, oldest first."""

    def mark(self, name: str) -> str:
        """Return what was last marked under a name, "" for nothing."""

    def set_mark(self, name: str, value: str) -> None:
        """Replace what is marked under a name: how far a mailbox was read, an answer's effect."""

    def backup(self, now: datetime) -> None:
        """Keep today's online copy beside the store."""


class DoorStore(Store, AnswerCache, Protocol):
    """What the daemon's door asks of the store: by keys too, as names may differ."""

    def kept_journal(self, key: str, on: date | None) -> Journal:
        """Return all rows of a garden, or those of one local date, as they are kept."""

    def kept_planners_rows(self, key: str, after: int) -> tuple[Journal, int]:
        """Return the rows that the planner reads, and the number of the last."""

    def kept_checkpoint(self, key: str, called: str) -> tuple[int, bytes] | None:
        """Return the checkpoint of a garden while it was `called` so, None for nothing."""


class Bell(Protocol):
    """What wakes the daemon at the gardens' times."""

    def start(self) -> None:
        """Start ringing."""

    def clock_moved(self, now: datetime) -> None:
        """Look at the wall clock again."""

    def stop(self) -> None:
        """Stop ringing."""


class Manager(Protocol):
    """The service manager that started the daemon, if any."""

    @property
    def watchdog_interval_s(self) -> float | None:
        """Return how often to call `watchdog` [s]; None when unwatched."""

    def ready(self, status: str = "") -> None:
        """Say that the daemon is up."""

    def status(self, text: str) -> None:
        """Say what the daemon is at."""

    def watchdog(self) -> None:
        """Say that the main loop turns."""

    def reloading(self, monotonic_s: float) -> None:
        """Say that the configuration is being read again."""

    def stopping(self, status: str = "") -> None:
        """Say that the daemon ends."""


@runtime_checkable
class Interruptible(Protocol):
    """A channel that may wait long, and whose waits can be ended."""

    def interrupt(self, *, final: bool) -> None:
        """End what another thread waits for in `send`, at once; nothing is sent any more.

        Unless `final`, the answer that decides whether a message was accepted is still waited
        for. Called by signal handlers, so it must neither wait nor take a lock.
        """
