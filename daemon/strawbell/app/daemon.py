"""The daemon: a bell rings, every garden is looked at, what is on disk is sent.

The main thread only waits, watches the clocks and keeps systemd's watchdog fed; looking and
sending happen in short-lived threads of their own, so that a server that hangs never stops the
day. The bell is a convenience: each beat of the main loop looks as well, when something is due.
"""

from __future__ import annotations

import random
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import Protocol

from strawbell.app.cycle import Cycle, Told
from strawbell.app.outbox import DrainReport, Memory, drain_channel
from strawbell.app.ports import Channel, Clock, Store
from strawbell.app.surfacing import surface, surface_settings
from strawbell.errors import OperationalError, StrawbellError

BEAT_S = 60.0
"""Longest wait of the main loop [s]: bounds how late a reminder is after a suspend."""
CLOCK_JUMP_S = 2.0
"""Difference of wall and monotonic clock in one beat that counts as a jump [s]."""
STOP_WITHIN_S = 15.0
"""How long a running delivery is waited for at the end: the reply after the final dot [s]."""
OLDEST_TRUSTED_YEAR = 2026
"""A clock before this year has not been set yet; nothing is told by it."""


class Bell(Protocol):
    """What wakes the daemon at the gardens' times."""

    def start(self) -> None:
        """Start ringing."""
        ...

    def clock_moved(self, now: datetime) -> None:
        """Look at the wall clock again."""
        ...

    def stop(self) -> None:
        """Stop ringing."""
        ...


class Manager(Protocol):
    """The service manager that started the daemon, if any."""

    def ready(self, status: str = "") -> None:
        """Say that the daemon is up."""
        ...

    def status(self, text: str) -> None:
        """Say what the daemon is at."""
        ...

    def watchdog(self) -> None:
        """Say that the main loop turns."""
        ...

    def reloading(self, monotonic_s: float) -> None:
        """Say that the configuration is being read again."""
        ...

    def stopping(self, status: str = "") -> None:
        """Say that the daemon ends."""
        ...


@dataclass(frozen=True, slots=True)
class Parts:
    """Everything a daemon is made of; replaced as a whole when the configuration is read anew."""

    cycle: Cycle
    channels: tuple[Channel, ...]
    make_bell: Callable[[Callable[[], object]], Bell]


Report = Callable[[str], None]
"""Takes one sentence for the log."""


class Daemon:
    """Runs until it is told to stop."""

    def __init__(
        self,
        parts: Parts,
        store: Store,
        clock: Clock,
        manager: Manager,
        report: Report,
        rng: random.Random,
    ) -> None:
        """Keep the parts; nothing runs before `run`."""
        self._parts = parts
        self._store = store
        self._clock = clock
        self._manager = manager
        self._report = report
        self._rng = rng
        self._memory = Memory()
        self._stop = threading.Event()
        self._wake = threading.Event()
        self._reload: Callable[[], Parts] | None = None
        self._workers: list[threading.Thread] = []

    def stop(self) -> None:
        """End the daemon soon; safe to call from a signal handler."""
        self._stop.set()
        self._wake.set()

    def reload(self, read: Callable[[], Parts]) -> None:
        """Read the configuration anew at the next beat; safe to call from a signal handler."""
        self._reload = read
        self._wake.set()

    def run(self) -> None:
        """Look, send, wait, until stopped."""
        bell = self._parts.make_bell(self._wake.set)
        bell.start()
        self._manager.ready(self._garden_names())
        self._report(f"Strawbell runs for {self._garden_names()}.")
        last_wall, last_monotonic = self._clock.now(), self._clock.monotonic()
        try:
            while not self._stop.is_set():
                bell = self._reloaded(bell)
                self._look()
                self._send()
                self._manager.watchdog()
                self._wake.wait(BEAT_S)
                self._wake.clear()
                wall, monotonic = self._clock.now(), self._clock.monotonic()
                self._notice_jump(bell, wall - last_wall, monotonic - last_monotonic)
                last_wall, last_monotonic = wall, monotonic
        finally:
            self._manager.stopping()
            bell.stop()
            self._wait_for_workers()

    def once(self) -> tuple[tuple[Told, ...], tuple[DrainReport, ...]]:
        """Do what is due now and return what became of it."""
        told = self._parts.cycle.tick(self._clock.now())
        reports = [self._drain_once(channel) for channel in self._parts.channels]
        for report in tuple(reports):
            self._surface(report)
        return told, tuple(reports)

    def _drain_once(self, channel: Channel) -> DrainReport:
        return drain_channel(self._store, channel, self._clock, self._rng, self._memory)

    def _look(self) -> None:
        """Look at the gardens in a thread of their own; a slow service must not stop the beat."""
        now = self._clock.now()
        if now.year < OLDEST_TRUSTED_YEAR:
            self._report("The clock is not set yet; nothing is told until it is.")
            return
        if self._parts.cycle.due(now):
            self._start("look", self._tick)

    def _tick(self) -> None:
        try:
            for told in self._parts.cycle.tick(self._clock.now()):
                for notice in told.notices:
                    self._report(f"{told.garden}: {notice.subject}")
                for complaint in told.complaints:
                    self._report(f"{told.garden}: {complaint}")
            self._store.backup(self._clock.now())
        except OperationalError as error:
            self._report(str(error))
        # What was just put on disk is sent in this beat, not in the next.
        self._wake.set()

    def _send(self) -> None:
        now = self._clock.now()
        for channel in self._parts.channels:
            try:
                waiting = self._store.due(now, (channel.name,))
            except OperationalError as error:
                self._report(str(error))
                return
            if waiting:
                self._start(f"send-{channel.name}", partial(self._drain, channel))

    def _drain(self, channel: Channel) -> None:
        try:
            own = random.Random(self._rng.getrandbits(64))  # noqa: S311 - jitter, not a secret
            report = drain_channel(
                self._store, channel, self._clock, own, self._memory, self._stop.is_set
            )
            self._surface(report)
        except OperationalError as error:
            self._report(str(error))
            return
        for line in report.trouble:
            self._report(line)
        for settled in report.settled:
            self._report(
                f"{channel.name}: {settled.row.subject}: {settled.state.value}. "
                f"{settled.detail}".rstrip()
            )

    def _surface(self, report: DrainReport) -> None:
        """See to it that a failure ends in somebody being told."""
        now = self._clock.now()
        told = surface(self._store, self._parts.channels, now)
        if told or surface_settings(self._store, self._parts.channels, report, now):
            self._wake.set()

    def _start(self, name: str, work: Callable[[], None]) -> None:
        self._workers = [worker for worker in self._workers if worker.is_alive()]
        if any(worker.name == name for worker in self._workers):
            return
        worker = threading.Thread(target=work, name=name, daemon=True)
        self._workers.append(worker)
        worker.start()

    def _wait_for_workers(self) -> None:
        ends = self._clock.monotonic() + STOP_WITHIN_S
        for worker in list(self._workers):
            worker.join(max(0.0, ends - self._clock.monotonic()))

    def _reloaded(self, bell: Bell) -> Bell:
        read, self._reload = self._reload, None
        if read is None:
            return bell
        self._manager.reloading(self._clock.monotonic())
        try:
            parts = read()
        except StrawbellError as error:
            self._report(f"The new configuration was not taken, the old one stays: {error}")
            self._manager.ready("The old configuration stays; the new one has mistakes.")
            return bell
        self._parts = parts
        self._memory.wake()
        bell.stop()
        bell = parts.make_bell(self._wake.set)
        bell.start()
        self._manager.ready(self._garden_names())
        self._report(f"The configuration was read anew, for {self._garden_names()}.")
        return bell

    def _notice_jump(self, bell: Bell, wall: timedelta, monotonic_s: float) -> None:
        jump_s = wall.total_seconds() - monotonic_s
        if abs(jump_s) <= CLOCK_JUMP_S:
            return
        self._report(f"The clock moved by {jump_s:+.0f} s (a suspend, or it was set).")
        bell.clock_moved(self._clock.now())

    def _garden_names(self) -> str:
        return ", ".join(garden.name for garden in self._parts.cycle.gardens)
