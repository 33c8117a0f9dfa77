"""Started twice or ten times, one works and the others say who; unlocked, no mail doubles."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from email import message_from_bytes
from pathlib import Path
from statistics import median

import pytest

from strawbell.edges.door import owner_of
from support import unlocked
from support.daemon_process import PATIENCE_S, Setup, stop, wait_until
from support.measured import record
from support.smtp_sink import smtp_sink

REFUSED = 2
TAKEOVERS = 3


@dataclass
class Round:
    """What became of the daemons started at once; times are of the processor."""

    owner: int
    works: bool
    codes: list[int] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    cpu_s: list[float] = field(default_factory=list)

    @property
    def nameless(self) -> list[str]:
        """Refusals that do not name the owner."""
        return [line for line in self.said if f"process {self.owner}." not in line]


@pytest.fixture(scope="module", autouse=True)
def compiled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Let Python keep what it compiles, as an installed program has it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)
        patch.setenv("PYTHONPYCACHEPREFIX", str(tmp_path_factory.mktemp("compiled")))
        Setup(tmp_path_factory.mktemp("first")).command("run", "--once")
        yield


def started(setup: Setup, program: list[str], *words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [*program, "--config", str(setup.config), *words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        env={name: value for name, value in os.environ.items() if name != "STATE_DIRECTORY"},
    )


def one_round(setup: Setup, how_many: int) -> Round:
    """Start daemons at once, wait for all but one to end, then end the one."""
    program = [sys.executable, "-m", "strawbell"]
    processes = [started(setup, program, "run") for _ in range(how_many)]
    alive = {process.pid: process for process in processes}
    ended: list[tuple[int, float, str]] = []
    deadline = time.monotonic() + PATIENCE_S * 3
    while len(alive) > 1 and time.monotonic() < deadline:
        pid, status, usage = _ended(alive)
        if pid == 0:
            time.sleep(0.02)
            continue
        process = alive.pop(pid)
        process.returncode = os.waitstatus_to_exitcode(status)
        assert process.stderr is not None
        ended.append((process.returncode, usage, process.stderr.read()))
        process.stderr.close()
    assert len(alive) == 1, f"{len(alive)} still run, {ended}"
    (owner,) = alive.values()
    works = wait_until((setup.folder / "state" / "notices").is_dir)
    works = works and owner.poll() is None
    code, said = stop(owner)
    assert code == 0, said
    return Round(
        owner.pid,
        works,
        [one[0] for one in ended],
        [one[2] for one in ended],
        [one[1] for one in ended],
    )


def _ended(alive: dict[int, subprocess.Popen[str]]) -> tuple[int, int, float]:
    """Return a process that has ended, its status, and the time it took of the processor [s]."""
    for pid in alive:
        found, status, usage = os.wait4(pid, os.WNOHANG)
        if found:
            return found, status, usage.ru_utime + usage.ru_stime
    return 0, 0, 0.0


def hold(rounds: list[Round], tier: str) -> None:
    """One works in each round; each of the others ends quickly, with code and owner."""
    codes = Counter(code for one in rounds for code in one.codes)
    assert set(codes) == {REFUSED}, codes
    nameless = [line for one in rounds for line in one.nameless]
    assert nameless == []
    usual = median(cpu_s for one in rounds for cpu_s in one.cpu_s)
    record(15, f"{tier}: rounds", len(rounds))
    record(15, f"{tier}: daemons refused", codes[REFUSED])
    idle = sum(not one.works for one in rounds)
    record(15, f"{tier}: rounds in which more or less than one works", idle, target="= 0")
    starts = usual / bare_start_s()
    record(
        15,
        f"{tier}: a refusal (median)",
        round(starts, 2),
        "starts of the libraries",
        target="<= 4",
    )


def bare_start_s() -> float:
    """Return what a process takes that loads the libraries of the configuration, here and now.

    A refusal is told in these: a machine at half the speed, or one with other work to do, takes
    twice as long for both.
    """
    taken = []
    for _ in range(3):
        process = subprocess.Popen([sys.executable, "-c", "import pydantic_settings, requests"])
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        taken.append(usage.ru_utime + usage.ru_stime)
    return median(taken)


def rounds_of(folder: Path, sizes: list[int]) -> list[Round]:
    came_to = []
    for number, how_many in enumerate(sizes):
        place = folder / str(number)
        place.mkdir()
        came_to.append(one_round(Setup(place), how_many))
    return came_to


def test_of_daemons_started_at_once_one_works(tmp_path: Path) -> None:
    """Pairs and a crowd of ten, each round on a state of its own."""
    hold(rounds_of(tmp_path, [2, 2, 2, 10]), "each change")


@pytest.mark.nightly
def test_in_a_hundred_rounds_one_works(tmp_path: Path) -> None:
    """Seventy pairs and thirty crowds."""
    hold(rounds_of(tmp_path, [2] * 70 + [10] * 30), "nightly")


def test_a_second_configuration_works_on_no_store_that_has_an_owner(tmp_path: Path) -> None:
    """The lock belongs to the state, whatever configuration names it."""
    setup = Setup(tmp_path)
    owner = setup.start()
    assert wait_until(lambda: owner_of(tmp_path / "state") == owner.pid)
    other = tmp_path / "other.toml"
    other.write_text(setup.config.read_text(encoding="utf-8"), encoding="utf-8")
    second = setup.command("--config", str(other), "run", "--once")
    code, _ = stop(owner)
    assert (second.returncode, code) == (REFUSED, 0)
    assert f"process {owner.pid}" in second.stderr


def test_after_a_kill_the_next_one_takes_over(tmp_path: Path) -> None:
    """Nothing is left to be cleaned up; from the kill to the next owner, the best of three."""
    setup = Setup(tmp_path)
    state = tmp_path / "state"
    taken_s = []
    daemon = setup.start()
    assert wait_until(lambda: owner_of(state) == daemon.pid)
    for _ in range(TAKEOVERS):
        daemon.send_signal(signal.SIGKILL)
        begins = time.monotonic()
        daemon.communicate()
        successor = setup.start()
        pid = successor.pid
        assert wait_until(lambda: owner_of(state) == pid)  # noqa: B023 - called at once
        taken_s.append(time.monotonic() - begins)
        daemon = successor
    code, said = stop(daemon)
    assert (code, "Traceback" in said) == (0, False)
    record(15, "takeover after a kill", min(taken_s), "s", target="<= 2", by_clock=True)


def bypassed(folder: Path, how_many: int) -> int:
    """Let daemons without a lock do the same morning at once; return how many mails doubled."""
    with smtp_sink("none") as sink:
        setup = Setup(folder, smtp_port=sink.port)
        program = [sys.executable, unlocked.__file__]
        processes = [started(setup, program, "run", "--once") for _ in range(how_many)]
        said = [process.communicate(timeout=PATIENCE_S * 6)[1] for process in processes]
        assert not any("Traceback" in line for line in said), said
        # Whoever found the store busy leaves work behind for the next.
        setup.command("run", "--once")
        ids = Counter(
            message_from_bytes(envelope.content)["Message-ID"] for envelope in sink.envelopes
        )
    assert len(ids) == 1, f"{ids}, {said}"
    return sum(ids.values()) - len(ids)


def test_without_the_lock_no_mail_doubles(tmp_path: Path) -> None:
    """The key of a message in the database is the second line."""
    doubles = 0
    for number in range(2):
        place = tmp_path / str(number)
        place.mkdir()
        doubles += bypassed(place, 2)
    record(15, "without the lock: doubles", doubles, target="= 0")


@pytest.mark.nightly
def test_without_the_lock_no_mail_doubles_in_many_rounds(tmp_path: Path) -> None:
    """Thirty pairs and six crowds."""
    doubles = 0
    for number, how_many in enumerate([2] * 30 + [10] * 6):
        place = tmp_path / str(number)
        place.mkdir()
        doubles += bypassed(place, how_many)
    record(15, "nightly, without the lock: doubles", doubles, target="= 0")
