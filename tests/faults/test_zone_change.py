"""A garden whose time zone is set anew, a laptop that travels: no date is lost or told twice."""

from __future__ import annotations

import time
from collections import Counter
from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind
from strawbell.model.notice import NoticeKind
from support.fake_clock import FakeClock
from support.gardens import START, at, garden
from support.measured import record
from support.memory_store import MemoryStore
from support.simulated_daemon import Life, Paper

HOME = "Europe/Zurich"
ZONES = (
    "America/New_York",
    "Pacific/Honolulu",
    "Pacific/Auckland",
    "Pacific/Apia",
    "Australia/Lord_Howe",
    "Antarctica/Troll",
    "Asia/Kolkata",
)
"""Eleven hours behind to thirteen ahead, half hours, and the other side of the date line."""
HOURS = (0, 5, 6, 7, 12, 19, 23)
"""Local hours of the change: around midnight, the morning, the evening."""
DAYS_BETWEEN = 2
STEP = timedelta(hours=2)


def in_zone(zone: str) -> Garden:
    plain = garden()
    return replace(plain, place=replace(plain.place, time_zone=zone))


def moved(zone: str, hour: int) -> tuple[Life, Paper]:
    """Live two days at home, two in another zone, and two at home again."""
    clock = FakeClock(at(START, 3))
    paper = Paper(clock)
    life = Life(MemoryStore(), clock, (paper,), (in_zone(HOME),))
    change_at = at(START + timedelta(days=DAYS_BETWEEN), hour, 10)
    for to in (zone, HOME, HOME):
        life.live(change_at, STEP)
        life.plans = (in_zone(to),)
        life.start()
        change_at += timedelta(days=DAYS_BETWEEN)
    return life, paper


def told_or_excused(life: Life) -> Counter[date]:
    kinds = (EntryKind.BRIEF, EntryKind.NOT_TOLD)
    return Counter(entry.local_date for kind in kinds for entry in life.entries(kind))


def test_a_zone_set_anew_loses_no_date_and_tells_none_twice() -> None:
    """Each local date has one morning or one reason why there was none, in order."""
    cases = lost = doubled = 0
    for zone in ZONES:
        for hour in HOURS:
            life, paper = moved(zone, hour)
            dates = told_or_excused(life)
            last = (life.clock.now() - timedelta(days=1)).astimezone(ZoneInfo(HOME)).date()
            wanted = [START + timedelta(days=n) for n in range((last - START).days + 1)]
            lost += sum(on not in dates for on in wanted)
            mornings = Counter(
                row.local_date for row in paper.rows if row.kind is NoticeKind.MORNING
            )
            doubled += sum(count - 1 for count in (dates + mornings).values() if count > 2)
            doubled += sum(count > 1 for count in mornings.values())
            cases += 1
    record(12, "zones set anew at hours of the day", cases, target=">= 40")
    record(12, "dates lost by a zone set anew", lost, target="= 0")
    record(12, "dates told twice by a zone set anew", doubled, target="= 0")


def told_under(zones: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> list[datetime]:
    """Return when mornings came on a laptop whose own zone changes every day."""
    clock = FakeClock(at(START, 3))
    paper = Paper(clock)
    life = Life(MemoryStore(), clock, (paper,))
    for day, zone in enumerate(zones):
        monkeypatch.setenv("TZ", zone)
        time.tzset()
        life.live(at(START + timedelta(days=day), 23), STEP)
    return [when for when, row in paper.sent if row.kind is NoticeKind.MORNING]


def test_the_zone_of_the_laptop_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """The garden stays where it is: its mornings come a day apart."""
    try:
        times = told_under(ZONES, monkeypatch)
    finally:
        monkeypatch.undo()
        time.tzset()
    assert len(times) == len(ZONES)
    late = {later - earlier for earlier, later in pairwise(times)}
    record(12, "mornings of a laptop that travels", len(times), target=">= 7")
    record(12, "of them not a day apart", len(late - {timedelta(days=1)}), target="= 0")
