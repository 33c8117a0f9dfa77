"""The daemon: a bell rings, every garden is looked at, what is on disk is sent.

The main thread only waits, watches the clocks and keeps systemd's watchdog fed. Looking, the
store and sending are the business of short-lived threads, so that neither a server nor a disk
that hangs stops the day. The bell is a convenience: each beat of the main loop looks as well,
when something is due.

`stop` and `reload` are called by signal handlers, that is in the main thread between any two of
its steps: they only set plain values and put into a queue that allows it.

Decided 2026-11-26: The main loop wakes for the next attempt it knows of, and beats every 55 s for
all it does not know of, so that with the sending both are within a minute.

Decided 2026-11-25: The main loop waits for nothing but its bell. Store, services and channels
belong to threads. Systemd is pinged only while a look at the outbox comes back within two minutes
and a look at the gardens within two hours, so a store that hangs is noticed although the loop
turns.

Decided 2026-11-25: Before the clock can be true nothing is told or sent. A server's certificate
would not be valid yet, which would be taken for a mistake in the settings.
"""

from __future__ import annotations

import random
import threading
from collections import deque
from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from functools import partial
from queue import Empty, SimpleQueue
from typing import Protocol, runtime_checkable

from msgspec import Struct

from strawbell.app.cycle import Cycle, Told
from strawbell.app.incidents import (
    CLOCK_NEWS_H,
    clock_moved,
    copy_failed,
    store_mended,
    store_takes_again,
)
from strawbell.app.listening import SOON_S, Listening
from strawbell.app.outbox import DrainReport, Memory, NextAttempts, drain_channel
from strawbell.app.ports import Channel, Clock, Ear, Incident, Incidents, Store
from strawbell.app.store_trouble import START, StoreTrouble, alarms, send_unrecorded
from strawbell.app.surfacing import surface, surface_settings
from strawbell.errors import OperationalError
from strawbell.model.garden import Garden
from strawbell.model.notice import Notice, OutboxState

BEAT_S = 55.0
"""Longest wait of the main loop [s]: bounds how late a reminder is after a suspend or a jump of
the clock. Below a minute, so that it is within one with the sending."""
TROUBLED_BEAT_S = 15.0
"""The same while the store refuses something [s]: with two tries and the sending, what waited is
under way well within a minute after the disk works again."""
CLOCK_JUMP_S = 2.0
"""Difference of wall and monotonic clock in one beat that counts as a jump [s]."""
STOP_WITHIN_S = 4.0
"""How long work that runs is waited for at the end [s]."""
LAST_ANSWER_WITHIN_S = 10.0
"""How long the answer to a final dot is waited for at the end [s]: without it the message goes
out twice. Below the 30 s that the units allow for stopping."""
LAST_RECORD_WITHIN_S = 1.0
"""How long an attempt that was broken off has to record that [s]."""
STUCK_AFTER_S = {"outbox": 120.0, "look": 7200.0}
"""When a thread that does not come back counts as a hang of the daemon [s]. A look at the outbox
is a read of the store, which waits at most 5 s for others; a look at the gardens may wait half a
minute for each of them."""
OLDEST_TRUSTED_YEAR = 2026
"""A clock before this year has not been set yet; nothing is told or sent by it."""
TAKES_AGAIN = "The store takes everything again."


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

    @property
    def watchdog_interval_s(self) -> float | None:
        """Return how often to call `watchdog` [s]; None when unwatched."""
        ...

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


@runtime_checkable
class Interruptible(Protocol):
    """A channel that may wait long, and whose waits can be ended."""

    def interrupt(self, *, final: bool) -> None:
        """End what another thread waits for in `send`, at once; nothing is sent any more.

        Unless `final`, the answer that decides whether a message was accepted is still waited
        for. Called by signal handlers, so it must neither wait nor take a lock.
        """
        ...


class Parts(Struct, frozen=True):
    """Everything a daemon is made of; replaced as a whole when the configuration is read anew."""

    cycle: Cycle
    channels: tuple[Channel, ...]
    make_bell: Callable[[Callable[[], object]], Bell]
    listening: Listening
    spare: Channel | None = None
    """Takes what no other channel could deliver; gets nothing else."""

    @property
    def ways(self) -> tuple[Channel, ...]:
        """Return every channel that may have something to send."""
        return (*self.channels, *(() if self.spare is None else (self.spare,)))


Report = Callable[[str], None]
"""Takes one sentence for the log."""


class _Worker(Struct):
    """Some work in a thread of its own, and since when on the monotonic clock [s]."""

    name: str
    work: Callable[[], bool]
    """Returns whether another beat is wanted at once."""
    channel: Channel | None
    began_s: float
    thread: threading.Thread | None = None
    is_done: bool = False

    def interrupt(self, *, final: bool) -> bool:
        """End its waits where its channel can; return whether it can."""
        if not isinstance(self.channel, Interruptible):
            return False
        self.channel.interrupt(final=final)
        return True


class _Wish(Struct):
    """That the configuration be read anew; somebody may wait for what becomes of it."""

    read: Callable[[], Parts]
    granted: threading.Event | None = None
    refused: Exception | None = None


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
        incidents: Incidents | None = None,
        trouble: StoreTrouble | None = None,
    ) -> None:
        """Keep the parts; nothing runs before `run`. `incidents` of the store are told first.

        `trouble` is what was met while the store was opened.
        """
        self._parts = parts
        self._store = store
        self._clock = clock
        self._manager = manager
        self._report = report
        self._rng = rng
        self._copied_on: date | None = None
        self._trouble = trouble or StoreTrouble()
        self._memory = Memory()
        self._attempts = NextAttempts()
        self._is_stopping = False
        self._wake: SimpleQueue[None] = SimpleQueue()
        self._wishes: deque[_Wish] = deque()
        self._workers: tuple[_Worker, ...] = ()
        self._hiring = threading.Lock()
        self._surfacing = threading.Lock()
        self._news: deque[Callable[[datetime], None]] = deque()
        self._clock_is_set = True
        self._last_wall, self._last_monotonic_s = clock.now(), clock.monotonic()
        if incidents is not None:
            for incident in incidents.untold():
                self._news.append(partial(self._tell_incident, incidents, incident))
        self._note_success(START)

    def stop(self) -> None:
        """End the daemon soon; safe to call from a signal handler."""
        self._is_stopping = True
        for worker in self._workers:
            worker.interrupt(final=False)
        self._ring()

    def reload(self, read: Callable[[], Parts]) -> None:
        """Read the configuration anew at the next beat; safe to call from a signal handler."""
        self._wishes.append(_Wish(read))
        self._ring()

    def reload_and_tell(self, read: Callable[[], Parts], within_s: float) -> None:
        """Read the configuration anew, from another thread; raise what it was refused with.

        Raises `strawbell.errors.OperationalError` where that took longer than `within_s` [s].
        """
        wish = _Wish(read, threading.Event())
        self._wishes.append(wish)
        self._ring()
        if wish.granted is None or not wish.granted.wait(within_s):
            raise OperationalError("The daemon did not come to read the configuration.")
        if wish.refused is not None:
            raise wish.refused

    @property
    def gardens(self) -> tuple[Garden, ...]:
        """Return the gardens it looks after now."""
        return self._parts.cycle.gardens

    def run(self) -> None:
        """Look, send, wait, until stopped."""
        bell = self._parts.make_bell(self._ring)
        bell.start()
        self._parts.listening.call(self._ring)
        self._manager.ready(self._garden_names())
        self._report(f"Strawbell runs for {self._garden_names()}.")
        try:
            while not self._is_stopping:
                bell = self._reloaded(bell)
                self.beat(bell)
                self._wait()
        finally:
            self._manager.stopping()
            bell.stop()
            self._let_workers_finish()
            self._parts.listening.call(None)

    def beat(self, bell: Bell) -> None:
        """Turn once: mind the clocks, start what is due, and say that the loop turns."""
        self._notice_jump(bell)
        self._look()
        if not self._is_stuck():
            self._manager.watchdog()

    def once(self) -> tuple[tuple[Told, ...], tuple[DrainReport, ...]]:
        """Do what is due now and return what became of it."""
        self._tell_news()
        for ear in self._parts.listening.due(self._clock.monotonic()):
            self._listen(ear)
        told = self._parts.cycle.tick(self._clock.now())
        reports = [self._drain_once(channel) for channel in self._parts.channels]
        for report in tuple(reports):
            self._surface(report)
        if self._parts.spare is not None:
            reports.append(self._drain_once(self._parts.spare))
        self._copy(any(each.notices for each in told))
        return told, tuple(reports)

    def _drain_once(self, channel: Channel) -> DrainReport:
        report = drain_channel(self._store, channel, self._clock, self._rng, self._memory)
        self._attempts.note(report, self._clock.now(), self._clock.monotonic())
        return report

    def _copy(self, anything_told: bool) -> None:
        """Copy the store once a date, and again after telling; not after each quiet watch."""
        now = self._clock.now()
        if anything_told or self._copied_on != now.date():
            self._store.backup(now)
            self._copied_on = now.date()

    def _keep_copy(self, anything_told: bool) -> None:
        """Copy the store; where that fails the day goes on, and somebody is told."""
        try:
            self._copy(anything_told)
        except OperationalError as error:
            self._report(f"No copy of the store was kept. {error}")
            self._news.append(partial(self._tell_no_copy, str(error)))

    def _ring(self) -> None:
        self._wake.put(None)

    def wait_s(self) -> float:
        """Return how long the main loop waits for its next beat if nothing rings [s].

        At most a beat; less while the store is in trouble, or until a message is tried again.
        """
        watched_s = self._manager.watchdog_interval_s
        beat_s = TROUBLED_BEAT_S if self._trouble.stands else BEAT_S
        limit_s = beat_s if watched_s is None else min(beat_s, watched_s)
        now_s = self._clock.monotonic()
        return min(
            limit_s, self._attempts.wait_s(now_s), max(self._parts.listening.wait_s(now_s), SOON_S)
        )

    def _wait(self) -> None:
        """Wait for the next beat; however often it rang meanwhile, it beats once."""
        try:
            self._wake.get(timeout=self.wait_s())
            while True:
                self._wake.get_nowait()
        except Empty:
            return

    def _look(self) -> None:
        """Start what is due in threads of its own; a slow service must not stop the beat."""
        now = self._clock.now()
        if now.year < OLDEST_TRUSTED_YEAR:
            if self._clock_is_set:
                self._report("The clock is not set yet; nothing is told or sent until it is.")
            self._clock_is_set = False
            return
        self._clock_is_set = True
        if self._news:
            self._start("news", self._tell_news)
        if self._parts.cycle.due(now):
            self._start("look", self._tick)
        for ear in self._parts.listening.due(self._clock.monotonic()):
            self._start(f"answers-{ear.name}", partial(self._listen, ear))
        self._start("outbox", self._send)
        if self._trouble.lasting is not None:
            self._start("alarm", self._sound_alarm)

    def _listen(self, ear: Ear) -> bool:
        """Take the answers that came by one way; what is said back to them is sent at once."""
        now, now_s = self._clock.now(), self._clock.monotonic()
        for line in self._parts.listening.listen(ear, now, now_s):
            self._report(line)
        return True

    def _sound_alarm(self) -> bool:
        """Tell past the store, on every channel by itself, that the store takes nothing."""
        sentence, cycle = self._trouble.lasting, self._parts.cycle
        if sentence is None:
            return False
        notices = alarms(cycle.gardens, dict(cycle.unrecorded), sentence, self._clock.now())
        for channel in self._parts.channels:
            if self._trouble.owed(channel.name, notices, self._clock.monotonic()):
                work = partial(self._alarm, channel, notices)
                self._start(f"alarm-{channel.name}", work, channel)
        return False

    def _alarm(self, channel: Channel, notices: Sequence[Notice]) -> bool:
        secret = self._store.secret
        if send_unrecorded(channel, notices, self._trouble, self._clock, self._memory, secret):
            self._report(f"{channel.name}: told that the store takes nothing.")
        return False

    def _tick(self) -> bool:
        anything_told = False
        for told in self._parts.cycle.tell(self._clock.now()):
            anything_told = anything_told or bool(told.notices)
            for notice in told.notices:
                self._report(f"{told.garden}: {notice.subject}")
            for complaint in told.complaints:
                self._report(f"{told.garden}: {complaint}")
        self._keep_copy(anything_told)
        # What was just put on disk is sent in this beat, not in the next.
        return True

    def _send(self) -> bool:
        now, again = self._clock.now(), False
        for channel in self._parts.ways:
            name = _sending(channel)
            if self._store.due(now, (channel.name,)):
                self._start(name, partial(self._drain, channel), channel)
            else:
                # Somebody else has sent what was refused here.
                again = self._note_success(name) or again
        return again

    def _drain(self, channel: Channel) -> bool:
        own = random.Random(self._rng.getrandbits(64))  # noqa: S311 - jitter, not a secret
        report = drain_channel(
            self._store, channel, self._clock, own, self._memory, lambda: self._is_stopping
        )
        self._attempts.note(report, self._clock.now(), self._clock.monotonic())
        for settled in report.settled:
            self._report(
                f"{channel.name}: {settled.row.subject}: {settled.state.value}. "
                f"{settled.detail}".rstrip()
            )
        # A message to be tried again soon shortens the wait of the main loop, which has begun.
        again = self._surface(report) or bool(report.count(OutboxState.LATER))
        for line in report.trouble:
            raise OperationalError(line)
        return again

    def _surface(self, report: DrainReport) -> bool:
        """See to it that a failure ends in somebody being told; return whether it did just now."""
        now = self._clock.now()
        with self._surfacing:
            channels, spare = self._parts.channels, self._parts.spare
            told = surface(self._store, channels, now, spare)
            asked = surface_settings(self._store, channels, report, now, spare)
        return bool(told or asked)

    def _start(self, name: str, work: Callable[[], bool], channel: Channel | None = None) -> None:
        """Start a thread for some work unless it is being done already."""
        with self._hiring:
            working = tuple(worker for worker in self._workers if not worker.is_done)
            if self._is_stopping or any(worker.name == name for worker in working):
                return
            worker = _Worker(name, work, channel, self._clock.monotonic())
            worker.thread = threading.Thread(
                target=self._do, args=(worker,), name=name, daemon=True
            )
            # Known before it runs, so that a signal in between finds it.
            self._workers = (*working, worker)
            try:
                worker.thread.start()
            except RuntimeError:
                self._workers = working
                self._report("The system gives no further thread; it is tried again soon.")

    def _do(self, worker: _Worker) -> None:
        """Do some work; neither a disk nor a defect in one corner ends the day."""
        again = False
        try:
            again = worker.work()
            again = self._note_success(worker.name) or again
        except OperationalError as error:
            # Said once: it is tried again at every beat.
            now, now_s = self._clock.now(), self._clock.monotonic()
            # The main loop is waiting already: it has to learn that it waits too long.
            again = not self._trouble.stands
            self._manager.status(f"The store takes nothing: {error}")
            if self._trouble.refused(worker.name, str(error), now, now_s):
                self._report(str(error))
        except Exception as error:
            # Who is stopped in the middle finds the store closed; that is no defect.
            if not self._is_stopping:
                place = _place_of(error)
                self._report(f"A defect at {worker.name}; please report it: {error!r}{place}")
        finally:
            worker.is_done = True
        if again:
            self._ring()

    def _note_success(self, work: str) -> bool:
        """Note that some work got through; return whether that may have ended a trouble."""
        stood = self._trouble.stands
        to_prove = self._trouble.took(work)
        if to_prove:
            self._news.append(self._tell_over)
        elif stood and not self._trouble.stands:
            self._trouble_is_over()
        return to_prove

    def _trouble_is_over(self) -> None:
        self._report(TAKES_AGAIN)
        self._manager.status(self._garden_names())

    def _is_stuck(self) -> bool:
        now_s = self._clock.monotonic()
        return any(
            not worker.is_done
            and now_s - worker.began_s > STUCK_AFTER_S.get(worker.name, float("inf"))
            for worker in self._workers
        )

    def _let_workers_finish(self) -> None:
        """Wait for what runs: a little for all, longer for the answer to a final dot."""
        self._join(self._workers, STOP_WITHIN_S)
        unfinished = tuple(worker for worker in self._workers if not worker.is_done)
        waiting = tuple(worker for worker in unfinished if worker.interrupt(final=False))
        self._join(waiting, LAST_ANSWER_WITHIN_S - STOP_WITHIN_S)
        for worker in waiting:
            worker.interrupt(final=True)
        self._join(waiting, LAST_RECORD_WITHIN_S)

    def _join(self, workers: tuple[_Worker, ...], seconds: float) -> None:
        ends_s = self._clock.monotonic() + seconds
        for worker in workers:
            if worker.thread is not None and worker.thread.ident is not None:
                worker.thread.join(max(0.0, ends_s - self._clock.monotonic()))

    def _reloaded(self, bell: Bell) -> Bell:
        if not self._wishes:
            return bell
        # Taken before it is read: a wish that comes in between is for a newer file.
        wishes = [self._wishes.popleft() for _ in range(len(self._wishes))]
        self._manager.reloading(self._clock.monotonic())
        try:
            parts = wishes[-1].read()
        except Exception as error:
            # Whatever is wrong with the new one, the old one is good.
            self._report(f"The new configuration was not taken, the old one stays: {error}")
            self._manager.ready("The old configuration stays; the new one has mistakes.")
            _tell(wishes, error)
            return bell
        for worker in self._workers:
            # The new settings may be the cure for what an attempt hangs at.
            worker.interrupt(final=False)
        for channel in self._parts.ways:
            # What was refused to one that is gone is refused no more.
            self._note_success(_sending(channel))
        self._parts.listening.call(None)
        self._parts = parts
        parts.listening.call(self._ring)
        self._memory.wake()
        bell.stop()
        bell = parts.make_bell(self._ring)
        bell.start()
        self._manager.ready(self._garden_names())
        self._report(f"The configuration was read anew, for {self._garden_names()}.")
        _tell(wishes, None)
        return bell

    def _notice_jump(self, bell: Bell) -> None:
        wall, monotonic_s = self._clock.now(), self._clock.monotonic()
        before, passed_s = self._last_wall, monotonic_s - self._last_monotonic_s
        self._last_wall, self._last_monotonic_s = wall, monotonic_s
        jump = wall - before - timedelta(seconds=passed_s)
        if abs(jump.total_seconds()) <= CLOCK_JUMP_S:
            return
        self._report(
            f"The clock moved by {jump.total_seconds():+.0f} s (a suspend, or it was set)."
        )
        bell.clock_moved(wall)
        if abs(jump) > timedelta(hours=CLOCK_NEWS_H):
            self._news.append(partial(self._note_clock, wall - jump, wall))

    def _tell_news(self) -> bool:
        """Put on disk what the grower has to know of the daemon itself; kept until that is done."""
        while self._news:
            try:
                self._news[0](self._clock.now())
            except OperationalError:
                raise
            except Exception:
                # A defect would only come again at every beat.
                self._news.popleft()
                raise
            self._news.popleft()
        return True

    def _tell_incident(self, incidents: Incidents, incident: Incident, now: datetime) -> None:
        store_mended(self._store, self._parts.channels, self._parts.cycle.gardens, incident, now)
        incidents.told(incident)

    def _tell_over(self, now: datetime) -> None:
        over = self._trouble.over()
        if over is not None:
            parts = self._parts
            store_takes_again(self._store, parts.channels, parts.cycle.gardens, over, now)
            self._trouble.close()
            self._trouble_is_over()

    def _tell_no_copy(self, why: str, now: datetime) -> None:
        copy_failed(self._store, self._parts.channels, self._parts.cycle.gardens, why, now)

    def _note_clock(self, before: datetime, after: datetime, now: datetime) -> None:
        clock_moved(self._store, self._parts.cycle.gardens, before, after, now)

    def _garden_names(self) -> str:
        return ", ".join(garden.name for garden in self._parts.cycle.gardens)


def _tell(wishes: Sequence[_Wish], refused: Exception | None) -> None:
    """Tell those who wait for it whether the configuration was taken."""
    for wish in wishes:
        wish.refused = refused
        if wish.granted is not None:
            wish.granted.set()


def _sending(channel: Channel) -> str:
    """Return the name of the work of sending on a channel."""
    return f"send-{channel.name}"


def _place_of(error: BaseException) -> str:
    """Return the place in the code an error comes from, for the one who mends it."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    if trace is None:
        return ""
    return f" ({trace.tb_frame.f_globals.get('__name__', '?')}, line {trace.tb_lineno})"
