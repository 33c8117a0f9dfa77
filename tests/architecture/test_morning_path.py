"""How much of the house an ordinary morning runs through, so that it does not grow unseen.

As a program, `python tests/architecture/test_morning_path.py`, it prints every file with the
functions of it that ran: a file with one or two of them is one to merge.
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from types import FrameType

import pytest

if __name__ == "__main__":  # run as a program, it is its own way in
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from strawbell.app.daemon import Daemon
from strawbell.app.outbox import Sender
from strawbell.app.pipeline import Pipeline
from strawbell.edges.folder import FolderChannel
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.garden import Method
from strawbell.model.notice import NoticeKind
from support.checkout import PACKAGE
from support.fake_clock import FakeClock
from support.gardens import RADISH, START, at, batch, forecast, garden, planting
from support.simulated_daemon import CountingManager, StillBell

MORNINGS = {"first soaking": 1, "feeding": 8}
"""Days of a batch whose mornings are walked."""
MOST_FILES, MOST_FUNCTIONS = 70, 680
"""What a morning may run through. Each merge may lower it; the aim of the house is 45 and 400."""

Ran = Mapping[str, set[str]]
"""The functions that ran, by the file they stand in."""


@contextmanager
def watched() -> Iterator[dict[str, set[str]]]:
    """Give what runs of the package inside the block; comprehensions belong to their function."""
    seen: dict[str, set[str]] = defaultdict(set)

    def note(frame: FrameType, event: str, argument: object) -> None:
        code = frame.f_code
        if event == "call" and code.co_filename.endswith(".py") and code.co_name[0] != "<":
            path = Path(code.co_filename)
            if path.is_relative_to(PACKAGE):
                seen[str(path.relative_to(PACKAGE))].add(f"{code.co_firstlineno} {code.co_name}")

    sys.setprofile(note)
    try:
        yield seen
    finally:
        sys.setprofile(None)


def morning_of(day: int, folder: Path) -> Ran:
    """Return what the morning of a day runs through, from the look to the file in the folder."""
    plan = garden(batch(plantings=(planting(), planting(RADISH, Method.SEED, 30))))
    clock, channel = FakeClock(at(START)), FolderChannel(folder / "notices")
    with SqliteStore(folder / "strawbell.db", clock.now(), owner=True) as store:
        sender = Sender(clock, random.Random(1))
        pipeline = Pipeline((plan,), store, (channel,), lambda _, now: (forecast(now), ()), sender)
        daemon = Daemon(pipeline, StillBell, store, CountingManager(), lambda _: None)
        for _ in range(day - 1):
            daemon.once()
            clock.advance(timedelta(days=1))
        with watched() as seen:
            runs = daemon.once()
    kinds = [notice.kind for run in runs for told in run.told for notice in told.notices]
    assert NoticeKind.MORNING in kinds
    assert sum(len(each.results) for run in runs for each in run.deliveries) == len(kinds)
    return seen


@pytest.mark.parametrize("day", MORNINGS.values(), ids=MORNINGS.keys())
def test_a_morning_runs_through_no_more_than_it_did(tmp_path: Path, day: int) -> None:
    """Counted, not timed: one garden, one channel, its forecast at hand."""
    seen = morning_of(day, tmp_path)
    functions = sum(len(names) for names in seen.values())
    print(f"\nday {day}: {len(seen)} files, {functions} functions")
    assert len(seen) <= MOST_FILES
    assert functions <= MOST_FUNCTIONS


if __name__ == "__main__":
    for name, number in MORNINGS.items():
        with tempfile.TemporaryDirectory() as place:
            ran = morning_of(number, Path(place))
        print(f"{name}: {len(ran)} files, {sum(map(len, ran.values()))} functions")
        for file, functions_ran in sorted(ran.items(), key=lambda pair: len(pair[1])):
            names = ", ".join(sorted(each.split()[1] for each in functions_ran))
            print(f"  {len(functions_ran):3} {file}: {names[:90]}")
