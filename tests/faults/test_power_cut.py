"""The power goes at any of twenty commits: what was not synced is cut, garbled or missing.

A model of the loss, not a real one: of the bytes that a commit wrote, some are taken away again
before the store is opened. What was synced before stays. The state found is that before the
commit or that after it, and what had been recorded as sent stays so.
"""

from __future__ import annotations

import random
import re
import shutil
import sqlite3
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest

from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import OutboxRow, OutboxState
from support.measured import record
from support.queued import GARDEN, queued

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
COMMITS = 20
TEXT_BYTES = 120_000
"""So long that the write-ahead file is folded in and begun anew several times."""
SECTOR_BYTES = 512
PAGE_BYTES = 4096
HEADER_BYTES = 32
NAME = "strawbell.db"
WAL = f"{NAME}-wal"
MARKER = f"{NAME}.marker"


def message(number: int) -> OutboxRow:
    return queued(number, NOW, TEXT_BYTES)


def entry(number: int) -> JournalEntry:
    return JournalEntry(NOW, GARDEN, NOW.date(), EntryKind.DELIVERY, text=f"row {number}")


def one_commit(store: SqliteStore, number: int) -> None:
    """Do what a morning does, in turn: decide and queue, claim, record as sent."""
    step, key = number % 4, f"k{number - number % 4}"
    if step == 0:
        with store.together():
            store.write([entry(number)])
            store.enqueue([message(number)])
    elif step == 1:
        store.move(key, OutboxState.SENDING, attempts=1, next_attempt_at=NOW, detail="")
    elif step == 2:
        with store.together():
            store.move(key, OutboxState.ACCEPTED, attempts=1, next_attempt_at=NOW, detail="")
            store.write([entry(number)])
    else:
        store.write([entry(number + each) for each in range(0, 40, 4)])


@dataclass(frozen=True)
class Snapshot:
    """The files after a commit, and what a reader sees in them."""

    files: dict[str, bytes]
    rows: object


def what_it_holds(path: Path) -> object:
    """Return every row of a store that is about the garden."""
    hand = sqlite3.connect(path)
    try:
        return [
            hand.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall()
            for table in ("journal", "outbox", "bodies")
        ]
    finally:
        hand.close()


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> list[Snapshot]:
    """Twenty commits, looked at after each."""
    folder = tmp_path_factory.mktemp("run") / "state"
    reading = tmp_path_factory.mktemp("reading")
    found = []
    with SqliteStore(folder / NAME, NOW, owner=True) as store:
        for number in range(-1, COMMITS):
            if number >= 0:
                one_commit(store, number)
            files = {
                path.name: path.read_bytes()
                for path in folder.iterdir()
                if path.is_file() and not path.name.endswith("-shm")
            }
            shutil.rmtree(reading)
            reading.mkdir()
            for name, content in files.items():
                (reading / name).write_bytes(content)
            found.append(Snapshot(files, what_it_holds(reading / NAME)))
    return found


Damage = Callable[[bytes, bytes, random.Random], bytes]


def unsynced(old: bytes, new: bytes) -> tuple[int, int]:
    """Return the range of bytes that a commit wrote.

    Bytes of a sector that were there before stay: a disk that loses those too is one that SQLite
    does not promise anything on ("powersafe overwrite").
    """
    padded = old[: len(new)].ljust(len(new), b"\0")
    differing = [at for at in range(len(new)) if new[at] != padded[at] or at >= len(old)]
    return differing[0], differing[-1] + 1


def cut(old: bytes, new: bytes, rng: random.Random) -> bytes:
    """Only the first part arrived; behind it is what was there before, or the end."""
    begin, end = unsynced(old, new)
    at = rng.randrange(begin, end)
    return new[:at] + old[at:]


def garbled(old: bytes, new: bytes, rng: random.Random) -> bytes:
    """From some byte on there is nonsense."""
    begin, end = unsynced(old, new)
    at = rng.randrange(begin, end)
    return new[:at] + rng.randbytes(end - at) + new[end:]


def sectors_missing(old: bytes, new: bytes, rng: random.Random) -> bytes:
    """The disk wrote in an order of its own: some sectors are old, some zero, one at least."""
    begin, end = unsynced(old, new)
    first = begin - begin % SECTOR_BYTES
    starts = [max(at, begin) for at in range(first, end, SECTOR_BYTES)]
    lost = set(rng.sample(starts, rng.randrange(1, len(starts) + 1)))
    parts = [new[:begin]]
    for at in starts:
        whole = new[at : min(at - at % SECTOR_BYTES + SECTOR_BYTES, end)]
        before = old[at : at + len(whole)]
        parts.append(rng.choice([before.ljust(len(whole), b"\0"), bytes(len(whole))]))
        if at not in lost:
            parts[-1] = whole
    return b"".join([*parts, new[end:]])


DAMAGES = (cut, garbled, sectors_missing)


def torn_fold(old: bytes, new: bytes, rng: random.Random) -> bytes:
    """While the write-ahead file was folded in, some pages arrived, some not, some half."""
    pages = []
    for at in range(0, len(new), PAGE_BYTES):
        before, after = old[at : at + PAGE_BYTES], new[at : at + PAGE_BYTES]
        half = after[: PAGE_BYTES // 2] + before[PAGE_BYTES // 2 :].ljust(PAGE_BYTES // 2, b"\0")
        pages.append(after if before == after else rng.choice([before, after, half]))
    return b"".join(pages)


def opened(folder: Path, files: dict[str, bytes]) -> tuple[object, str]:
    """Open the files as the daemon does after the power is back; return rows and incident."""
    folder.mkdir()
    for name, content in files.items():
        (folder / name).write_bytes(content)
    with SqliteStore(folder / NAME, NOW, owner=True) as store:
        incident = store.incident
    rows = what_it_holds(folder / NAME)
    shutil.rmtree(folder)
    return rows, incident


@dataclass
class Tally:
    """What a series of power cuts came to."""

    cases: int = 0
    neither: int = 0
    alarms: int = 0
    found: Counter[str] = None  # type: ignore[assignment]


def steps(before: Snapshot, after: Snapshot) -> list[tuple[str, bytes, bytes]]:
    """Return what a commit wrote into the write-ahead file, sync by sync: (what, old, new).

    A header is synced before the first frame is written; a test of strace holds SQLite to that.
    """
    old, new = before.files.get(WAL, b""), after.files[WAL]
    begun = new[:HEADER_BYTES] + old[HEADER_BYTES:]
    header = [] if begun == old else [("a torn header", old, begun)]
    return [*header, ("frames", begun, new)]


def cut_power(run: list[Snapshot], folder: Path, seed: int) -> Tally:
    """Damage every commit in every way and open what is left."""
    rng = random.Random(seed)
    tally = Tally(found=Counter())
    for before, after in pairwise(run):
        for what, old, new in steps(before, after):
            for damage in DAMAGES:
                # The database is that of before the commit: folding in follows the sync.
                files = {**before.files, WAL: damage(old, new, rng)}
                judge(tally, before, after, opened(folder / "cut", files))
                tally.found[what] += 1
        if before.files[NAME] != after.files[NAME]:
            database = torn_fold(before.files[NAME], after.files[NAME], rng)
            files = {**before.files, WAL: after.files[WAL], NAME: database}
            rows, incident = opened(folder / "cut", files)
            judge(tally, before, after, (rows, incident))
            assert rows == after.rows, "the commit was synced before it was folded in"
            tally.found["folding in"] += 1
        for marker in (b"", after.files[MARKER][:7], rng.randbytes(40)):
            # The commit is whole; the small file beside the store is not.
            judge(tally, before, after, opened(folder / "cut", {**after.files, MARKER: marker}))
    return tally


def judge(tally: Tally, before: Snapshot, after: Snapshot, came: tuple[object, str]) -> None:
    rows, incident = came
    tally.cases += 1
    tally.neither += rows not in (before.rows, after.rows)
    tally.alarms += incident != ""
    tally.found["after" if rows == after.rows else "before"] += 1


def hold(tallies: list[Tally], tier: str) -> None:
    """Before or after, never anything else, and both were seen."""
    cases = sum(tally.cases for tally in tallies)
    found = sum((tally.found for tally in tallies), Counter())
    assert found["before"] > cases // 10
    assert found["after"] > cases // 10
    assert found["folding in"] > 0, "no commit was folded in; the run is too short"
    begun = found["a torn header"]
    assert begun > len(tallies) * len(DAMAGES), "no write-ahead file was begun anew"
    record(2, f"{tier}: power cuts", cases, target=f">= {3 * COMMITS}", varies=True)
    record(2, f"{tier}: neither before nor after", sum(t.neither for t in tallies), target="= 0")
    record(2, f"{tier}: of them in the header of a write-ahead file", begun, varies=True)
    record(2, f"{tier}: false alarms", sum(t.alarms for t in tallies), target="= 0")


def test_a_power_cut_at_each_of_twenty_commits_leaves_before_or_after(
    run: list[Snapshot], tmp_path: Path
) -> None:
    """Three damages to what each commit wrote, one to each folding in, three to the marker."""
    hold([cut_power(run, tmp_path, 1)], "each change")


@pytest.mark.nightly
def test_forty_times_as_many_power_cuts_leave_before_or_after(
    run: list[Snapshot], tmp_path: Path
) -> None:
    """The same with other bytes lost."""
    hold([cut_power(run, tmp_path, seed) for seed in range(2, 42)], "nightly")


def test_what_was_recorded_as_sent_stays_sent(run: list[Snapshot]) -> None:
    """Each state holds every accepted row of the one before, so either of two keeps them."""
    kept: set[str] = set()
    for snapshot in run:
        outbox = snapshot.rows[1]  # type: ignore[index]
        sent = {row[1] for row in outbox if OutboxState.ACCEPTED.value in row}
        assert kept <= sent
        kept = sent
    assert len(kept) == COMMITS // 4


OPENED = """
import sys
from pathlib import Path
from strawbell.edges.store.connection import connect
hand = connect(Path(sys.argv[1]))
hand.execute("CREATE TABLE t (x)")
for _ in range(60):
    hand.execute("INSERT INTO t VALUES (randomblob(9000))")
hand.close()
"""


def test_a_header_is_synced_before_its_frames_and_after_the_database(tmp_path: Path) -> None:
    """What the model of a torn header rests on, read from the calls of SQLite itself."""
    tracer = shutil.which("strace")
    if tracer is None:
        pytest.skip("strace is not installed")
    log, path = tmp_path / "calls", tmp_path / NAME
    words = [tracer, "-f", "-qq", "-y", "-e", "trace=pwrite64,fdatasync,fsync", "-o", str(log)]
    done = subprocess.run(
        [*words, sys.executable, "-c", OPENED, str(path)],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    if done.returncode != 0 and "ptrace" in done.stderr.lower():
        pytest.skip("this machine does not allow tracing")
    assert done.returncode == 0, done.stderr
    calls = [
        (name, Path(where).name, bool(re.search(rf", {HEADER_BYTES}, 0\) ", line)))
        for line in log.read_text(encoding="utf-8", errors="replace").splitlines()
        for name, where in re.findall(r" (pwrite64|fdatasync|fsync)\(\d+<([^>]*)>", line)
        if path.name in where
    ]
    begun = [at for at, (_, where, is_header) in enumerate(calls) if where == WAL and is_header]
    assert len(begun) > 2
    for at in begun:
        assert calls[at + 1][0] in {"fdatasync", "fsync"}
        assert calls[at + 1][1] == WAL
        written = [call for call in calls[:at] if call[1] == NAME]
        assert not written or written[-1][0] in {"fdatasync", "fsync"}
