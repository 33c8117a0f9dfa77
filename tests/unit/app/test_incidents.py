"""A mended store and a clock that jumped are told once, and never lost on the way."""

from __future__ import annotations

from datetime import timedelta

import pytest

from strawbell.app.trouble import CLOCK_MOVED, CLOCK_NEWS_H, STORE_MENDED, clock_moved
from strawbell.errors import OperationalError
from strawbell.model.journal import EntryKind
from strawbell.model.notice import Delivery, NoticeKind, OutboxRow, Outcome
from support.fake_clock import FakeClock
from support.gardens import START, at, batch, garden, on_day
from support.memory_store import MemoryStore
from support.simulated_daemon import Life, Paper

INCIDENT = "The store strawbell.db was damaged (page 2). The copy of yesterday was restored."
EARLY = at(START, 3)


def life(incident: str = "", *, gardens: int = 1) -> tuple[Life, Paper, Paper]:
    clock = FakeClock(EARLY)
    mail = Paper(clock, "email", ("a@example.org", "b@example.org"))
    folder = Paper(clock)
    plans = [garden(batch(), name=f"Garden {number}") for number in range(gardens)]
    return Life(MemoryStore(), clock, (mail, folder), plans, incident), mail, folder


def test_a_mended_store_is_told_once_to_everybody_and_written_into_every_journal() -> None:
    """One notice a recipient, however many gardens; a later beat or start says no more."""
    days, mail, folder = life(INCIDENT, gardens=2)
    days.beat()
    days.beat()
    days.start()
    days.beat()
    assert [row.recipient for row in mail.rows] == ["a@example.org", "b@example.org"]
    assert len(folder.rows) == 1
    text = folder.rows[0].body.decode()
    assert INCIDENT in " ".join(text.split())
    assert "strawbell journal" in " ".join(text.split())
    assert folder.rows[0].kind is NoticeKind.TROUBLE
    for plan in days.plans:
        rows = [row for row in days.store.journal(plan.name) if row.state == STORE_MENDED]
        assert [row.text for row in rows] == [INCIDENT]


def test_two_incidents_of_one_day_are_two_notices() -> None:
    """The second is not taken for the first."""
    days, _, folder = life(INCIDENT)
    days.beat()
    days.clock.advance(timedelta(hours=1))
    days.start(INCIDENT)
    days.beat()
    assert len(folder.rows) == 2


def test_an_incident_waits_for_a_store_that_takes_it() -> None:
    """A full disk at the start: told as soon as there is room, once."""
    days, _, folder = life(INCIDENT)
    write = days.store.write

    def full(entries: object) -> None:
        raise OperationalError("The disk is full.")

    days.store.write = full  # type: ignore[method-assign]
    days.beat()
    assert folder.rows == []
    assert "The disk is full." in days.said
    days.store.write = write  # type: ignore[method-assign]
    days.beat()
    days.beat()
    assert len(folder.rows) == 1


def test_a_defect_in_the_news_does_not_cost_the_morning() -> None:
    """It is reported once, and the brief is told all the same."""
    days, _, folder = life()
    days.daemon._news.append((lambda now: 1 / 0, lambda: None))  # type: ignore[arg-type, return-value]
    days.clock.wall = at(START)
    days.beat()
    days.beat()
    assert [row.kind for row in folder.rows] == [NoticeKind.MORNING]
    (line,) = [line for line in days.said if "defect" in line]
    assert "ZeroDivisionError" in line


def test_an_incident_waits_for_a_clock_that_is_set() -> None:
    """Told in 1970 it would be out of date at once."""
    days, _, folder = life(INCIDENT)
    days.clock.wall = EARLY.replace(year=1970)
    days.beat()
    assert (folder.rows, days.entries(EntryKind.SERVICE)) == ([], [])
    days.clock.wall = EARLY
    days.beat()
    assert len(folder.rows) == 1


def test_a_command_that_runs_once_tells_it_too() -> None:
    """`run --once` mends the store as well."""
    days, _, _ = life(INCIDENT)
    deliveries = [each for run in days.daemon.once() for each in run.deliveries]
    assert sum(len(each.results) for each in deliveries) == 3


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("seconds", "named"), [(-1, 0), (0, 0), (1, 1)])
def test_a_jump_of_more_than_three_hours_is_named_in_the_journal(
    sign: int, seconds: int, named: int
) -> None:
    """Just below, at and above; forward and back. Every jump is in the log."""
    days, _, _ = life()
    days.beat()
    days.clock.jump(sign * (timedelta(hours=CLOCK_NEWS_H) + timedelta(seconds=seconds)))
    days.beat()
    rows = [row for row in days.entries(EntryKind.SERVICE) if row.state == CLOCK_MOVED]
    assert len(rows) == named
    assert sum("clock moved" in line for line in days.said) == 1
    assert len(days.bell.moves) == 1


def test_the_sentence_names_both_moments_on_the_gardens_clock() -> None:
    """Who reads the journal need not count."""
    before, after = at(START, 6, 0), at(on_day(2), 6, 5)
    assert clock_moved(before, after).said(garden()) == (
        "The machine's clock went forward from Mon 5 Apr 06:00 to Tue 6 Apr 06:05 at once: "
        "it was set, or the machine slept."
    )
    back = clock_moved(after, before).said(garden())
    assert "back from Tue 6 Apr 06:05 to Mon 5 Apr 06:00" in back


def test_a_refused_message_is_told_by_the_other_channel_and_in_the_next_brief() -> None:
    """Two channels: the folder says at once what the mail server refused, and both say it again
    in the morning.
    """
    days, mail, folder = life()
    mail.recipients = ("a@example.org",)
    days.beat()
    days.clock.wall = at(START)
    mail.answer = Delivery(Outcome.FOR_GOOD, "No such mailbox.")
    days.beat()
    kinds = [row.kind for row in folder.rows]
    assert kinds == [NoticeKind.MORNING, NoticeKind.TROUBLE]
    assert "No such mailbox." in folder.rows[1].body.decode()
    mail.answer = Delivery(Outcome.ACCEPTED, "Taken.")
    days.live(at(on_day(2)))
    morning = _last(folder.rows, NoticeKind.MORNING)
    assert "No such mailbox." in " ".join(morning.body.decode().split())
    days.live(at(on_day(3)))
    assert "No such mailbox." not in _last(folder.rows, NoticeKind.MORNING).body.decode()
    assert [row.kind for row in folder.rows].count(NoticeKind.TROUBLE) == 1


def _last(rows: list[OutboxRow], kind: NoticeKind) -> OutboxRow:
    return [row for row in rows if row.kind is kind][-1]
