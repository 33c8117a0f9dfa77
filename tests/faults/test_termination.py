"""Signals end the daemon in order, whatever it is doing; a bad configuration on SIGHUP does not.

The daemon is a process over loopback, or the real loop with a real mail channel in this one.
"""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

import pytest

from strawbell.app import daemon as daemon_module
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.notice import OutboxState
from support.daemon_process import PATIENCE_S, wait_until
from support.fake_clock import FakeClock
from support.gardens import START, at
from support.hanging import STAGES, hanging_mail
from support.memory_store import MemoryStore
from support.simulated_daemon import JOIN_S, CountingManager, Life, Paper

EXIT_WITHIN_S = 5.0
EXIT_IN_THE_DOT_S = 15.0
SEED = 16

HANDLED = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)


def test_a_stop_between_any_two_steps_of_the_loop_ends_it() -> None:
    """A handler runs between two steps of the main thread; no lock of the loop may stop it."""
    steps = 0
    while _stopped_at_step(steps + 1):
        steps += 1
    assert steps > 100


def _stopped_at_step(wanted: int) -> bool:
    """Run the loop, call stop before its n-th line; return whether that line was reached."""
    clock = FakeClock(at(START, 3))
    life = Life(MemoryStore(), clock, (Paper(clock),))
    beats = 0
    line = 0
    reached = False

    class TurningManager(CountingManager):
        def watchdog(self) -> None:
            nonlocal beats
            beats += 1
            life.daemon._ring()
            if beats > 2:
                life.daemon.stop()

    def trace(frame: FrameType, event: str, argument: object) -> Callable[..., object] | None:
        nonlocal line, reached
        own = frame.f_code.co_filename.endswith(("daemon.py", "threading.py", "queue.py"))
        if event == "line" and own and not reached:
            line += 1
            if line == wanted:
                reached = True
                life.daemon.stop()
        return trace if own else None

    def run() -> None:
        sys.settrace(trace)
        try:
            life.daemon.run()
        finally:
            sys.settrace(None)

    life.daemon._manager = TurningManager()
    loop = threading.Thread(target=run, daemon=True)
    loop.start()
    loop.join(JOIN_S)
    assert not loop.is_alive(), f"stuck after a stop at step {wanted}"
    return reached


@pytest.mark.parametrize("stage", [stage for stage in STAGES if stage not in {"dot", "quit"}])
def test_a_stop_breaks_off_a_wait_at_every_stage(
    tmp_path: Path, stage: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From the look-up of the name to the body: at once, and the message counts as not sent."""
    with _hung_at(tmp_path, stage, monkeypatch) as life:
        life.daemon.stop()
        life.settle()
        rows = life.outbox()
    assert {row.state for row in rows} == {OutboxState.LATER}
    assert all("broken off" in row.detail for row in rows), rows[0].detail


@pytest.mark.parametrize("answers", [True, False])
def test_a_stop_waits_a_little_for_the_answer_to_the_dot(
    tmp_path: Path, answers: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Answered, the message is accepted; unanswered, it is unknown and goes out again."""
    monkeypatch.setattr(daemon_module, "STOP_WITHIN_S", 0.2)
    monkeypatch.setattr(daemon_module, "LAST_ANSWER_WITHIN_S", PATIENCE_S if answers else 0.4)
    monkeypatch.setattr(daemon_module, "LAST_RECORD_WITHIN_S", PATIENCE_S)
    with _hung_at(tmp_path, "dot", monkeypatch) as life:
        life.daemon.stop()
        (worker,) = [each for each in life.daemon._workers if each.channel is not None]
        assert not worker.is_done, "not broken off at once"
        if answers:
            life.let_go()  # type: ignore[attr-defined]
        life.daemon._clock = _Now()
        life.daemon._let_workers_finish()
        (row,) = life.outbox()
    assert worker.is_done
    assert row.state is (OutboxState.ACCEPTED if answers else OutboxState.UNKNOWN)


class _Now:
    def now(self) -> object:
        raise AssertionError("not asked for at the end")

    def monotonic(self) -> float:
        return time.monotonic()


@contextmanager
def _hung_at(tmp_path: Path, stage: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Life]:
    """A daemon whose morning mail hangs at a stage."""
    clock = FakeClock(at(START))
    with (
        hanging_mail(stage, monkeypatch) as mail,
        SqliteStore(tmp_path / "s.db", clock.now(), owner=True) as store,
    ):
        life = Life(store, clock, (mail.channel,))
        life.beat(but=("send-email",))
        assert wait_until(mail.hangs)
        life.let_go = mail.let_go  # type: ignore[attr-defined]
        yield life
        mail.channel.interrupt()
        life.settle()
