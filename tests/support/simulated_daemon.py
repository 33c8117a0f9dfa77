"""The real daemon on a clock that only moves when told, turned by hand beat by beat."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from queue import Empty
from typing import Any

from strawbell.app.daemon import Daemon, Worker
from strawbell.app.pipeline import Pipeline
from strawbell.app.ports import Channel, Incident, Store
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Garden, Place
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import Delivery, Notice, OutboxRow, Outcome
from support.fake_clock import FakeClock, sender
from support.gardens import forecast, garden

JOIN_S = 30.0
"""How long a thread of the daemon is waited for; never a measure of speed."""


class StillBell:
    """A bell that never rings by itself."""

    def __init__(self, gardens: Sequence[Garden], ring: Callable[[], object]) -> None:
        self.ring = ring
        self.moves: list[datetime] = []

    def start(self) -> None:
        pass

    def clock_moved(self, now: datetime) -> None:
        self.moves.append(now)

    def stop(self) -> None:
        pass


@dataclass
class CountingManager:
    """A service manager that counts what it hears."""

    watchdog_interval_s: float | None = None
    pings: int = 0
    words: list[str] = field(default_factory=list)

    def ready(self, status: str = "") -> None:
        self.words.append(f"ready {status}")

    def status(self, text: str) -> None:
        self.words.append(f"status {text}")

    def watchdog(self) -> None:
        self.pings += 1

    def reloading(self, monotonic_s: float) -> None:
        self.words.append("reloading")

    def stopping(self, status: str = "") -> None:
        self.words.append("stopping")


class Paper:
    """A channel that keeps what it accepted, and when."""

    def __init__(
        self,
        clock: FakeClock,
        name: str = "folder",
        recipients: Sequence[str] = ("folder",),
        answer: Delivery | None = None,
    ) -> None:
        self.name = name
        self.recipients = tuple(recipients)
        self.answer = answer or Delivery(Outcome.ACCEPTED, "Taken.")
        self.sent: list[tuple[datetime, OutboxRow]] = []
        self.before_answer: Callable[[OutboxRow], object] = lambda row: None
        self._clock = clock

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        return notice.text.encode()

    def send(self, row: OutboxRow) -> Delivery:
        self.before_answer(row)
        self.sent.append((self._clock.now(), row))
        return self.answer

    def close(self) -> None:
        pass

    @property
    def rows(self) -> list[OutboxRow]:
        """What was sent, oldest first."""
        return [row for _, row in self.sent]


class KeptIncidents:
    """Incidents of a store, kept in memory through every start."""

    def __init__(self) -> None:
        self.kept: list[Incident] = []

    def untold(self) -> tuple[Incident, ...]:
        return tuple(self.kept)

    def told(self, incident: Incident) -> None:
        self.kept.remove(incident)


class WatchedDaemon(Daemon):
    """A daemon that knows which of its threads are still at it: they ring after they are done."""

    def __init__(self, *parts: Any) -> None:
        super().__init__(*parts)
        self.at_work: dict[int, Worker] = {}
        self._doing = self._workers._do
        self._workers._do = self._watched  # type: ignore[method-assign]

    def _watched(self, worker: Worker, work: Callable[[], bool]) -> None:
        self.at_work[id(worker)] = worker
        try:
            self._doing(worker, work)
        finally:
            del self.at_work[id(worker)]

    def unsettled(self, but: Sequence[str]) -> list[Worker]:
        """Return who works or has yet to ring, `but` those of some names."""
        working = (*self._workers, *tuple(self.at_work.values()))
        return [worker for worker in working if worker.name not in but]


class Life:
    """A daemon, its store and its clock; it can be started anew on the same store."""

    def __init__(
        self,
        store: Store,
        clock: FakeClock,
        channels: Sequence[Channel],
        plans: Sequence[Garden] | None = None,
        incident: str = "",
    ) -> None:
        self.store, self.clock, self.channels = store, clock, tuple(channels)
        self.plans = tuple(plans or (garden(),))
        self.weather: Callable[[datetime], Forecast | None] = forecast
        self.manager = CountingManager()
        self.said: list[str] = []
        self.incidents = KeptIncidents()
        self.starts = 0
        self.start(incident)

    def start(self, incident: str = "") -> None:
        """Begin a new process on the same store; `incident` is what it mended."""
        self.starts += 1
        if incident:
            found = Incident(f"start {self.starts}", self.clock.now(), incident)
            self.incidents.kept.append(found)
        pipeline = Pipeline(
            self.plans, self.store, self.channels, self._forecast, sender(self.clock)
        )
        self.bell = StillBell(self.plans, lambda: None)
        self.daemon = WatchedDaemon(
            pipeline, StillBell, self.store, self.manager, self.said.append, self.incidents
        )

    def _forecast(self, place: Place, now: datetime) -> tuple[Forecast | None, tuple[str, ...]]:
        seen = self.weather(now)
        return seen, () if seen else ("The service is down.",)

    def beat(self, but: Sequence[str] = ()) -> None:
        """Turn the loop until nothing is left to do at this moment; do not wait for `but`."""
        while True:
            self.daemon.beat(self.bell)
            self.settle(but)
            if not self._rang():
                return

    def settle(self, but: Sequence[str] = ()) -> None:
        """Wait for the threads that work."""
        while working := self.daemon.unsettled(but):
            for worker in working:
                assert worker.thread is not None
                worker.thread.join(JOIN_S)
                assert not worker.thread.is_alive(), worker.name

    def _rang(self) -> bool:
        rang = False
        while True:
            try:
                self.daemon._wake.get_nowait()
                rang = True
            except Empty:
                return rang

    def live(self, until: datetime, step: timedelta = timedelta(minutes=30)) -> None:
        """Let the time pass up to a moment of the clock's, a beat a step."""
        self.beat()
        while self.clock.now() < until:
            self.clock.advance(min(step, until - self.clock.now()))
            self.beat()

    def entries(self, kind: EntryKind) -> list[JournalEntry]:
        """Return the journal rows of a kind of the first garden."""
        return [entry for entry in self.store.journal(self.plans[0].name) if entry.kind is kind]

    def outbox(self) -> tuple[OutboxRow, ...]:
        """Return every row of the first garden's outbox."""
        return self.store.outbox(self.plans[0].name, date.min)
