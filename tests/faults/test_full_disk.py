"""A full disk loses and doubles nothing, is told past the disk, and needs no start anew."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from strawbell.app.trouble import TROUBLED_BEAT_S
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.notice import NoticeKind, OutboxState
from support import full_disk
from support.checkout import ROOT
from support.fake_clock import FakeClock
from support.gardens import START, at, on_day
from support.measured import record
from support.simulated_daemon import Life, Paper
from support.small_disk import on_a_disk_of

PROGRAM = Path(full_disk.__file__)
TICK_S = 60
"""A tick of the promise: one beat of a daemon that has no trouble [s]."""


def on_a_disk(case: str, size_kib: int, folder: Path, disk: str = "") -> dict[str, Any]:
    """Return what became of a case, lived by a process on a disk of its own."""
    mounted = folder / disk
    mounted.mkdir(parents=True, exist_ok=True)
    words = [sys.executable, str(PROGRAM), case, str(folder)]
    inherited = [part for part in [os.environ.get("PYTHONPATH")] if part]
    done = subprocess.run(
        on_a_disk_of(size_kib, mounted, words),
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([*inherited, str(ROOT / "tests")])},
    )
    assert done.returncode == 0, done.stderr
    came_to: dict[str, Any] = json.loads(done.stdout)
    return came_to


@pytest.mark.parametrize("size_kib", [768, 1024, 2048])
def test_a_full_disk_loses_and_doubles_nothing(tmp_path: Path, size_kib: int) -> None:
    """Full before the start, while queueing, claiming, folding in and recording."""
    came_to = on_a_disk("store", size_kib, tmp_path / "disk")
    disk_of = f"disk of {size_kib} KiB"
    started, refused = came_to["starts refused"], came_to["refused"]
    record(8, f"{disk_of}: starts refused in a sentence, of 2", started, target=">= 1")
    record(8, f"{disk_of}: refused in a sentence", refused, target=">= 1", varies=True)
    folded = came_to["fold-ins held back"]
    record(8, f"{disk_of}: write-ahead file not folded in", folded, target="= 1")
    messages = came_to["messages"]
    record(8, f"{disk_of}: messages when there is room", messages, target=">= 40", varies=True)
    wrong = sum(came_to[name] for name in ("lost", "doubled", "unrecorded", "unaccepted"))
    found = came_to
    record(
        8, f"{disk_of}: lost, doubled or sent without a record", wrong, target="= 0", found=found
    )


def read_only(store: SqliteStore, refuses: bool) -> None:
    store._connection.execute(f"PRAGMA query_only = {int(refuses)}")


def no_page_more(store: SqliteStore, refuses: bool) -> None:
    """Let the file grow no further: the database's own "database or disk is full"."""
    pages = store._connection.execute("PRAGMA page_count").fetchone()[0]
    store._connection.execute(f"PRAGMA max_page_count = {pages if refuses else 1_000_000}")


Refuse = Callable[[SqliteStore, bool], None]
STAGES: dict[str, tuple[str, Refuse]] = {
    "no page more for the morning": ("morning", no_page_more),
    "nothing taken of the morning": ("morning", read_only),
    "no claim taken": ("claim", read_only),
    "no outcome taken": ("outcome", read_only),
}


def lived(stage: str, refuse: Refuse, folder: Path) -> dict[str, float]:
    """Let a store refuse from a stage on for a quarter of an hour; return what became of it."""
    clock = FakeClock(at(START))
    mail, desktop = Paper(clock, "email", ("a@example.org",)), Paper(clock, "desktop", ("d",))
    with SqliteStore(folder / "strawbell.db", clock.now(), owner=True) as store:
        days = Life(store, clock, (mail, desktop))
        days.live(at(on_day(2)) - timedelta(minutes=1), step=timedelta(hours=2))
        began, sent_before = clock.now(), len(mail.rows)
        step = timedelta(seconds=TROUBLED_BEAT_S)
        if stage == "morning":
            refuse(store, True)
        elif stage == "outcome":
            mail.before_answer = lambda row: refuse(store, True)
        else:
            real = days.daemon._send

            def unclaimed() -> bool:
                refuse(store, True)
                return real()

            days.daemon._send = unclaimed  # type: ignore[method-assign]
        days.live(began + timedelta(minutes=15), step=step)
        refused_at = began + timedelta(minutes=1)
        mail.before_answer = lambda row: None
        days.daemon.__dict__.pop("_send", None)
        refuse(store, False)
        room_at = clock.now()
        days.live(room_at + timedelta(minutes=5), step=step)
        on = on_day(2)
        alarms = {
            paper.name: [
                when
                for when, row in paper.sent
                if row.kind is NoticeKind.TROUBLE and when < room_at
            ]
            for paper in (mail, desktop)
        }
        rows = [row for row in days.outbox() if row.local_date == on]
        waiting = [row for row in rows if row.state is not OutboxState.ACCEPTED]
        keys = [row.unique_key for row in mail.rows[sent_before:] + desktop.rows]
        late = [
            (when - room_at).total_seconds()
            for paper in (mail, desktop)
            for when, row in paper.sent
            if when >= room_at
        ]
    return {
        "told": min(len(times) for times in alarms.values()),
        "told at most": max(len(times) for times in alarms.values()),
        "told after s": max((t[0] - refused_at).total_seconds() for t in alarms.values() if t),
        "sent after s": max(late, default=0.0),
        "wrong": len(waiting) + len(keys) - len(set(keys)) + int(len(rows) < 4),
    }


def test_a_store_that_takes_nothing_is_told_past_it_within_a_tick(tmp_path: Path) -> None:
    """On every channel, once; when it takes again all goes out within a minute."""
    came_to = {}
    for name, (stage, refuse) in STAGES.items():
        folder = tmp_path / name.replace(" ", "-")
        folder.mkdir()
        came_to[name] = lived(stage, refuse, folder)
    each = came_to.values()
    record(8, "stages of a daemon's day refused", len(came_to), target=">= 4")
    told = min(one["told"] for one in each)
    record(8, "told past the store on each channel, least", told, target="= 1", found=came_to)
    most = max(one["told at most"] for one in each)
    record(8, "told past the store on each channel, most", most, target="= 1", found=came_to)
    late = max(one["told after s"] for one in each)
    record(8, "from the refusal until told", float(late), "s", target=f"<= {TICK_S}", found=came_to)
    late = max(one["sent after s"] for one in each)
    record(8, "from room until all is sent", float(late), "s", target="<= 60", found=came_to)
    wrong = sum(one["wrong"] for one in each)
    record(8, "refused in the day: lost or doubled", int(wrong), target="= 0", found=came_to)


@pytest.mark.nightly
def test_a_daemon_on_a_full_disk_tells_it_and_recovers_by_itself(tmp_path: Path) -> None:
    """The real program, a real disk, a real mail server: full at the start, and while it runs."""
    with ThreadPoolExecutor(2) as pool:
        running = {
            case: pool.submit(on_a_disk, case, 768, tmp_path / case, "state")
            for case in ("daemon-start", "daemon-running")
        }
    for case, future in running.items():
        came_to = future.result()
        name = {"daemon-start": "full at the start", "daemon-running": "full while it runs"}[case]
        print(case, json.dumps(came_to, indent=1))
        assert came_to["is up"], came_to["said"]
        assert came_to["code"] == 0
        assert "Traceback" not in came_to["said"]
        told = len(came_to["told while full"])
        record(8, f"real disk, {name}: told while it is full", told, target="= 1", found=came_to)
        mornings = sum("feed" in line for line in came_to["told"])
        record(8, f"real disk, {name}: mornings in the end", mornings, target="= 1", found=came_to)
        seconds = came_to["sent after s"]
        late = f"real disk, {name}: sent after there is room"
        record(8, late, seconds, "s", target="<= 60", by_clock=True)
