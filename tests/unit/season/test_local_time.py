"""Local dates and times across every change of the clock."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones

import pytest

from strawbell.season.local_time import bounds_of, moment_of
from support.measured import record


@pytest.mark.parametrize(
    ("zone", "on", "at", "moment"),
    [
        # The tz database: Berlin springs forward on 2027-03-28 at 01:00 UTC.
        ("Europe/Berlin", date(2027, 3, 28), time(2, 30), datetime(2027, 3, 28, 1, 0)),
        # and falls back on 2026-10-25 at 01:00 UTC; 02:30 first comes at 00:30 UTC.
        ("Europe/Berlin", date(2026, 10, 25), time(2, 30), datetime(2026, 10, 25, 0, 30)),
        ("America/New_York", date(2027, 3, 14), time(2, 30), datetime(2027, 3, 14, 7, 0)),
        ("America/New_York", date(2026, 11, 1), time(1, 30), datetime(2026, 11, 1, 5, 30)),
        # Half an hour in Lord Howe: 02:00 to 02:30 does not exist on 2026-10-04.
        ("Australia/Lord_Howe", date(2026, 10, 4), time(2, 15), datetime(2026, 10, 3, 15, 30)),
        # Two hours in Troll: 01:00 to 03:00 does not exist on 2027-03-28.
        ("Antarctica/Troll", date(2027, 3, 28), time(1, 30), datetime(2027, 3, 28, 1, 0)),
        # Midnight does not exist in Cairo on 2027-04-30.
        ("Africa/Cairo", date(2027, 4, 30), time(0, 0), datetime(2027, 4, 29, 22, 0)),
        ("Asia/Kolkata", date(2027, 3, 28), time(6, 30), datetime(2027, 3, 28, 1, 0)),
        # A whole date is missing in Apia: its times come at the first minute after it.
        ("Pacific/Apia", date(2011, 12, 30), time(6, 30), datetime(2011, 12, 30, 10, 0)),
    ],
)
def test_each_local_time_has_one_moment(zone: str, on: date, at: time, moment: datetime) -> None:
    """In a gap the first valid minute after it, in a repeat the first pass."""
    assert moment_of(on, at, ZoneInfo(zone)) == moment.replace(tzinfo=UTC)


def _changes(zone: ZoneInfo, first_year: int, last_year: int) -> list[date]:
    """Return the UTC dates on which the offset of a zone changes."""
    day, end = datetime(first_year, 1, 1, tzinfo=UTC), datetime(last_year, 12, 31, tzinfo=UTC)
    found = []
    offset = day.astimezone(zone).utcoffset()
    while day < end:
        day += timedelta(days=1)
        now = day.astimezone(zone).utcoffset()
        if now != offset:
            found.append((day - timedelta(days=1)).date())
        offset = now
    return found


def _sweep(zones: list[str], first_year: int, last_year: int, step_min: int) -> int:
    checked = 0
    for name in zones:
        zone = ZoneInfo(name)
        for change in _changes(zone, first_year, last_year):
            last = None
            for minute in range(0, 3 * 24 * 60, step_min):
                on = change + timedelta(days=minute // (24 * 60) - 1)
                at = time(minute // 60 % 24, minute % 60)
                moment = moment_of(on, at, zone)
                here = moment.astimezone(zone)
                same_wall = (here.date(), here.time()) == (on, at)
                assert same_wall or here.replace(tzinfo=None) > datetime.combine(on, at), name
                assert last is None or moment >= last, (name, on, at)
                last = moment
                checked += 1
    return checked


def test_zones_with_every_kind_of_change_keep_their_order() -> None:
    """Quarter hours around each change 2026-2028 come in order, each at one moment."""
    zones = [
        "Europe/Berlin",
        "America/New_York",
        "Australia/Lord_Howe",
        "Antarctica/Troll",
        "Africa/Casablanca",
        "America/Nuuk",
        "Africa/Cairo",
        "Asia/Beirut",
        "Pacific/Chatham",
    ]
    checked = _sweep(zones, 2026, 2028, 15)
    record(12, "each change: zones", len(zones), target="= 9")
    record(
        12,
        "each change: local times, each once and in order",
        checked,
        target=">= 8000",
        varies=True,
    )


@pytest.mark.nightly
def test_every_zone_and_change_to_2037_keeps_its_order() -> None:
    """The whole tz database, 2020 to 2037."""
    zones = sorted(available_timezones())
    checked, told = _sweep(zones, 2020, 2037, 15), "nightly: local times, each once and in order"
    record(12, "nightly: zones", len(zones), target=">= 590", varies=True)
    record(12, told, checked, target=">= 1000000", varies=True)


def test_a_local_day_has_23_to_25_hours() -> None:
    """The days of the change are shorter and longer."""
    zone = ZoneInfo("Europe/Zurich")
    lengths = []
    for on in (date(2027, 3, 28), date(2027, 4, 5), date(2026, 10, 25)):
        start, end = bounds_of(on, zone)
        lengths.append((end - start) / timedelta(hours=1))
    assert lengths == [23.0, 24.0, 25.0]
