"""kill -9 at every system call of the delivery path, then a restart.

The calls are taken from a recorded run as (name, ordinal), because that is how strace counts. A
point that is not reached is counted as such and never as passed.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from support.measured import record
from support.morning import CREATED, RECIPIENTS, morning
from support.scripted_smtp import ScriptedSmtp
from support.sweep import Point, Tally, inspect, recorded, strace

SAMPLE_EVERY = 17
"""A prime, so that the sample does not keep step with the loop over two messages."""

GAP_CALLS_PER_MESSAGE = 10
"""Doubles may come only from a gap this narrow between acceptance and record."""


@pytest.fixture(scope="module")
def points(tmp_path_factory: pytest.TempPathFactory) -> list[Point]:
    return recorded(tmp_path_factory.mktemp("recorded"))


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
