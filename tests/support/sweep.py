"""A morning with a fault at one system call, and what the mail server and the store make of it.

The calls are taken from a recorded run as (name, ordinal), because that is how strace counts.
"""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import subprocess
import sys
from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import pytest

from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.journal import EntryKind
from strawbell.model.notice import OutboxState
from support import morning as path_of_a_morning
from support.checkout import ROOT
from support.morning import BEGINS, CREATED, GARDEN, RECIPIENTS
from support.scripted_smtp import ScriptedSmtp

PROGRAM = str(Path(path_of_a_morning.__file__))

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


def strace(
    *words: str, state: Path, port: int, program: str = PROGRAM
) -> subprocess.CompletedProcess[str]:
    """Run a program of the tests under strace, or skip."""
    tracer = shutil.which("strace")
    if tracer is None:
        pytest.skip("strace is not installed")
    inherited = [part for part in [os.environ.get("PYTHONPATH")] if part]
    return subprocess.run(
        [tracer, "-f", "-qq", *words, sys.executable, program, str(state), str(port)],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([*inherited, str(ROOT / "tests")])},
    )


def recorded(folder: Path, program: str = PROGRAM) -> list[Point]:
    """Return every call of an undisturbed run, from the store's opening to the end.

    A call is known by its number among those of its name, so each program has points of its own.
    """
    log, state = folder / "calls", folder / "record" / "s.db"
    with ScriptedSmtp() as server:
        done = strace("-o", str(log), state=state, port=server.port, program=program)
        if done.returncode != 0 and "ptrace" in done.stderr.lower():
            pytest.skip("this machine does not allow tracing")
        assert done.returncode == 0, done.stderr
        assert len(server.messages) == len(RECIPIENTS)
    return points_of(log)


def points_of(log: Path) -> list[Point]:
    """Return the calls of a log of strace from the look for `BEGINS` on."""
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
        assert sum(accepted.values()) <= len(RECIPIENTS) + kills, f"one double a kill, at {point}"
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
