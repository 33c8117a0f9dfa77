"""After a downtime: one message for each recipient, and a reason for every morning missed.

Real store, stopped and started again; the commands in a real process on a damaged store.
"""

from __future__ import annotations

from collections import Counter
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.journal import EntryKind
from strawbell.model.notice import OutboxRow
from support.daemon_process import Setup
from support.fake_clock import FakeClock
from support.gardens import (
    START,
    ZONE,
    at,
    batch,
    forecast,
    garden,
    hour_at,
    on_day,
    planting,
)
from support.measured import record
from support.simulated_daemon import Life, Paper

DOWN = {
    "1 h": timedelta(hours=1),
    "1 d": timedelta(days=1),
    "10 d": timedelta(days=10),
    "a season": timedelta(days=180),
}
STARTS = (time(6, 0), time(6, 45), time(12, 0), time(19, 0), time(21, 0))
"""Before the morning, soon after it, at noon, after the evening's time, after the give-up hour."""
STOP_DAY = 3
GROWERS = ("a@example.org", "b@example.org")


class Season:
    """A garden whose daemon is stopped around the third day and started again later."""

    def __init__(self, folder: Path, down: timedelta, starts_at: time) -> None:
        zone = ZoneInfo(ZONE)
        self.clock = FakeClock(at(START, 5, 0))
        self.mail = Paper(self.clock, "email", GROWERS)
        self.folder = Paper(self.clock)
        self.plans = (garden(batch(plantings=(planting(),))),)
        self.path = folder / "s.db"
        restart_on = on_day(STOP_DAY) + timedelta(days=down.days)
        self.started = datetime.combine(restart_on, starts_at, zone).astimezone(UTC)
        with self._store() as store:
            self._life(store).live(self.started - down, step=timedelta(hours=3))
        self.sent_before = len(self.mail.sent), len(self.folder.sent)
        self.clock.advance(down)
        assert self.clock.now() == self.started
        with self._store() as store:
            life = self._life(store)
            # So that the evening has something to say as well.
            night = (self.started + timedelta(days=1)).replace(hour=2, minute=0)
            life.weather = lambda now: forecast(now, hour_at(night, temperature_c=-2.0))
            life.beat()
            self.caught_up = self.clock.now()
            assert not life.daemon._pipeline.due(self.caught_up)
            self.excused = Counter(row.local_date for row in life.entries(EntryKind.NOT_TOLD))
            self.reasons = {row.text for row in life.entries(EntryKind.NOT_TOLD)}
            self.briefed = Counter(row.local_date for row in life.entries(EntryKind.BRIEF))

    def _store(self) -> SqliteStore:
        return SqliteStore(self.path, self.clock.now(), owner=True)

    def _life(self, store: SqliteStore) -> Life:
        return Life(store, self.clock, (self.mail, self.folder), self.plans)

    def messages(self) -> Counter[str]:
        """Return how many messages each recipient got at the start."""
        mails, files = self.sent_before
        rows: list[OutboxRow] = [*self.mail.rows[mails:], *self.folder.rows[files:]]
        return Counter(row.recipient for row in rows)

    def open_dates(self) -> list[date]:
        """Return the dates past their give-up hour with neither brief nor reason, or both."""
        here = self.started.astimezone(ZoneInfo(ZONE))
        last = here.date() if here.time() >= time(20) else here.date() - timedelta(days=1)
        days = [START + timedelta(days=n) for n in range((last - START).days + 1)]
        return [day for day in days if self.briefed[day] + self.excused[day] != 1]


def test_a_downtime_makes_one_message_and_a_reason_for_each_morning(tmp_path: Path) -> None:
    """An hour to a season, started again at five times of the day.

    Between the evening's time and the give-up hour the morning that was not told is due with
    the evening, and speaks for it.
    """
    most, unexplained, late_s, excused = 0, 0, 0.0, 0
    for name, down in DOWN.items():
        for number, starts_at in enumerate(STARTS):
            folder = tmp_path / f"{name} {number}"
            folder.mkdir()
            season = Season(folder, down, starts_at)
            most = max(most, *season.messages().values(), 0)
            unexplained += len(season.open_dates())
            excused += sum(season.excused.values())
            late_s = max(late_s, (season.caught_up - season.started).total_seconds())
            assert season.open_dates() == [], (name, starts_at)
            assert all(season.reasons), (name, starts_at)
    record(14, "downtimes and times of the start", len(DOWN) * len(STARTS))
    record(14, "messages to one recipient at the start, most", most, target="= 1")
    record(14, "mornings missed, each with its reason", excused)
    record(14, "mornings without a reason", unexplained, target="= 0")
    record(14, "from the start to the message, in simulated time", late_s, "s", target="<= 120")


def test_a_process_started_on_a_damaged_store_tells_the_grower_once(tmp_path: Path) -> None:
    """Damaged between two runs: mended, told by a notice and in the journal; the next start is
    silent.
    """
    setup = Setup(tmp_path)
    assert setup.command("run", "--once").returncode == 0
    store = tmp_path / "state" / "strawbell.db"
    store.write_bytes(b"\0" * 4096)
    for ending in ("-wal", "-shm"):
        store.with_name(store.name + ending).unlink(missing_ok=True)
    answer = setup.command("run", "--once")
    assert "Traceback" not in answer.stderr
    assert _store_notices(tmp_path) == 1, answer.stdout + answer.stderr
    setup.command("run", "--once")
    assert _store_notices(tmp_path) == 1
    journal = setup.command("journal").stdout
    assert journal.count("was damaged") == 1


def _store_notices(folder: Path) -> int:
    files = (folder / "state" / "notices").glob("*-trouble-*.eml")
    return sum("has been mended" in file.read_text(encoding="utf-8") for file in files)
