"""Short-lived threads, one for each piece of work of the daemon."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator

from msgspec import Struct

from strawbell.app.ports import Channel, Clock, Interruptible

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
