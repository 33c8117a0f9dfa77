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
belong to threads, one for each piece of work. Systemd is pinged only while a look at the outbox
comes back within two minutes and a look at the gardens within two hours, so a store that hangs is
noticed although the loop turns.

Decided 2026-11-25: Before the clock can be true nothing is told or sent. A server's certificate
would not be valid yet, which would be taken for a mistake in the settings.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, timedelta
from functools import partial
from queue import Empty, SimpleQueue

from msgspec import Struct

from strawbell.app.answering import SOON_S
from strawbell.app.pipeline import Pipeline, Run
from strawbell.app.ports import Bell, Channel, Clock, Ear, Incidents, Interruptible, Manager, Store
from strawbell.app.trouble import (
    CLOCK_NEWS_H,
    START,
    TROUBLED_BEAT_S,
    News,
    StoreTrouble,
    alarms,
    clock_moved,
    copy_failed,
    send_unrecorded,
    store_mended,
)
from strawbell.errors import OperationalError
from strawbell.model.garden import Garden
from strawbell.model.notice import Notice, OutboxState
from strawbell.words.catalogue import BRITISH

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


class Worker(Struct):
    """Some work in a thread of its own, and since when on the monotonic clock [s]."""

    name: str
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


class Workers:
    """The threads that work now."""

    def __init__(self, clock: Clock, ring: Callable[[], None]) -> None:
        """Start with none; `ring` is for work that wants another beat at once."""
        self._clock, self._ring = clock, ring
        self._hiring = threading.Lock()
        self._working: tuple[Worker, ...] = ()

    def __iter__(self) -> Iterator[Worker]:
        """Yield those that are not done."""
        return (worker for worker in self._working if not worker.is_done)

    def start(self, name: str, work: Callable[[], bool], channel: Channel | None = None) -> None:
        """Start a thread for some work unless it is being done already.

        It returns whether another beat is wanted. Raises `RuntimeError` where the system gives no
        further thread.
        """
        with self._hiring:
            working = tuple(self)
            if any(worker.name == name for worker in working):
                return
            worker = Worker(name, channel, self._clock.monotonic())

            worker.thread = threading.Thread(
                target=self._do, args=(worker, work), name=name, daemon=True
            )
            # Known before it runs, so that a signal in between finds it.
            self._working = (*working, worker)
            try:
                worker.thread.start()
            except RuntimeError:
                self._working = working
                raise

    def _do(self, worker: Worker, work: Callable[[], bool]) -> None:
        again = False
        try:
            again = work()
        finally:
            # Before it rings: the beat that comes of it may start the same again.
            worker.is_done = True
        if again:
            self._ring()

    def interrupt(self) -> None:
        """End all waits but those for the answer to a final dot; safe in a signal handler."""
        for worker in self._working:
            worker.interrupt(final=False)

    def are_stuck(self) -> bool:
        """Return whether some work does not come back that always does."""
        now_s = self._clock.monotonic()
        return any(
            now_s - worker.began_s > STUCK_AFTER_S.get(worker.name, float("inf")) for worker in self
        )

    def let_finish(self) -> None:
        """Wait for what runs: a little for all, longer for the answer to a final dot."""
        self._join(tuple(self), STOP_WITHIN_S)
        waiting = tuple(worker for worker in self if worker.interrupt(final=False))
        self._join(waiting, LAST_ANSWER_WITHIN_S - STOP_WITHIN_S)
        for worker in waiting:
            worker.interrupt(final=True)
        self._join(waiting, LAST_RECORD_WITHIN_S)

    def _join(self, workers: tuple[Worker, ...], seconds: float) -> None:
        ends_s = self._clock.monotonic() + seconds
        for worker in workers:
            if worker.thread is not None and worker.thread.ident is not None:
                worker.thread.join(max(0.0, ends_s - self._clock.monotonic()))


BEAT_S = 55.0
"""Longest wait of the main loop [s]: bounds how late a reminder is after a suspend or a jump of
the clock. Below a minute, so that it is within one with the sending."""
CLOCK_JUMP_S = 2.0
"""Difference of wall and monotonic clock in one beat that counts as a jump [s]."""
OLDEST_TRUSTED_YEAR = 2026
"""A clock before this year has not been set yet; nothing is told or sent by it."""

Report = Callable[[str], None]
"""Takes one sentence for the log."""
MakeBell = Callable[[Sequence[Garden], Callable[[], object]], Bell]
"""Makes what rings at the times of gardens."""


class _Wish(Struct):
    """That the configuration be read anew; somebody may wait for what becomes of it."""

    read: Callable[[], Pipeline]
    granted: threading.Event | None = None
    refused: Exception | None = None

    def settle(self, refused: Exception | None = None) -> None:
        """Tell who waits whether the configuration was taken."""
        self.refused = refused
        if self.granted is not None:
            self.granted.set()


class Daemon:
    """Runs until it is told to stop."""

    def __init__(
        self,
        pipeline: Pipeline,
        make_bell: MakeBell,
        store: Store,
        manager: Manager,
        report: Report,
        incidents: Incidents | None = None,
        trouble: StoreTrouble | None = None,
    ) -> None:
        """Keep the parts; nothing runs before `run`. `incidents` of the store are told first.

        `pipeline` is replaced as a whole when the configuration is read anew, with the same
        sender. `trouble` is what was met while the store was opened.
        """
        self._pipeline, self._make_bell, self._store = pipeline, make_bell, store
        self._sender, self._clock = pipeline.sender, pipeline.sender.clock
        self._manager, self._report = manager, report
        self._trouble = trouble or StoreTrouble()
        self._copied_on: date | None = None
        self._is_stopping = False
        self._wake: SimpleQueue[None] = SimpleQueue()
        self._wishes: deque[_Wish] = deque()
        self._workers = Workers(self._clock, self._ring)
        self._news: deque[tuple[_Find, Callable[[], object]]] = deque()
        """What finds the news to be put on disk, and what to do once they are."""
        self._clock_is_set = True
        self._last_wall, self._last_monotonic_s = self._clock.now(), self._clock.monotonic()
        if incidents is not None:
            for incident in incidents.untold():
                told = partial(incidents.told, incident)
                self._news.append((_found(store_mended(incident)), told))
        self._note_success(START)

    # What others ask of it: the signal handlers, the door, whoever runs it.

    def stop(self) -> None:
        """End the daemon soon; safe to call from a signal handler."""
        self._is_stopping = self._sender.is_stopping = True
        self._workers.interrupt()
        self._ring()

    def reload(self, read: Callable[[], Pipeline]) -> None:
        """Read the configuration anew at the next beat; safe to call from a signal handler."""
        self._wishes.append(_Wish(read))
        self._ring()

    def reload_and_tell(self, read: Callable[[], Pipeline], within_s: float) -> None:
        """Read the configuration anew, from another thread; raise what it was refused with.

        Raises `strawbell.errors.OperationalError` where that took longer than `within_s` [s].
        """
        granted = threading.Event()
        wish = _Wish(read, granted)
        self._wishes.append(wish)
        self._ring()
        if not granted.wait(within_s):
            raise OperationalError(BRITISH.say("daemon.not-come"))
        if wish.refused is not None:
            raise wish.refused

    @property
    def gardens(self) -> tuple[Garden, ...]:
        """Return the gardens it looks after now."""
        return self._pipeline.gardens

    def once(self) -> list[Run]:
        """Do what is due now and return what became of it."""
        self._tell_news()
        runs = []
        for run in self._pipeline.once(self._clock.now(), self._clock.monotonic()):
            for line in run.heard:
                self._report(line)
            runs.append(run)
        self._copy(any(told.notices for run in runs for told in run.told))
        return runs

    def run(self) -> None:
        """Look, send, wait, until stopped."""
        bell = self._begin_listening()
        self._manager.ready(self._garden_names())
        self._report(BRITISH.say("daemon.runs", names=self._garden_names()))
        try:
            while not self._is_stopping:
                bell = self._reloaded(bell)
                self.beat(bell)
                self._wait()
        finally:
            self._manager.stopping()
            bell.stop()
            self._workers.let_finish()
            self._pipeline.answering.call(None)

    # One turn of the main loop, which waits for nothing but its bell.

    def beat(self, bell: Bell) -> None:
        """Turn once: mind the clocks, start what is due, and say that the loop turns."""
        self._notice_jump(bell)
        self._start_due()
        if not self._workers.are_stuck():
            self._manager.watchdog()

    def _notice_jump(self, bell: Bell) -> None:
        wall, monotonic_s = self._clock.now(), self._clock.monotonic()
        before, passed_s = self._last_wall, monotonic_s - self._last_monotonic_s
        self._last_wall, self._last_monotonic_s = wall, monotonic_s
        jump = wall - before - timedelta(seconds=passed_s)
        if abs(jump.total_seconds()) <= CLOCK_JUMP_S:
            return
        seconds = f"{jump.total_seconds():+.0f}"
        self._report(BRITISH.say("daemon.clock-moved", seconds=seconds))
        bell.clock_moved(wall)
        if abs(jump) > timedelta(hours=CLOCK_NEWS_H):
            self._news.append((_found(clock_moved(wall - jump, wall)), _nothing_more))

    def _start_due(self) -> None:
        """Start what is due in threads of its own; a slow service must not stop the beat."""
        now, pipeline = self._clock.now(), self._pipeline
        if now.year < OLDEST_TRUSTED_YEAR:
            if self._clock_is_set:
                self._report(BRITISH.say("daemon.clock-unset"))
            self._clock_is_set = False
            return
        self._clock_is_set = True
        if self._news:
            self._start("news", self._tell_news)
        if pipeline.due(now):
            self._start("look", self._tell)
        for ear in pipeline.answering.due(self._clock.monotonic()):
            self._start(f"answers-{ear.name}", partial(self._hear, ear))
        self._start("outbox", self._send)
        if self._trouble.lasting is not None:
            self._start("alarm", self._sound_alarm)

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
        heard_s = max(self._pipeline.answering.wait_s(now_s), SOON_S)
        return min(limit_s, self._sender.memory.wait_s(now_s), heard_s)

    def _wait(self) -> None:
        """Wait for the next beat; however often it rang meanwhile, it beats once."""
        try:
            self._wake.get(timeout=self.wait_s())
            while True:
                self._wake.get_nowait()
        except Empty:
            return

    # What the threads do. Each returns whether another beat is wanted at once.

    def _start(self, name: str, work: Callable[[], bool], channel: Channel | None = None) -> None:
        if self._is_stopping:
            return
        try:
            self._workers.start(name, partial(self._do, name, work), channel)
        except RuntimeError:
            self._report(BRITISH.say("daemon.no-thread"))

    def _do(self, name: str, work: Callable[[], bool]) -> bool:
        """Do some work; neither a disk nor a defect in one corner ends the day."""
        try:
            again = work()
            return self._note_success(name) or again
        except OperationalError as error:
            # The main loop is waiting already: it has to learn that it waits too long.
            again = not self._trouble.stands
            self._manager.status(BRITISH.say("daemon.takes-nothing", error=str(error)))
            now, now_s = self._clock.now(), self._clock.monotonic()
            if self._trouble.refused(name, str(error), now, now_s):
                # Said once: it is tried again at every beat.
                self._report(str(error))
            return again
        except Exception as error:
            # Who is stopped in the middle finds the store closed; that is no defect.
            if not self._is_stopping:
                module, line = _place_of(error)
                said = {"work": name, "error": repr(error), "module": module, "line": line}
                self._report(BRITISH.say("daemon.defect", **said))
            return False

    def _tell(self) -> bool:
        """Tell every garden what is due."""
        anything_told = False
        for told in self._pipeline.tell(self._clock.now()):
            anything_told = anything_told or bool(told.notices)
            for line in (*(notice.subject for notice in told.notices), *told.complaints):
                self._report(BRITISH.say("daemon.line", about=told.garden, said=line))
        try:
            self._copy(anything_told)
        except OperationalError as error:
            # The day goes on without a copy, and somebody is told.
            self._report(BRITISH.say("daemon.no-copy", error=str(error)))
            self._news.append((_found(copy_failed(str(error))), _nothing_more))
        # What was just put on disk is sent in this beat, not in the next.
        return True

    def _copy(self, anything_told: bool) -> None:
        """Copy the store once a date, and again after telling; not after each quiet watch."""
        now = self._clock.now()
        if anything_told or self._copied_on != now.date():
            self._store.backup(now)
            self._copied_on = now.date()

    def _hear(self, ear: Ear) -> bool:
        """Take the answers that came by one way; what is said back to them is sent at once."""
        for line in self._pipeline.through(Run(self._clock.now(), ears=(ear,))).heard:
            self._report(line)
        return True

    def _send(self) -> bool:
        """Start sending on every channel for which something is due."""
        now, again = self._clock.now(), False
        for channel in self._pipeline.ways:
            name = _sending(channel)
            if self._store.due(now, (channel.name,)):
                self._start(name, partial(self._deliver, channel), channel)
            else:
                # Somebody else has sent what was refused here.
                again = self._note_success(name) or again
        return again

    def _deliver(self, channel: Channel) -> bool:
        run, again = Run(self._clock.now(), channels=(channel,)), False
        try:
            self._pipeline.through(run)
        finally:
            for result in (each for delivery in run.deliveries for each in delivery.results):
                state = BRITISH.of("outcome", result.state)
                said = {"way": channel.name, "subject": result.row.subject, "state": state}
                self._report(BRITISH.say("daemon.sent", **said, detail=result.detail))
                # The wait of the main loop has begun; it has to learn what is tried again soon.
                again = again or result.state is OutboxState.LATER
        for delivery in run.deliveries:
            if delivery.trouble:
                raise OperationalError(delivery.trouble)
        return again or run.is_reported

    def _sound_alarm(self) -> bool:
        """Tell past the store, on every channel by itself, that the store takes nothing."""
        sentence, pipeline = self._trouble.lasting, self._pipeline
        if sentence is None:
            return False
        unrecorded = dict(pipeline.unrecorded)
        notices = alarms(pipeline.gardens, unrecorded, sentence, self._clock.now())
        for channel in pipeline.channels:
            if self._trouble.owed(channel.name, notices, self._clock.monotonic()):
                work = partial(self._alarm, channel, notices)
                self._start(f"alarm-{channel.name}", work, channel)
        return False

    def _alarm(self, channel: Channel, notices: Sequence[Notice]) -> bool:
        secret = self._store.secret
        if send_unrecorded(channel, notices, self._trouble, self._sender, secret):
            self._report(BRITISH.say("daemon.alarm", way=channel.name))
        return False

    # Troubles of the store, and what else the grower has to know of the daemon itself.

    def _note_success(self, work: str) -> bool:
        """Note that some work got through; return whether that may have ended a trouble."""
        stood = self._trouble.stands
        to_prove = self._trouble.took(work)
        if to_prove:
            self._news.append((self._trouble.over, self._close_trouble))
        elif stood and not self._trouble.stands:
            self._trouble_is_over()
        return to_prove

    def _close_trouble(self) -> None:
        if self._trouble.stands:
            self._trouble.close()
            self._trouble_is_over()

    def _trouble_is_over(self) -> None:
        self._report(BRITISH.say("daemon.takes-again"))
        self._manager.status(self._garden_names())

    def _tell_news(self) -> bool:
        """Put on disk what the grower has to know of the daemon itself; kept until that is done."""
        while self._news:
            find, then = self._news[0]
            now, channels = self._clock.now(), self._pipeline.channels
            try:
                news = find(now)
                if news is not None:
                    news.put_on_disk(self._store, channels, self.gardens, now)
                then()
            except OperationalError:
                raise
            except Exception:
                # A defect would only come again at every beat.
                self._news.popleft()
                raise
            self._news.popleft()
        return True

    # A configuration that is read anew.

    def _reloaded(self, bell: Bell) -> Bell:
        if not self._wishes:
            return bell
        # Taken before it is read: a wish that comes in between is for a newer file.
        wishes = [self._wishes.popleft() for _ in range(len(self._wishes))]
        self._manager.reloading(self._clock.monotonic())
        try:
            pipeline = wishes[-1].read()
        except Exception as error:
            # Whatever is wrong with the new one, the old one is good.
            self._report(BRITISH.say("daemon.not-taken", error=str(error)))
            self._manager.ready(BRITISH.say("daemon.old-stays"))
            for wish in wishes:
                wish.settle(error)
            return bell
        # The new settings may be the cure for what an attempt hangs at.
        self._workers.interrupt()
        for channel in self._pipeline.ways:
            # What was refused to one that is gone is refused no more.
            self._note_success(_sending(channel))
        self._pipeline.answering.call(None)
        self._pipeline = pipeline
        self._sender.memory.wake()
        bell.stop()
        bell = self._begin_listening()
        self._manager.ready(self._garden_names())
        self._report(BRITISH.say("daemon.read-anew", names=self._garden_names()))
        for wish in wishes:
            wish.settle()
        return bell

    def _begin_listening(self) -> Bell:
        """Let the gardens' times and the ears of this configuration wake the main loop."""
        bell = self._make_bell(self.gardens, self._ring)
        bell.start()
        self._pipeline.answering.call(self._ring)
        return bell

    def _garden_names(self) -> str:
        return BRITISH.listing((garden.name for garden in self.gardens), "comma")


_Find = Callable[[datetime], News | None]


def _found(news: News) -> _Find:
    return lambda _now: news


def _nothing_more() -> None:
    return


def _sending(channel: Channel) -> str:
    """Return the name of the work of sending on a channel."""
    return f"send-{channel.name}"


def _place_of(error: BaseException) -> tuple[str, str]:
    """Return the place in the code an error comes from, for the one who mends it."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    if trace is None:
        return "", ""
    return str(trace.tb_frame.f_globals.get("__name__", "?")), str(trace.tb_lineno)
