"""A store that takes nothing is told past it: once a channel and date, with the morning's work."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from strawbell.app.daemon import BEAT_S
from strawbell.app.pipeline import Pipeline
from strawbell.app.trouble import (
    ALARM,
    ALARM_AGAIN_S,
    ALARM_AT_START,
    ALARM_WITH_WORK,
    LASTS_S,
    STORE_REFUSED,
    TROUBLED_BEAT_S,
    StoreTrouble,
    open_patiently,
)
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import GrowerError, OperationalError, Outlook, Problem
from strawbell.model.notice import Delivery, NoticeKind, Outcome
from support.fake_clock import FakeClock, sender
from support.gardens import START, at, batch, garden, on_day
from support.notices import SECRET
from support.simulated_daemon import JOIN_S, CountingManager, Life, Paper

TROUBLED_BEAT = timedelta(seconds=TROUBLED_BEAT_S)
NOON = at(START, 12, 0)


@pytest.fixture
def days(tmp_path: Path) -> Iterator[Life]:
    """A garden told in the morning of its first day; it is noon."""
    clock = FakeClock(at(START))
    with SqliteStore(tmp_path / "strawbell.db", clock.now(), owner=True) as store:
        life = Life(store, clock, (Paper(clock, "email", ("a@example.org",)), Paper(clock)))
        life.beat()
        life.live(NOON)
        yield life


def papers(days: Life) -> tuple[Paper, Paper]:
    mail, folder = days.channels
    assert isinstance(mail, Paper)
    assert isinstance(folder, Paper)
    return mail, folder


@contextmanager
def refusing(days: Life) -> Iterator[None]:
    """Let the store refuse every change, as on a file system that became read-only."""
    assert isinstance(days.store, SqliteStore)
    connection = days.store._connection
    connection.execute("PRAGMA query_only = 1")
    try:
        yield
    finally:
        connection.execute("PRAGMA query_only = 0")


def beats(days: Life, count: int) -> None:
    for _ in range(count):
        days.clock.advance(TROUBLED_BEAT)
        days.beat()


def occasions(paper: Paper) -> list[str]:
    return [row.unique_key.split('", "')[3] for row in paper.rows if row.kind is trouble]


trouble = NoticeKind.TROUBLE


def test_a_morning_that_cannot_be_recorded_is_told_with_its_work_once(days: Life) -> None:
    """On every channel, within a minute of the first refusal, however long it lasts."""
    days.live(at(on_day(2)) - TROUBLED_BEAT)
    before = [len(paper.rows) for paper in papers(days)]
    with refusing(days):
        beats(days, 1)
        refused_at = days.clock.now()
        beats(days, 40)
    for paper, so_far in zip(papers(days), before, strict=True):
        ((sent_at, row),) = paper.sent[so_far:]
        assert row.kind is trouble
        assert ALARM_WITH_WORK in row.unique_key
        assert sent_at - refused_at <= timedelta(seconds=BEAT_S)
        text = " ".join(row.body.decode().split())
        assert "I can't write to the store" in text
        assert "No watering today" in text
        assert "readonly" in text


def test_at_noon_it_is_told_that_nothing_is_taken_and_next_morning_with_the_work(
    days: Life,
) -> None:
    """One alarm for the trouble, then one for each morning that it swallows."""
    mail, _ = papers(days)
    with refusing(days):
        days.live(at(on_day(2), 9), step=TROUBLED_BEAT * 8)
    kinds = [ALARM if f'"{ALARM}"' in row.unique_key else row.unique_key for row in mail.rows]
    assert kinds.count(ALARM) == 1
    assert sum(ALARM_WITH_WORK in key for key in kinds) == 1


def test_when_the_store_takes_again_the_rest_goes_out_and_those_alarmed_are_told(
    days: Life,
) -> None:
    """Without a start anew, within a minute; the journal says from when to when."""
    days.live(at(on_day(2)) - TROUBLED_BEAT)
    with refusing(days):
        beats(days, 5)
    mended_at = days.clock.now()
    beats(days, 3)
    for paper in papers(days):
        rows = [row for when, row in paper.sent if when >= mended_at]
        assert sorted(row.kind for row in rows) == [NoticeKind.MORNING, trouble]
        assert all(
            when - mended_at <= timedelta(seconds=BEAT_S) for when, _ in paper.sent[-len(rows) :]
        )
    (entry,) = [
        entry for entry in days.store.journal("Orchard corner") if entry.state == STORE_REFUSED
    ]
    assert "06:30 to 06:31" in entry.text
    assert "readonly" in entry.text
    assert not days.daemon._trouble.stands
    words = [word for word in days.manager.words if word.startswith("status")]
    assert "readonly" in words[0]
    assert words[-1] == "status Orchard corner"


def test_a_lock_of_a_moment_alarms_nobody(days: Life) -> None:
    """The log says it; the next beat does the work."""
    days.live(at(on_day(2)) - TROUBLED_BEAT)
    before = [len(paper.rows) for paper in papers(days)]
    with refusing(days):
        beats(days, 1)
    days.clock.advance(timedelta(seconds=LASTS_S / 2))
    days.beat()
    for paper, so_far in zip(papers(days), before, strict=True):
        assert [row.kind for row in paper.rows[so_far:]] == [NoticeKind.MORNING]
    assert sum("readonly" in line for line in days.said) == 1


def test_a_channel_that_does_not_take_the_alarm_is_asked_again_after_an_hour(days: Life) -> None:
    """Not at every beat: a daemon that can write nothing must not ring at a server's door."""
    mail, folder = papers(days)
    mail.answer = Delivery(Outcome.LATER, "The server is away.")
    days.live(at(on_day(2)) - TROUBLED_BEAT)
    before = len(mail.sent)
    with refusing(days):
        began = days.clock.now()
        days.live(began + timedelta(hours=3), step=4 * TROUBLED_BEAT)
    tried = [when for when, _ in mail.sent[before:]]
    assert 3 <= len(tried) <= 4
    waits = [(later - earlier).total_seconds() for earlier, later in pairwise(tried)]
    assert min(waits) >= ALARM_AGAIN_S
    assert sum(ALARM_WITH_WORK in row.unique_key for row in folder.rows) == 1


def test_two_troubles_of_one_date_are_one_alarm(days: Life) -> None:
    """A disk that is full now and then does not fill the letter box."""
    mail, _ = papers(days)
    for _ in range(4):
        with refusing(days):
            days.clock.advance(timedelta(hours=1))
            beats(days, 4)
        beats(days, 4)
    assert sum(f'"{ALARM}"' in row.unique_key for row in mail.rows) == 1


def test_a_channel_taken_out_of_the_configuration_leaves_no_trouble_behind(days: Life) -> None:
    """Nobody would ever send what was refused on it."""
    _, folder = papers(days)
    days.daemon._trouble.refused("send-email", "The disk is full.", days.clock.now(), 0.0)
    with_folder = Pipeline(days.plans, days.store, (folder,), days._forecast, days.daemon._sender)
    days.daemon.reload(lambda: with_folder)
    days.daemon._reloaded(days.bell)
    beats(days, 2)
    assert not days.daemon._trouble.stands


def test_no_copy_of_the_store_is_told_and_the_day_goes_on(days: Life) -> None:
    """A disk with room for a row but not for a copy: reminders come, and word that it is so."""
    mail, _ = papers(days)

    def no_room(now: datetime) -> None:
        raise OperationalError("The store at copies did not take it: No space left on device.")

    days.store.backup = no_room  # type: ignore[method-assign]
    days.live(at(on_day(3), 9), step=TROUBLED_BEAT * 8)
    told = [row for row in mail.rows if '"copy"' in row.unique_key]
    assert len(told) == 2
    assert "No space left" in " ".join(told[0].body.decode().split())
    assert sum(row.kind is NoticeKind.MORNING for row in mail.rows) == 3


class Sleeper:
    """Sleeps on the fake clock, and counts how often."""

    def __init__(self, clock: FakeClock) -> None:
        self.clock = clock
        self.turns = 0

    def __call__(self, seconds: float) -> None:
        self.turns += 1
        self.clock.advance(timedelta(seconds=seconds))


def test_a_store_that_cannot_be_opened_is_waited_for_and_told_once() -> None:
    """A full disk at the start: no row of starts, no start anew, the watchdog fed."""
    clock = FakeClock(NOON)
    mail, manager, said, noted = Paper(clock), CountingManager(), list[str](), StoreTrouble()
    sleep = Sleeper(clock)

    def open_store(now: datetime) -> str:
        if sleep.turns < 6:
            raise OperationalError("The store cannot be opened now: disk I/O error.")
        return "open"

    plans = (garden(batch()),)
    opened = open_patiently(
        open_store, (mail,), plans, noted, sender(clock), manager, said.append, sleep, SECRET
    )
    assert opened == "open"
    finish_alarms()
    assert len(mail.rows) == 1
    assert ALARM_AT_START in mail.rows[0].unique_key
    assert "no reminder comes" in " ".join(mail.rows[0].body.decode().split())
    assert manager.pings == 6
    assert len(said) == 1
    assert noted.stands


def finish_alarms() -> None:
    """Wait for the threads that tell."""
    for thread in threading.enumerate():
        if thread.name.startswith("alarm-"):
            thread.join(JOIN_S)


@pytest.mark.parametrize(
    "error",
    [
        GrowerError(Problem("the store cannot be used")),
        OperationalError("The store is damaged.", Outlook.FOR_GOOD),
    ],
)
def test_what_no_waiting_mends_ends_the_start(error: Exception) -> None:
    """The grower has to do something, and is told at once."""
    clock = FakeClock(NOON)

    def open_store(now: datetime) -> str:
        raise error

    with pytest.raises(type(error)):
        open_patiently(
            open_store,
            (),
            (),
            StoreTrouble(),
            sender(clock),
            CountingManager(),
            list[str]().append,
            Sleeper(clock),
            SECRET,
        )
