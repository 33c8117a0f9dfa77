"""A daemon that hangs is noticed: no ping while it is stuck, pings again when it goes on.

Real processes and a real notify socket. That systemd then restarts the unit is systemd's doing and
was not run here.
"""

from __future__ import annotations

import signal
import sqlite3
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import timedelta
from pathlib import Path

import pytest

from strawbell.app.daemon import BEAT_S, STUCK_AFTER_S
from strawbell.edges.store.sqlite_store import SqliteStore
from support.daemon_process import Setup, stop, wait_until
from support.fake_clock import FakeClock
from support.forecast_server import FakeOpenMeteo, calm
from support.gardens import START, at
from support.manager_socket import ManagerSocket, manager_socket
from support.measured import record
from support.simulated_daemon import JOIN_S, CountingManager, Life, Paper

LIMIT_S = 0.8
SILENT_S = 2 * LIMIT_S
"""Twice the limit of the watchdog: systemd would have acted."""
MANY_BEATS = 100


@contextmanager
def watched(folder: Path) -> Iterator[tuple[Setup, subprocess.Popen[str], ManagerSocket]]:
    """A daemon that is up and has to ping every 0.4 s."""
    with FakeOpenMeteo(calm) as service, manager_socket(folder) as manager:
        manager.watch(LIMIT_S)
        setup = Setup(folder, service.base_url, environ=manager.environ)
        daemon = setup.start()
        try:
            assert manager.hear("READY=1") is not None
            assert wait_until(lambda: any((folder / "state").glob("notices/*.eml")))
            yield setup, daemon, manager
        finally:
            daemon.send_signal(signal.SIGCONT)
            code, said = stop(daemon)
            assert (code, "Traceback" in said) == (0, False)


def test_a_stopped_process_does_not_ping_and_pings_again_when_it_goes_on(tmp_path: Path) -> None:
    """However long it was stopped, the first ping comes within the limit."""
    with watched(tmp_path) as (_, daemon, manager):
        assert manager.hear("WATCHDOG=1") is not None
        daemon.send_signal(signal.SIGSTOP)
        manager.forget()
        # One may have been on its way.
        manager.hear("WATCHDOG=1", 0.1)
        pings = int(manager.hear("WATCHDOG=1", SILENT_S) is not None)
        daemon.send_signal(signal.SIGCONT)
        went_on_s = time.monotonic()
        heard_s = manager.hear("WATCHDOG=1")
    assert heard_s is not None
    record(24, "pings while stopped", pings, target="= 0")
    gap, within = "from going on to the next ping", f"<= {LIMIT_S}"
    record(24, gap, heard_s - went_on_s, "s", target=within, by_clock=True)


def test_a_store_held_by_another_process_does_not_stop_the_pings(tmp_path: Path) -> None:
    """The loop never waits for the disk: it pings on while others wait for the store."""
    with watched(tmp_path) as (_, daemon, manager):
        with closing(sqlite3.connect(tmp_path / "state" / "strawbell.db")) as other:
            other.execute("BEGIN EXCLUSIVE")
            manager.forget()
            gaps = []
            last_s = time.monotonic()
            for _ in range(5):
                heard_s = manager.hear("WATCHDOG=1")
                assert heard_s is not None
                gaps.append(heard_s - last_s)
                last_s = heard_s
            other.rollback()
        assert daemon.poll() is None
    gap, within = "longest wait for a ping, store held", f"<= {LIMIT_S}"
    record(24, gap, max(gaps), "s", target=within, by_clock=True)


@pytest.mark.parametrize("name", ["outbox", "look"])
@pytest.mark.parametrize(("seconds", "pings"), [(-1, 1), (0, 1), (1, 0)])
def test_a_thread_that_does_not_come_back_ends_the_pings(
    tmp_path: Path, name: str, seconds: int, pings: int
) -> None:
    """Just below, at and above the time it has; when it comes back the pings do too."""
    clock = FakeClock(at(START))
    go = threading.Event()
    with SqliteStore(tmp_path / "s.db", clock.now(), owner=True) as store:
        life = Life(store, clock, (Paper(clock),))
        held = "_send" if name == "outbox" else "_tell"
        work = getattr(life.daemon, held)

        def hang() -> bool:
            go.wait(JOIN_S)
            return bool(work())

        setattr(life.daemon, held, hang)
        life.daemon.beat(life.bell)
        life.settle(but=(name,))
        clock.advance(timedelta(seconds=STUCK_AFTER_S[name] + seconds))
        before = life.manager.pings
        life.daemon.beat(life.bell)
        assert life.manager.pings - before == pings
        go.set()
        life.settle()
        before = life.manager.pings
        life.daemon.beat(life.bell)
        assert life.manager.pings == before + 1
        life.settle()


def test_a_lock_that_is_never_given_back_is_noticed(tmp_path: Path) -> None:
    """A deadlock around the store: the loop turns, but tells nobody that all is well."""
    clock = FakeClock(at(START, 3))
    with SqliteStore(tmp_path / "s.db", clock.now(), owner=True) as store:
        life = Life(store, clock, (Paper(clock),))
        held, go = threading.Event(), threading.Event()

        def keep() -> None:
            with store._turn:
                held.set()
                go.wait(JOIN_S)

        keeper = threading.Thread(target=keep)
        keeper.start()
        assert held.wait(JOIN_S)
        life.daemon.beat(life.bell)
        beats, pings = 0, -1
        while life.manager.pings > pings and beats < MANY_BEATS:
            pings = life.manager.pings
            clock.advance(timedelta(seconds=BEAT_S))
            life.daemon.beat(life.bell)
            beats += 1
        go.set()
        keeper.join(JOIN_S)
        life.settle()
    record(24, "a deadlocked store is noticed within", beats * BEAT_S, "s", target="<= 180")


@pytest.mark.parametrize(
    ("asked_s", "beat_s"), [(None, BEAT_S), (BEAT_S + 1, BEAT_S), (BEAT_S, BEAT_S), (20.0, 20.0)]
)
def test_the_loop_turns_as_often_as_the_manager_asks(asked_s: float | None, beat_s: float) -> None:
    """A shorter WatchdogSec= of the grower's own does not kill a sound daemon."""
    clock = FakeClock(at(START, 3))
    life = Life(_NoStore(), clock, ())  # type: ignore[arg-type]
    waits: list[float] = []

    class Queue:
        def get(self, timeout: float) -> None:
            waits.append(timeout)

        def get_nowait(self) -> None:
            from queue import Empty

            raise Empty

    life.daemon._manager = CountingManager(watchdog_interval_s=asked_s)
    life.daemon._wake = Queue()  # type: ignore[assignment]
    life.daemon._wait()
    assert waits == [beat_s]


class _NoStore:
    """Not asked for anything."""
