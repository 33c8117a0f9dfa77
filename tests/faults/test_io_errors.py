"""Each call to the system fails, once or from then on: nothing is lost and somebody is told.

The process lives on, as the daemon does, and tries again on a clock of its own; after an error
that lasted as long as the process, the next one drains what is left.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

import pytest

from strawbell.edges.door import owner_of
from support import stubborn_morning
from support.daemon_process import PATIENCE_S, Setup, seconds_until, stop, wait_until
from support.forecast_server import FakeOpenMeteo, calm
from support.measured import record
from support.morning import BEGINS, CREATED, RECIPIENTS, morning
from support.scripted_smtp import ScriptedSmtp
from support.sweep import Point, Tally, inspect, recorded, strace

PROGRAM = str(Path(stubborn_morning.__file__))

ERRORS = {
    "openat": ("EMFILE", "EIO", "ENOSPC"),
    "pwrite64": ("EIO", "ENOSPC", "EINTR"),
    "write": ("EIO", "ENOSPC"),
    "fdatasync": ("EIO", "ENOSPC"),
    "fsync": ("EIO",),
    "pread64": ("EIO", "EINTR"),
    "read": ("EIO", "EINTR"),
    "mmap": ("ENOMEM",),
    "ftruncate": ("EIO", "ENOSPC"),
    "socket": ("EMFILE", "ENOMEM"),
    "connect": ("EINTR", "ENOMEM"),
    "sendto": ("EIO", "EINTR", "ENOMEM"),
    "recvfrom": ("EIO", "EINTR", "ENOMEM"),
}
PASSING = {"EINTR"}
"""What interrupts a call never lasts: everybody calls again at once."""

WANTED_POINTS = 200


@dataclass(frozen=True)
class Fault:
    """One error at one call, and whether it stays."""

    point: Point
    error: str
    lasts: bool

    @property
    def words(self) -> tuple[str, ...]:
        name, ordinal = self.point
        when = f"{ordinal}+" if self.lasts else f"{ordinal}"
        return ("-o", "/dev/null", "-e", f"inject={name}:error={self.error}:when={when}")


@dataclass
class Told(Tally):
    """A tally, and how each process met its fault."""

    silent: list[Fault] = field(default_factory=list)
    restarts: list[Fault] = field(default_factory=list)
    crashes: list[tuple[Fault, str]] = field(default_factory=list)


@pytest.fixture(scope="module")
def points(tmp_path_factory: pytest.TempPathFactory) -> list[Point]:
    return recorded(tmp_path_factory.mktemp("recorded"), PROGRAM)


def test_without_an_error_the_process_delivers_and_ends_well(tmp_path: Path) -> None:
    """Otherwise the program, not the error, would be what the sweep sees."""
    with ScriptedSmtp() as server:
        words = ("-o", "/dev/null", "-e", "trace=none")
        done = strace(*words, state=tmp_path / "s.db", port=server.port, program=PROGRAM)
        assert done.returncode == 0, done.stderr
        assert len(server.messages) == len(RECIPIENTS)


def test_all_code_is_loaded_before_the_first_message(tmp_path: Path) -> None:
    """Code that were read in the middle of the work would fail with the disk."""
    log = tmp_path / "calls"
    with ScriptedSmtp() as server:
        words = ("-o", str(log), "-e", "trace=openat,newfstatat,stat,access")
        done = strace(*words, state=tmp_path / "s.db", port=server.port, program=PROGRAM)
        assert done.returncode == 0, done.stderr
    assert code_read_after(BEGINS, log) == []


def code_read_after(mark: str, log: Path) -> list[str]:
    """Return what a traced program opened of code and messages after a line with the mark."""
    _, begun, work = log.read_text(encoding="utf-8", errors="replace").partition(mark)
    assert begun, f"the program never came to {mark}"
    assert ".db" in work
    opened = [line for line in work.splitlines() if "openat(" in line and "ENOENT" not in line]
    read = re.compile(r"\.(py|pyc|so)\b|/words/(messages|ahead)\b")
    return [line for line in opened if read.search(line)]


def test_nothing_is_loaded_once_the_daemon_runs(tmp_path: Path) -> None:
    """All code is read before the first morning: a disk that fails later keeps it from nothing."""
    tracer, log = shutil.which("strace"), tmp_path / "calls"
    if tracer is None:
        pytest.skip("strace is not installed")
    with FakeOpenMeteo(calm) as service, ScriptedSmtp() as server:
        setup = Setup(tmp_path, service.base_url, smtp_port=server.port)
        setup.under = (tracer, "-f", "-qq", "-e", "trace=openat,write", "-s", "200", "-o", str(log))
        daemon = setup.start()
        delivered = wait_until(lambda: bool(server.messages))
        said = end(daemon, setup)
    if "ptrace" in said.lower() and not delivered:
        pytest.skip("this machine does not allow tracing")
    assert delivered, said
    late = code_read_after("Strawbell runs for", log)
    record(3, "files of code the daemon reads after its start", len(late), target="= 0", found=late)


def end(daemon: subprocess.Popen[str], setup: Setup) -> str:
    """End a daemon that runs under a tracer; return what it said."""
    pid = owner_of(setup.folder / "state")
    assert pid is not None
    os.kill(pid, signal.SIGTERM)
    return daemon.communicate(timeout=PATIENCE_S)[1]


def faults_at(points: list[Point], every: int) -> list[Fault]:
    """Return faults for every so many of the calls, each error in turn, once and lasting."""
    found = [
        Fault(point, error, lasts)
        for point in points
        for error in ERRORS.get(point[0], ())
        for lasts in (False, True)
        if not (lasts and error in PASSING)
    ]
    return found[::every]


def meet(told: Told, fault: Fault, folder: Path) -> None:
    """Let a process meet a fault, look whether it got over it, then drain and inspect."""
    state = folder / "s.db"
    told.points += 1
    with ScriptedSmtp() as server:
        done = strace(*fault.words, state=state, port=server.port, program=PROGRAM)
        delivered = len({message.recipient for message in server.messages})
        if "Traceback" in done.stderr or done.returncode not in (0, 1):
            told.crashes.append((fault, done.stderr[-300:]))
        elif (done.returncode, delivered) != (0, len(RECIPIENTS)):
            told.restarts.append(fault)
            # Where the log itself cannot be written, only the exit code is left to speak.
            if not done.stderr.strip() and fault.point[0] != "write":
                told.silent.append(fault)
        for hours in (24, 48):
            morning(state, server.port, CREATED + timedelta(hours=hours))
        inspect(told, fault.point, state, server, 1)
    shutil.rmtree(folder)


def met(chosen: list[Fault], folder: Path) -> Told:
    told = Told()
    for number, fault in enumerate(chosen):
        place = folder / str(number)
        place.mkdir()
        meet(told, fault, place)
    return told


def hold(told: Told, tier: str) -> None:
    """Nothing lost; what passes is got over without a start anew; nothing ends in silence."""
    once = [fault for fault in told.restarts if not fault.lasts]
    print(f"restarts after one error: {once}\ncrashes: {told.crashes}\nsilent: {told.silent}")
    print(f"unsound {told.unsound}, doubled {told.doubled}")
    wrong = told.lost + told.invented + told.changed + told.unsound
    record(3, f"{tier}: errors", told.points, varies=True)
    record(3, f"{tier}: lost, invented, changed or unsound", len(wrong), target="= 0")
    record(3, f"{tier}: doubled", len(told.doubled), varies=True)
    record(3, f"{tier}: one error, and a start anew was needed", len(once), target="= 0")
    record(3, f"{tier}: trouble in silence", len(told.silent), target="= 0")
    record(3, f"{tier}: ended by the error", len(told.crashes), target="= 0")


def test_errors_of_the_system_at_a_sample_of_calls(points: list[Point], tmp_path: Path) -> None:
    """A dozen, of several kinds, from one end of the path to the other."""
    every = max(len(faults_at(points, 1)) // 12, 1)
    hold(met(faults_at(points, every), tmp_path), "each change")


@pytest.mark.nightly
def test_errors_of_the_system_at_two_hundred_calls(points: list[Point], tmp_path: Path) -> None:
    """Every kind of error at calls all over the path."""
    every = max(len(faults_at(points, 1)) // WANTED_POINTS, 1)
    told = met(faults_at(points, every), tmp_path)
    assert told.points >= WANTED_POINTS
    hold(told, "nightly")


LASTING = {
    "a disk that takes no writes": ("pwrite64", "EIO"),
    "a disk that is full": ("pwrite64", "ENOSPC"),
    "a disk that confirms nothing": ("fdatasync", "EIO"),
    "no memory for a connection": ("connect", "ENOMEM"),
    "no socket is to be had": ("socket", "EMFILE"),
}
"""What a daemon meets in the middle of its life, until it passes."""
ATTEMPT_WITHIN_S = 100.0
"""A message tried in vain is tried again a minute later, give or take its jitter [s]."""
SOME_BEATS_S = 40.0
"""Long enough for several tries while the error lasts [s]."""


@pytest.mark.nightly
def test_a_daemon_gets_over_a_fault_within_a_minute_of_its_end(tmp_path: Path) -> None:
    """The real program, with errors put into its calls while it runs and taken away again."""
    with ThreadPoolExecutor(len(LASTING)) as pool:
        waiting = {
            name: pool.submit(overcome, *fault, tmp_path / str(number))
            for number, (name, fault) in enumerate(LASTING.items())
        }
    for name, future in waiting.items():
        said, sent_s, messages, is_up = future.result()
        print(name, sent_s, messages, said)
        late = f"{name}: sent after its end"
        record(3, late, sent_s, "s", target="<= 60", found=said, by_clock=True)
        record(3, f"{name}: a start anew was needed", int(not is_up), target="= 0", found=said)
        record(3, f"{name}: lost or doubled", abs(messages - 1), target="= 0", found=said)
        silent = not any(word in said for word in ("did not take it", "cannot be", "failed at"))
        record(3, f"{name}: in silence", int(silent), target="= 0", found=said)


def overcome(call: str, error: str, folder: Path) -> tuple[str, float, int, bool]:
    """Let a daemon meet an error at its second attempt, and take it away a little later."""
    tracer = shutil.which("strace")
    if tracer is None:
        pytest.skip("strace is not installed")
    folder.mkdir()
    with ScriptedSmtp({"mail": "451"}) as server:
        setup = Setup(folder, smtp_port=server.port)
        daemon = setup.start()
        assert daemon.stderr is not None
        assert wait_until(lambda: server.connections > 0)
        time.sleep(1)
        server.faults = {}
        words = ["-f", "-qq", "-o", str(folder / "calls"), "-e", f"inject={call}:error={error}"]
        # Its own log may still be written to: what is said has to be heard.
        fault = subprocess.Popen([tracer, *words, "-p", str(daemon.pid)], stderr=subprocess.DEVNULL)
        met = seconds_until(lambda: "INJECTED" in calls(folder), ATTEMPT_WITHIN_S)
        assert met < ATTEMPT_WITHIN_S, f"{call} {error} was never met"
        time.sleep(SOME_BEATS_S)
        fault.send_signal(signal.SIGINT)
        fault.wait(PATIENCE_S)
        sent_s = seconds_until(lambda: bool(mornings(server)), ATTEMPT_WITHIN_S)
        time.sleep(2)
        is_up, messages = daemon.poll() is None, len(mornings(server))
        _, said = stop(daemon)
    return said, sent_s, messages, is_up


def calls(folder: Path) -> str:
    """Return what strace has written down so far."""
    log = folder / "calls"
    return log.read_text(encoding="utf-8", errors="replace") if log.exists() else ""


def mornings(server: ScriptedSmtp) -> list[bytes]:
    """Return the morning's mails that were accepted."""
    return [one.body for one in server.messages if b"blood meal" in one.body.lower()]
