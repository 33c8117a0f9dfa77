"""kill -9 while a damaged store is mended and told of: one incident is told, once, and no more.

The calls are taken from a recorded start as (name, ordinal), because that is how strace counts.
"""

from __future__ import annotations

import json
import os
import shutil
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from strawbell.app.trouble import STORE_MENDED
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.journal import EntryKind, Journal
from strawbell.model.notice import OutboxState
from support import mending
from support.measured import record
from support.mending import NAME, NOW, fill, outbox, plan, start
from support.sweep import Point, points_of, strace

PROGRAM = str(Path(mending.__file__))
SAMPLE_EVERY = 389
NIGHTLY_EVERY = 12
DURABLE = {"rename", "renameat", "renameat2", "unlink", "fsync", "fdatasync"}
"""The calls that make something lasting are where a wrong order would show."""
PAGE_BYTES = 4096


def first_page(path: Path) -> None:
    """The copy is restored."""
    with path.open("r+b") as file:
        file.write(os.urandom(PAGE_BYTES))


def vanished(path: Path) -> None:
    """There is no damaged file to keep, and the copy is restored."""
    path.unlink()


def without_a_copy(path: Path) -> None:
    """The store begins anew."""
    shutil.rmtree(path.parent / "backups")
    first_page(path)


def harmed_write_ahead(path: Path) -> None:
    """The store is opened without its last changes."""
    path.with_name(f"{NAME}-wal").write_bytes(os.urandom(3 * PAGE_BYTES))


HARMS: tuple[Callable[[Path], None], ...] = (
    first_page,
    vanished,
    without_a_copy,
    harmed_write_ahead,
)


@dataclass
class Tally:
    """What kills of one harm came to."""

    points: int = 0
    unreached: list[Point] = field(default_factory=list)
    wrong: dict[Point, list[str]] = field(default_factory=dict)
    doubled: int = 0


def harmed_by(harm: Callable[[Path], None], folder: Path) -> Path:
    """Return a new folder with a store that was harmed in one way."""
    place = folder / harm.__name__
    fill(place / "state" / NAME)
    harm(place / "state" / NAME)
    return place


def calls(harmed: Path, folder: Path) -> list[Point]:
    """Return every call of an undisturbed start, from the store's opening to the end."""
    shutil.copytree(harmed, folder)
    log = folder / "calls"
    done = strace("-o", str(log), state=folder / "state" / NAME, port=0, program=PROGRAM)
    if done.returncode != 0 and "ptrace" in done.stderr.lower():
        pytest.skip("this machine does not allow tracing")
    assert done.returncode == 0, done.stderr
    return points_of(log)


def what_is_wrong(folder: Path, harmed: Path) -> list[str]:
    """Return what differs from one incident, told once, after as many starts as it takes."""
    path = folder / "state" / NAME
    for _ in range(2):
        journal = start(path)
    told = [row for row in journal if row.state == STORE_MENDED]
    rows = outbox(path)
    notices = [row for row in rows if row.unique_key != "k1"]
    files = {one.name: one for one in path.parent.iterdir()}
    aside = [name for name in files if ".damaged-" in name and not name.endswith("-wal")]
    before = harmed / "state" / NAME
    found = []
    if len(told) != 1:
        found.append(f"{len(told)} incidents in the journal")
    if [row.state for row in notices] != [OutboxState.ACCEPTED]:
        found.append(f"notices {[row.state.value for row in notices]}")
    if not all(row.text in line["text"] for row in told for line in letters(folder)):
        found.append("something else was sent")
    if any(row.unique_key == "k1" and row.state is not OutboxState.EXPIRED for row in rows):
        found.append("an old message was sent again")
    expected = [before.read_bytes()] if before.exists() else []
    if [files[name].read_bytes() for name in aside] != expected:
        found.append(f"kept aside: {aside}")
    if leftovers := [name for name in files if any(word in name for word in PASSING)]:
        found.append(f"left over: {leftovers}")
    if notes(journal) != survivors(harmed):
        found.append(f"{notes(journal)} rows of {survivors(harmed)}")
    return found


PASSING = (".mended-", ".fresh-", ".incidents")


def survivors(harmed: Path) -> int:
    """Return how many rows an undisturbed mending keeps."""
    folder = harmed.with_name(f"{harmed.name}-undisturbed")
    if not folder.exists():
        shutil.copytree(harmed, folder)
        start(folder / "state" / NAME)
    with SqliteStore(folder / "state" / NAME, NOW) as store:
        return notes(store.journal(plan().name))


def notes(journal: Journal) -> int:
    """Return how many of the rows are there that the store was filled with."""
    return sum(row.kind is EntryKind.NOTE for row in journal)


def letters(folder: Path) -> list[dict[str, str]]:
    """Return what the grower got."""
    return [json.loads(line) for line in (folder / "told").read_bytes().splitlines()]


def killed(tally: Tally, harmed: Path, folder: Path, point: Point) -> None:
    """Kill a start at one call, then start again."""
    shutil.copytree(harmed, folder)
    name, ordinal = point
    inject = ("-o", "/dev/null", "-e", f"inject={name}:signal=SIGKILL:when={ordinal}")
    done = strace(*inject, state=folder / "state" / NAME, port=0, program=PROGRAM)
    tally.points += 1
    if done.returncode == 0:
        tally.unreached.append(point)
    if wrong := what_is_wrong(folder, harmed):
        tally.wrong[point] = wrong
    got = Counter(letter["id"] for letter in letters(folder))
    tally.doubled += sum(got.values()) - 1
    if len(got) != 1 or max(got.values()) > 2:
        tally.wrong.setdefault(point, []).append(f"got {got}")
    shutil.rmtree(folder)


def sweep(harmed: Path, chosen: Sequence[Point], folder: Path) -> Tally:
    tally = Tally()
    for number, point in enumerate(chosen):
        killed(tally, harmed, folder / str(number), point)
    return tally


def hold(tallies: Sequence[Tally], tier: str) -> None:
    """One incident in the journal and one notice, all that could be saved, nothing left over."""
    points = sum(tally.points for tally in tallies)
    wrong = [tally.wrong for tally in tallies if tally.wrong]
    record(1, f"{tier}: kills while a store is mended", points, varies=True)
    what = f"{tier}: incidents of them lost, told twice, or with other rows"
    record(1, what, sum(map(len, wrong)), target="= 0", found=wrong)
    assert sum(len(tally.unreached) for tally in tallies) <= points // 10


def test_a_kill_while_a_store_is_mended_loses_no_incident_and_tells_none_twice(
    tmp_path: Path,
) -> None:
    """For one harm every second call that makes something lasting, for the others a few of all."""
    tallies = []
    for harm in HARMS:
        harmed = harmed_by(harm, tmp_path)
        points = calls(harmed, tmp_path / f"{harm.__name__}-recorded")
        chosen = points[::SAMPLE_EVERY]
        if harm is first_page:
            chosen = [point for point in points if point[0] in DURABLE][::2]
        tallies.append(sweep(harmed, chosen, tmp_path))
    hold(tallies, "each change")


@pytest.mark.nightly
def test_a_kill_at_calls_all_over_a_mending_loses_no_incident(tmp_path: Path) -> None:
    """The whole path of every harm; all 4,700 calls, one after the other, take over an hour."""
    tallies = []
    for harm in HARMS:
        harmed = harmed_by(harm, tmp_path)
        points = calls(harmed, tmp_path / f"{harm.__name__}-recorded")
        tallies.append(sweep(harmed, points[::NIGHTLY_EVERY], tmp_path))
    hold(tallies, "nightly")
