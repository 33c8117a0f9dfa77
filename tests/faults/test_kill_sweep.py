"""kill -9 at every system call of the delivery path, then a restart.

The calls are taken from a recorded run as (name, ordinal), because that is how strace counts. A
point that is not reached is counted as such and never as passed.
"""

from __future__ import annotations

import re
import shutil
import sqlite3
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import pytest

from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.journal import EntryKind
from strawbell.model.notice import OutboxState
from support import morning as path_of_a_morning
from support.measured import record
from support.morning import BEGINS, CREATED, GARDEN, RECIPIENTS, morning
from support.scripted_smtp import ScriptedSmtp

PROGRAM = str(Path(path_of_a_morning.__file__))
SAMPLE_EVERY = 17
"""A prime, so that the sample does not keep step with the loop over two messages."""

GAP_CALLS_PER_MESSAGE = 10
"""Doubles may come only from a gap this narrow between acceptance and record."""

ERRORS = (("write", "ENOSPC"), ("pwrite64", "ENOSPC"), ("fdatasync", "EIO"), ("pread64", "EIO"))

Point = tuple[str, int]


@dataclass
class Tally:
    """What a sweep came to."""

    points: int = 0
    unreached: list[Point] = field(default_factory=list)
    lost: list[Point] = field(default_factory=list)
    invented: list[Point] = field(default_factory=list)
    doubled: list[Point] = field(default_factory=list)
    changed: list[Point] = field(default_factory=list)
    unsound: list[Point] = field(default_factory=list)


def strace(*words: str, state: Path, port: int) -> subprocess.CompletedProcess[str]:
    program = shutil.which("strace")
    if program is None:
        pytest.skip("strace is not installed")
    return subprocess.run(
        [program, "-f", "-qq", *words, sys.executable, PROGRAM, str(state), str(port)],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def recorded(folder: Path) -> list[Point]:
    """Return every call of an undisturbed morning, from the store's opening to the end."""
    log = folder / "calls"
    with ScriptedSmtp() as server:
        done = strace("-o", str(log), state=folder / "record" / "s.db", port=server.port)
        if done.returncode != 0 and "ptrace" in done.stderr.lower():
            pytest.skip("this machine does not allow tracing")
        assert done.returncode == 0, done.stderr
        assert len(server.messages) == len(RECIPIENTS)
    counts: Counter[str] = Counter()
    points: list[Point] = []
    begun = False
    for line in log.read_text(encoding="utf-8", errors="replace").splitlines():
        call = re.match(r"\d+ +([a-z0-9_]+)\(", line)
        if call is None:
            continue
        name = call.group(1)
        counts[name] += 1
        begun = begun or BEGINS in line
        if begun and name not in {"exit_group", "exit", "execve"}:
            points.append((name, counts[name]))
    return points


@pytest.fixture(scope="module")
def points(tmp_path_factory: pytest.TempPathFactory) -> list[Point]:
    return recorded(tmp_path_factory.mktemp("recorded"))


def inspect(tally: Tally, point: Point, state: Path, server: ScriptedSmtp, kills: int) -> None:
    """Compare what the server has with what was promised, after everything is drained."""
    accepted = Counter(message.recipient for message in server.messages)
    wanted = {f"rcpt TO:<{recipient}>" for recipient in RECIPIENTS}
    if wanted - set(accepted):
        tally.lost.append(point)
    if set(accepted) - wanted:
        tally.invented.append(point)
    if max(accepted.values(), default=0) > 1:
        tally.doubled.append(point)
        assert sum(accepted.values()) <= len(RECIPIENTS) + 1, f"one double a kill, at {point}"
    for recipient in accepted:
        bodies = {one.body for one in server.messages if one.recipient == recipient}
        if len(bodies) != 1:
            tally.changed.append(point)
    with SqliteStore(state, CREATED, owner=True) as store:
        rows = store.outbox(GARDEN, date.min)
        told = [row for row in store.journal(GARDEN) if row.kind is EntryKind.BRIEF]
        sound = store.incident == "" and len(told) == 1 and len(rows) == len(RECIPIENTS)
        if not sound or any(row.state is not OutboxState.ACCEPTED for row in rows):
            tally.unsound.append(point)
    hand = sqlite3.connect(state)
    if hand.execute("PRAGMA integrity_check").fetchone()[0] != "ok":
        tally.unsound.append(point)
    hand.close()


def disturbed(tally: Tally, point: Point, fault: str, folder: Path, again: bool = False) -> None:
    """Run a morning with a fault at one call, then as many undisturbed ones as it takes."""
    name, ordinal = point
    state = folder / "s.db"
    tally.points += 1
    with ScriptedSmtp() as server:
        inject = ("-o", "/dev/null", "-e", f"inject={name}:{fault}:when={ordinal}")
        done = strace(*inject, state=state, port=server.port)
        if fault == "signal=SIGKILL" and done.returncode == 0:
            tally.unreached.append(point)
        if again:
            strace(*inject, state=state, port=server.port)
        for hours in (3, 12):
            morning(state, server.port, CREATED + timedelta(hours=hours))
        inspect(tally, point, state, server, 2 if again else 1)
    shutil.rmtree(folder)


def sweep(chosen: Iterator[Point] | list[Point], fault: str, folder: Path, **rest: bool) -> Tally:
    tally = Tally()
    for number, point in enumerate(chosen):
        place = folder / str(number)
        place.mkdir()
        disturbed(tally, point, fault, place, **rest)
    return tally


def report(tally: Tally) -> None:
    print(
        f"points {tally.points}, unreached {len(tally.unreached)}, lost {len(tally.lost)}, "
        f"invented {len(tally.invented)}, doubles {len(tally.doubled)}, "
        f"changed {len(tally.changed)}, unsound {len(tally.unsound)}; doubles at {tally.doubled}"
    )


def hold(tally: Tally, row: int, what: str) -> None:
    """Nothing lost, nothing invented, doubles only in the gap and with the same bytes."""
    report(tally)
    record(row, what, tally.points, varies=True)
    wrong = tally.lost + tally.invented + tally.changed + tally.unsound
    record(row, f"{what}: lost, invented, changed or unsound", len(wrong), target="= 0")
    most = GAP_CALLS_PER_MESSAGE * len(RECIPIENTS)
    record(row, f"{what}: doubled", len(tally.doubled), target=f"<= {most}", varies=True)
    assert tally.lost == []
    assert tally.invented == []
    assert tally.changed == []
    assert tally.unsound == []
    assert len(tally.doubled) <= GAP_CALLS_PER_MESSAGE * len(RECIPIENTS)


def test_a_sample_of_kills_loses_nothing(points: list[Point], tmp_path: Path) -> None:
    """Every seventeenth call of the path, each killed and restarted."""
    chosen = points[::SAMPLE_EVERY]
    tally = sweep(chosen, "signal=SIGKILL", tmp_path)
    hold(tally, 1, "kills of a sample")
    assert len(tally.unreached) <= len(chosen) // 10


def test_kills_around_each_synced_write_lose_nothing(points: list[Point], tmp_path: Path) -> None:
    """The calls that make something durable are where a wrong order would show."""
    chosen = [point for point in points if point[0] in {"fdatasync", "sendto"}]
    tally = sweep(chosen, "signal=SIGKILL", tmp_path)
    hold(tally, 1, "kills at syncs and sends")
    assert tally.unreached == []


@pytest.mark.nightly
def test_a_kill_at_every_call_loses_nothing(points: list[Point], tmp_path: Path) -> None:
    """The whole path, call by call."""
    tally = sweep(points, "signal=SIGKILL", tmp_path)
    hold(tally, 1, "kills at every call")
    record(1, "calls not reached", len(tally.unreached), varies=True)
    assert len(tally.unreached) <= len(points) // 20


@pytest.mark.nightly
def test_a_second_kill_during_recovery_loses_nothing(points: list[Point], tmp_path: Path) -> None:
    """A hundred points, each killed twice at the same call before the restart that gets through."""
    chosen = points[:: max(len(points) // 100, 1)]
    tally = sweep(chosen, "signal=SIGKILL", tmp_path, again=True)
    hold(tally, 1, "second kills")
    assert tally.lost == tally.invented == tally.changed == tally.unsound == []


@pytest.mark.nightly
@pytest.mark.parametrize(("name", "error"), ERRORS)
def test_a_failing_call_loses_nothing(
    points: list[Point], tmp_path: Path, name: str, error: str
) -> None:
    """Each write, sync and read of the path fails once."""
    chosen = [point for point in points if point[0] == name]
    tally = sweep(chosen, f"error={error}", tmp_path)
    hold(tally, 3, f"{error} at each {name}")
