"""What a small board writes to its card in a day, and why."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from strawbell.app.pipeline import Pipeline
from strawbell.edges.folder import FolderChannel
from strawbell.edges.store.sqlite_store import SqliteStore
from support.fake_clock import FakeClock, sender
from support.gardens import forecast, mild
from support.long_journal import BUILD, FIRST, HOURS, garden_on, moment
from support.speed import curve, figure

DAYS = 120
SHOWN = (7, 30, 60, 90, 119)
MOST_KB = 200.0
"""What came new, and what a week has changed of the store; a whole copy would be twice as much."""

pytestmark = pytest.mark.benchmark


def handed_over() -> int:
    """Return the bytes that this process has handed to the kernel so far."""
    lines = Path("/proc/self/io").read_text(encoding="ascii").splitlines()
    return int(next(line for line in lines if line.startswith("wchar:")).split()[1])


def test_a_day_of_one_garden_writes_little(tmp_path: Path) -> None:
    """Told by files in a folder, the copy of the day with it, as a daemon that stays does."""
    daily, copied = {}, {}
    store_path = tmp_path / "strawbell.db"
    with SqliteStore(store_path, moment(FIRST, 0), owner=True) as store:
        clock = FakeClock(moment(FIRST, 0))
        channel = FolderChannel(tmp_path / "notices")
        pipeline = Pipeline(
            (garden_on(FIRST),),
            store,
            (channel,),
            lambda _, now: (forecast(now, mild, 8), ()),
            sender(clock),
            build=BUILD,
        )
        for day in range(DAYS):
            on = FIRST + timedelta(days=day)
            begin = handed_over()
            for hour in HOURS:
                pipeline.tick(moment(on, hour))
                clock.jump(moment(on, hour) - clock.now())
                pipeline.sender.deliver_due(store, channel)
            told = handed_over()
            store.backup(moment(on, HOURS[-1]))
            daily[day], copied[day] = (told - begin) / 1e3, (handed_over() - told) / 1e3
    week = range(DAYS - 7, DAYS)
    own, copy = (sum(each[day] for day in week) / len(week) for each in (daily, copied))
    curve(
        "the copy of a day, by the days of the journal", "kB", {day: copied[day] for day in SHOWN}
    )
    figure("a store of one garden on day 119", store_path.stat().st_size / 1e3, "kB")
    figure("written in a day by store and notices about day 119, one garden", own, "kB")
    figure("written in a day by its copy about day 119, one garden", copy, "kB")
    figure("written in a day about day 119, one garden", own + copy, "kB", most=MOST_KB)
