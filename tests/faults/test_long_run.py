"""Half a year of random faults: nothing lost, invented, doubled without cause, or left to grow."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from support import long_run
from support.checkout import ROOT
from support.measured import record

DAYS = 180
SEASONS = (("mortal", 1), ("immortal", 2))
"""What a run of each change lives through; an immortal process shows whether memory grows."""
NIGHTLY_SEASONS = [("mortal", seed) for seed in range(3, 21)] + [
    ("immortal", seed) for seed in (21, 22)
]
STORE_LIMIT_KB = 2000
MESSAGES_A_SEASON = 200
"""Fewer accepted messages than these would be no measure of punctuality."""
DRIFT_LIMIT_KIB = 2048
NEVER = (
    "lost",
    "falsely called sent",
    "invented",
    "doubles that had no cause",
    "doubles of other bytes",
    "silent failures",
    "still queued",
    "wrong advice",
    "changed history",
    "unsound",
)


def lived(kind: str, seed: int, folder: Path) -> dict[str, Any]:
    """Return what became of one season, lived by a process of its own."""
    place = folder / f"{kind}-{seed}"
    place.mkdir()
    words = [str(seed), str(DAYS), str(place), kind]
    done = subprocess.run(
        [sys.executable, str(Path(long_run.__file__)), *words],
        capture_output=True,
        text=True,
        check=False,
        timeout=1200,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(map(str, _places()))},
    )
    assert done.returncode == 0, f"{kind} {seed}: {done.stderr}"
    came_to: dict[str, Any] = json.loads(done.stdout)
    return {**came_to, "season": f"{kind} {seed}"}


def _places() -> list[Path | str]:
    inherited = os.environ.get("PYTHONPATH")
    return [*([inherited] if inherited else []), ROOT / "daemon", ROOT / "tests"]


def hold(seasons: list[dict[str, Any]], tier: str) -> None:
    """Hold every season to every promise, and record the sums."""
    for name in NEVER:
        wrong = {one["season"]: one[name] for one in seasons if one[name]}
        examples = [one.get(f"{name} examples") for one in seasons if one[name]]
        assert wrong == {}, f"{name}: {wrong} {examples}"
    faults: dict[str, int] = {}
    for one in seasons:
        assert one["doubles"] <= one["unknown outcomes"], one["season"]
        for name, times in one["counts"].items():
            faults[name] = faults.get(name, 0) + times
    for name in ("kills", "full disks", "locked stores", "clock steps", "days down", "for-good"):
        assert faults[name] > 0, f"no {name}: the season was too kind"
    assert faults["judged as to be held"] > 0
    hold_punctual(seasons, tier)
    lasting = [one for one in seasons if one["season"].startswith("immortal")]
    record(22, f"{tier}: seasons", len(seasons))
    broken = sum(one[name] for one in seasons for name in NEVER)
    record(22, f"{tier}: lost, invented, falsely sent, silent or wrong", broken, target="= 0")
    for name in ("messages", "doubles", "unknown outcomes"):
        record(22, f"{tier}: {name}", sum(one[name] for one in seasons), varies=True)
    for name in ("kills", "full disks", "clock steps"):
        record(22, f"{tier}: {name}", faults[name], varies=True)
    largest = max(one["store bytes"] for one in seasons) / 1000
    record(22, f"{tier}: largest store", largest, "kB", target=f"<= {STORE_LIMIT_KB}")
    drift = float(max(one["memory drift KiB"] for one in lasting))
    record(22, f"{tier}: memory grown", drift, "KiB", target=f"<= {DRIFT_LIMIT_KIB}")
    grown = max(one["open files grown"] for one in lasting)
    record(22, f"{tier}: open files grown", grown, target="= 0")


def hold_punctual(seasons: list[dict[str, Any]], tier: str) -> None:
    """Hold the lateness of messages, measured from the moment nothing kept them back (I6)."""
    late_s = sorted(one for season in seasons for one in season["late s"])
    latest = max((one["latest"] for one in seasons), default=None)
    assert len(late_s) >= MESSAGES_A_SEASON * len(seasons), len(late_s)
    p99_s = late_s[math.ceil(len(late_s) * 0.99) - 1]
    record(22, f"{tier}: lateness, 99 of 100 messages", p99_s, "s", target="<= 60")
    record(22, f"{tier}: lateness, most", late_s[-1], "s", target="<= 120", found=latest)


def all_lived(seasons: list[tuple[str, int]], folder: Path) -> list[dict[str, Any]]:
    """Live seasons, as many at once as there are cores."""
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        return list(pool.map(lambda one: lived(*one, folder), seasons))


def test_two_seasons_of_faults_keep_every_promise(tmp_path: Path) -> None:
    """One with a process that is killed again and again, one with a process that lives on."""
    hold(all_lived(list(SEASONS), tmp_path), "each change")


@pytest.mark.nightly
def test_twenty_seasons_of_faults_keep_every_promise(tmp_path: Path) -> None:
    """Other seeds than in the run of each change."""
    hold(all_lived(NIGHTLY_SEASONS, tmp_path), "nightly")
