"""A clock that jumps, nine ways at three moments: no double, no gap, and a word in the journal.

The real daemon and planner on a simulated clock whose wall time alone is moved.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from datetime import date, datetime, timedelta

import pytest

from strawbell.app.daemon import BEAT_S, OLDEST_TRUSTED_YEAR
from strawbell.app.trouble import CLOCK_MOVED, CLOCK_NEWS_H
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import NoticeKind, OutboxRow
from support.fake_clock import FakeClock
from support.gardens import START, at, on_day
from support.measured import record
from support.memory_store import MemoryStore
from support.simulated_daemon import Life, Paper

BEAT = timedelta(seconds=BEAT_S)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
RECIPIENTS = ("a@example.org", "b@example.org")

JUMPS: dict[str, Callable[[datetime], datetime]] = {
    "+1 min": lambda now: now + timedelta(minutes=1),
    "+1 h": lambda now: now + HOUR,
    "+1 d": lambda now: now + DAY,
    "+1 y": lambda now: now.replace(year=now.year + 1),
    "-1 min": lambda now: now - timedelta(minutes=1),
    "-1 h": lambda now: now - HOUR,
    "-1 d": lambda now: now - DAY,
    "to 1970": lambda now: now.replace(year=1970),
    "to 2040": lambda now: now.replace(year=2040),
}
MOMENTS = ("sleep", "send", "commit")
JUMP_DAY = 3


class Days:
    """A garden's first days, with one jump of the clock on the third morning."""

    def __init__(self) -> None:
        self.clock = FakeClock(at(START, 5, 0))
        self.mail = Paper(self.clock, "email", RECIPIENTS)
        self.life = Life(MemoryStore(), self.clock, (self.mail,))
        self.jumped_from: datetime | None = None
        self.jumped_to: datetime | None = None

    def jump(self, way: str) -> None:
        """Move the wall clock, once."""
        if self.jumped_from is not None:
            return
        self.jumped_from = self.clock.now()
        self.jumped_to = JUMPS[way](self.jumped_from)
        self.clock.wall = self.jumped_to

    def live_to_the_jump(self, way: str, moment: str) -> None:
        """Live until the clock has jumped: while nothing is due, while a message is being sent,
        or between the decision and its messages in one transaction.
        """
        morning = at(on_day(JUMP_DAY))
        if moment == "sleep":
            self.life.live(morning - HOUR)
            self.jump(way)
            return
        self.life.live(morning - timedelta(minutes=10))
        if moment == "send":
            self.mail.before_answer = lambda row: self.jump(way)
        else:
            write = self.life.store.write

            def write_and_jump(entries: Iterable[JournalEntry]) -> None:
                rows = list(entries)
                write(rows)
                if any(row.kind is EntryKind.BRIEF for row in rows):
                    self.jump(way)

            self.life.store.write = write_and_jump  # type: ignore[method-assign]
        self.clock.advance(timedelta(minutes=10))
        self.life.beat()
        assert self.jumped_to is not None, "it did jump"

    def doubles(self) -> int:
        """Return messages that were accepted more than once, by key or by morning."""
        keys = Counter(row.unique_key for row in self.mail.rows)
        mornings = Counter(
            (row.recipient, row.local_date)
            for row in self.mail.rows
            if row.kind is NoticeKind.MORNING
        )
        return sum(n - 1 for n in keys.values()) + sum(n - 1 for n in mornings.values())

    def named(self) -> list[JournalEntry]:
        """Return the jumps that the journal names."""
        return [row for row in self.life.entries(EntryKind.SERVICE) if row.state == CLOCK_MOVED]

    def gaps(self) -> list[date]:
        """Return the dates that have neither a brief nor a reason, or more than one of them."""
        briefed = Counter(row.local_date for row in self.life.entries(EntryKind.BRIEF))
        excused = Counter(row.local_date for row in self.life.entries(EntryKind.NOT_TOLD))
        last = max((*briefed, *excused))
        days = [START + timedelta(days=n) for n in range((last - START).days + 1)]
        wrong = [day for day in days if (briefed[day], excused[day]) not in {(1, 0), (0, 1)}]
        return wrong + [day for day in (*briefed, *excused) if day < START]


def first_rows_after(days: Days, moment: datetime) -> list[OutboxRow]:
    return [row for sent_at, row in days.mail.sent if sent_at >= moment]


def test_every_jump_at_every_moment_makes_no_double_and_no_gap() -> None:
    """Each date is told once or written down as missed once, and the days after go on as usual.

    A jump is permanent here: the clock was wrong before, or is wrong from now on.
    """
    doubles, gaps, unnamed, beats = 0, 0, 0, 0
    for way in JUMPS:
        for moment in MOMENTS:
            days = Days()
            days.live_to_the_jump(way, moment)
            assert days.jumped_from is not None
            assert days.jumped_to is not None
            if way == "to 1970":
                _nothing_happens(days)
                # What sets it right is a jump of its own.
                days.clock.wall = days.jumped_from + 2 * HOUR
            after = days.clock.now()
            days.clock.advance(BEAT)
            days.life.beat()
            beats = max(beats, _beats_to_catch_up(days))
            days.life.live(max(after, at(on_day(JUMP_DAY))) + 2 * DAY)
            doubles += days.doubles()
            gaps += len(days.gaps())
            expected = 2 if way == "to 1970" else int(_is_far(days))
            unnamed += expected != len(days.named())
            assert (days.doubles(), days.gaps()) == (0, []), (way, moment)
            assert len(days.named()) == expected, (way, moment, days.named())
    record(11, "jumps at moments", len(JUMPS) * len(MOMENTS), target=">= 27")
    record(11, "doubles", doubles, target="= 0")
    record(11, "dates neither told nor excused, or twice", gaps, target="= 0")
    record(11, "jumps of more than three hours that are not named", unnamed, target="= 0")
    record(11, "beats from a jump to what it makes due", beats, target="<= 1")


def _is_far(days: Days) -> bool:
    assert days.jumped_from is not None
    assert days.jumped_to is not None
    return abs(days.jumped_to - days.jumped_from) > timedelta(hours=CLOCK_NEWS_H)


def _nothing_happens(days: Days) -> None:
    """Let hours pass under a clock that cannot be true."""
    sent, rows = len(days.mail.sent), len(days.life.store.journal("Orchard corner"))
    days.life.live(days.clock.now() + 2 * HOUR)
    assert (len(days.mail.sent), len(days.life.store.journal("Orchard corner"))) == (sent, rows)


def _beats_to_catch_up(days: Days) -> int:
    """Return the beats after the jump until what is due is told: one has been."""
    beats = 1
    while days.life.daemon._pipeline.due(days.clock.now()):
        days.clock.advance(BEAT)
        days.life.beat()
        beats += 1
        assert beats < 10
    return beats


@pytest.mark.parametrize("way", ["+1 d", "+1 y", "to 2040"])
def test_a_wrong_clock_that_is_put_right_again_costs_no_morning(way: str) -> None:
    """Three hours in the future and back: the mornings that really come are told, once each."""
    days = Days()
    days.live_to_the_jump(way, "sleep")
    assert days.jumped_from is not None
    days.life.live(days.clock.now() + 3 * HOUR)
    days.clock.wall = days.jumped_from + 3 * HOUR
    days.life.live(at(on_day(JUMP_DAY + 3), 12))
    assert days.doubles() == 0
    told = {row.local_date for row in days.mail.rows if row.kind is NoticeKind.MORNING}
    assert {on_day(day) for day in range(1, JUMP_DAY + 4)} <= told
    assert len(days.named()) == 2


@pytest.mark.parametrize(
    ("year", "told"), [(OLDEST_TRUSTED_YEAR - 1, False), (OLDEST_TRUSTED_YEAR, True)]
)
def test_nothing_is_told_or_sent_before_the_clock_can_be_true(year: int, told: bool) -> None:
    """The last moment of the year before the program was made, and the first of that year.

    A message that waits is not sent either: a server's certificate would not be valid yet, and
    that would be taken for a mistake in the settings.
    """
    clock = FakeClock(at(START))
    mail = Paper(clock, "email", RECIPIENTS)
    store = MemoryStore()
    life = Life(store, clock, (mail,))
    life.daemon._pipeline.tick(clock.now())
    waiting = len(life.outbox())
    assert waiting == len(RECIPIENTS)
    edge = at(date(OLDEST_TRUSTED_YEAR, 1, 1), 2, 0)
    clock.wall = edge if told else edge - timedelta(microseconds=1)
    assert clock.wall.year == year
    life.beat()
    clock.advance(timedelta(0))
    life.beat()
    assert len(mail.sent) == (waiting if told else 0)
    assert sum("not set yet" in line for line in life.said) == int(not told)
