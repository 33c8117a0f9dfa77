"""Signals end the daemon in order, whatever it is doing; a bad configuration on SIGHUP does not.

The daemon is a process over loopback, or the real loop with a real mail channel in this one.
"""

from __future__ import annotations

import random
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from types import FrameType

import pytest

from strawbell.app import daemon as daemon_module
from strawbell.cli.run import Signals, Stopped
from strawbell.edges.smtp import Deadline, Wire
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.notice import OutboxState
from support.daemon_process import PATIENCE_S, Setup, wait_until
from support.fake_clock import FakeClock
from support.forecast_server import FakeOpenMeteo, calm
from support.gardens import START, at
from support.hanging import STAGES, HangingSmtp, hanging_mail
from support.manager_socket import manager_socket
from support.measured import record
from support.memory_store import MemoryStore
from support.simulated_daemon import JOIN_S, CountingManager, Life, Paper

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
        life.daemon._workers._clock = _Now()
        life.daemon._workers.let_finish()
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


@dataclass(frozen=True)
class Moment:
    """When and in what state of its mail a real daemon gets a signal."""

    how: signal.Signals
    stage: str
    """Where its mail hangs, "" for nowhere."""
    after_s: float | None
    """From the taking over of the signals; None when the mail has come to its stage."""


STAGES_OF_A_PLAIN_SERVER = ("", "banner", "ehlo", "mail", "rcpt", "data", "body")
LATEST_S = 1.0


def moments(each: int, seed: int) -> list[Moment]:
    """Return as many random moments for each signal; every third is inside of a conversation."""
    rng = random.Random(seed)
    chosen = []
    for how in HANDLED:
        for number in range(each):
            inside = number % 3 == 2
            stages = STAGES_OF_A_PLAIN_SERVER[1:] if inside else STAGES_OF_A_PLAIN_SERVER
            after_s = None if inside else rng.uniform(0.0, LATEST_S)
            chosen.append(Moment(how, rng.choice(stages), after_s))
    return chosen


class Plain(HangingSmtp):
    """Without encryption, as on the machine itself."""

    def __init__(self, stage: str) -> None:
        super().__init__(stage, security="none")


def signalled(folder: Path, moment: Moment, service: FakeOpenMeteo) -> float:
    """Start a daemon, send it a signal, and return how long it took to end in order [s]."""
    folder.mkdir()
    with Plain(moment.stage) as server, manager_socket(folder) as manager:
        setup = Setup(folder, service.base_url, server.port, environ=manager.environ)
        process = setup.start()
        try:
            assert wait_until(lambda: _takes_signals(process.pid)), moment
            if moment.how is signal.SIGHUP:
                # Before, a bad file is no reason to begin at all.
                assert manager.hear("READY=1") is not None, moment
            if moment.after_s is None:
                assert wait_until(server.hung.is_set), moment
            else:
                threading.Event().wait(moment.after_s)
            if moment.how is signal.SIGHUP:
                setup.write("[[gardens]]\nname = ")
                process.send_signal(signal.SIGHUP)
                assert manager.hear("STATUS=The old configuration stays") is not None, moment
                assert process.poll() is None, moment
            began_s = time.monotonic()
            process.send_signal(signal.SIGTERM if moment.how is signal.SIGHUP else moment.how)
            _, said = process.communicate(timeout=JOIN_S)
            took_s = time.monotonic() - began_s
        finally:
            process.kill()
            process.communicate()
    assert process.returncode == 0, (moment, said)
    assert "Traceback" not in said, (moment, said)
    if moment.how is signal.SIGHUP:
        assert "the old one stays" in said, (moment, said)
        assert "config.toml" in said, (moment, said)
    return took_s


def _takes_signals(pid: int) -> bool:
    """Return whether a process handles all three."""
    return all(_handles(pid, how) for how in HANDLED)


def _handles(pid: int, how: signal.Signals) -> bool:
    """Return whether a process handles a signal (proc(5), SigCgt)."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    masks = [int(line.split()[1], 16) for line in status.splitlines() if "SigCgt" in line]
    return any(mask >> (how - 1) & 1 for mask in masks)


def _end_in_order(tmp_path: Path, each: int, seed: int, kind: str) -> None:
    """Send the signals; a message that is not read to its end may wait for its last answer.

    It is small enough for the buffers on the way, so its sender is done with the body.
    """
    took: dict[bool, list[float]] = {False: [0.0], True: [0.0]}
    chosen = moments(each, seed)
    with FakeOpenMeteo(calm) as service:
        for number, moment in enumerate(chosen):
            took_s = signalled(tmp_path / str(number), moment, service)
            took[moment.stage == "body"].append(took_s)
    record(16, f"signals at {kind}", len(chosen))
    record(16, f"longest end, {kind}", max(took[False]), "s", target="<= 5", by_clock=True)
    waited = f"longest end, {kind}, last answer awaited"
    record(16, waited, max(took[True]), "s", target="<= 15", by_clock=True)


def test_a_signal_at_a_random_moment_ends_a_process_in_order(tmp_path: Path) -> None:
    """Code 0, no traceback, within five seconds; a bad file on SIGHUP is told and not taken."""
    _end_in_order(tmp_path, 5, SEED, "random moments")


@pytest.mark.nightly
def test_a_signal_at_any_of_150_moments_ends_a_process_in_order(tmp_path: Path) -> None:
    """The same, fifty times for each of the three signals."""
    _end_in_order(tmp_path, 50, SEED + 1, "150 random moments")


FIRST_S = 0.4
"""Of a process: loading code, reading its configuration, opening its store."""
EARLY_MOMENTS = 12


@dataclass(frozen=True)
class Ended:
    """How a process ended after an early signal."""

    code: int
    said: str
    took_s: float


def signalled_early(setup: Setup, command: str, how: signal.Signals, after_s: float) -> Ended:
    """Start a command, signal it so long after its first line of ours, and see it end.

    The interpreter's own start before that is not ours: it dies of SIGTERM in silence, and shows
    what it was doing on SIGINT.
    """
    with setup.start(command) as process:
        try:
            while not _handles(process.pid, signal.SIGTERM):
                assert process.poll() is None, "ended by itself"
            threading.Event().wait(after_s)
            began_s = time.monotonic()
            process.send_signal(how)
            _, said = process.communicate(timeout=JOIN_S)
            took_s = time.monotonic() - began_s
        finally:
            process.kill()
    return Ended(process.returncode, said, took_s)


def early_moments() -> list[float]:
    """Return moments of the first four tenths of a second, each in a slice of its own [s]."""
    rng = random.Random(SEED + 2)
    return [FIRST_S * (number + rng.random()) / EARLY_MOMENTS for number in range(EARLY_MOMENTS)]


@pytest.mark.skipif(sys.platform != "linux", reason="handled signals are read as Linux tells them")
@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT], ids=["SIGTERM", "SIGINT"])
def test_a_signal_while_the_daemon_is_still_loading_ends_it_in_silence(
    tmp_path: Path, how: signal.Signals
) -> None:
    """Code 0 and not a traceback, from its first line until it is up."""
    setup = Setup(tmp_path)
    ends = [signalled_early(setup, "run", how, after_s) for after_s in early_moments()]
    shown = [end for end in ends if end.code != 0 or "Traceback" in end.said]
    assert shown == []
    longest_s = max(end.took_s for end in ends)
    record(16, f"{how.name} in the first 400 ms of the daemon", len(ends), target=">= 12")
    record(16, f"{how.name} in the first 400 ms: not 0 in silence", len(shown), target="= 0")
    longest = f"longest end, {how.name} in the first 400 ms"
    record(16, longest, longest_s, "s", target="<= 5", by_clock=True)


@pytest.mark.skipif(sys.platform != "linux", reason="handled signals are read as Linux tells them")
def test_a_command_broken_off_by_hand_ends_as_shells_expect(tmp_path: Path) -> None:
    """130 for Ctrl-C and no traceback, unless it was done before."""
    setup = Setup(tmp_path)
    ends = [signalled_early(setup, "check", signal.SIGINT, after_s) for after_s in early_moments()]
    shown = [end for end in ends if end.code not in {0, 130} or "Traceback" in end.said]
    assert shown == []
    assert 130 in {end.code for end in ends}
    record(16, "Ctrl-C in the first 400 ms of a command", len(ends), target=">= 12")
    record(16, "Ctrl-C in the first 400 ms: neither done nor 130", len(shown), target="= 0")


def test_a_process_that_waits_for_the_last_answer_ends_in_time(tmp_path: Path) -> None:
    """Inside the wait for the answer to the final dot a stop takes longer, but not long; the
    message is recorded as unknown.
    """
    with FakeOpenMeteo(calm) as service:
        took_s = signalled(tmp_path / "dot", Moment(signal.SIGTERM, "dot", None), service)
    with SqliteStore(tmp_path / "dot" / "state" / "strawbell.db", at(START)) as store:
        (row,) = store.outbox("Orchard corner", date.min)
    assert row.state is OutboxState.UNKNOWN
    longest = "longest end inside the wait for the last answer"
    record(16, longest, took_s, "s", target="<= 15", by_clock=True)


def test_a_wish_to_read_the_configuration_anew_during_the_start_is_kept() -> None:
    """Before there is a daemon the signal is remembered, and a stop ends the start."""
    handlers = {how: signal.getsignal(how) for how in HANDLED}
    wishes: list[str] = []

    class Listening:
        def reload(self, read: object) -> None:
            wishes.append("reload")

        def stop(self) -> None:
            wishes.append("stop")

    try:
        signals = Signals(once=False)
        signal.raise_signal(signal.SIGHUP)
        with pytest.raises(Stopped):
            signal.raise_signal(signal.SIGINT)
        signals.go_to(Listening(), lambda: None)  # type: ignore[arg-type, return-value]
        assert wishes == ["reload", "stop"]
        signal.raise_signal(signal.SIGTERM)
        signal.raise_signal(signal.SIGHUP)
        assert wishes == ["reload", "stop", "stop", "reload"]
    finally:
        for how, handler in handlers.items():
            signal.signal(how, handler)


def test_a_command_that_runs_once_leaves_the_signals_alone() -> None:
    """Ctrl-C ends it like any other command."""
    before = [signal.getsignal(how) for how in HANDLED]
    Signals(once=True)
    assert [signal.getsignal(how) for how in HANDLED] == before


def test_an_attempt_broken_off_before_a_read_does_not_spin() -> None:
    """The mark is seen inside of a buffered read, which must end there."""
    with Plain("") as server:
        wire = Wire(Deadline(JOIN_S))
        wire.reach("127.0.0.1", server.port)
        wire.break_off()
        results: list[BaseException] = []

        def read() -> None:
            try:
                wire.getreply()
            except OSError as error:
                results.append(error)

        reader = threading.Thread(target=read, daemon=True)
        reader.start()
        reader.join(JOIN_S)
        assert not reader.is_alive()
        wire.drop()
    assert isinstance(results[0], ConnectionAbortedError)
