"""Real records with their traps: what is read, what is rejected, what is missing."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from strawbell.rehearsal.recorded import Weather, read_weather
from support.station_records import PLACES, station_csv


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Weather]:
    """Read each station once."""
    folder: Path = tmp_path_factory.mktemp("stations")
    kept: dict[str, Weather] = {}

    def read(station: str) -> Weather:
        if station not in kept:
            zone = PLACES[station].zone
            kept[station] = read_weather(station_csv(folder, station), zone)
        return kept[station]

    return read


def last_freeze(weather: Weather, before: date) -> date:
    """Return the last date before another with 0 degC or less."""
    frozen = [
        at.astimezone(weather.zone).date()
        for at, hour in weather.hours.items()
        if hour.temperature_c is not None and hour.temperature_c <= 0.0
    ]
    return max(on for on in frozen if on < before)


def test_seattle_is_whole_and_keeps_its_extremes(record: Callable[[str], Weather]) -> None:
    """1461 days; the wettest has 55.9 mm, 34 have an inch or more."""
    weather = record("Seattle")
    report = weather.report
    assert (report.first, report.last) == (date(2012, 1, 1), date(2015, 12, 31))
    assert (report.daily, report.gaps, report.rejected, report.doubles) == (True, (), (), 0)
    rain = daily_rain(weather)
    assert max(rain) == pytest.approx(55.9, abs=1e-6)
    assert sum(mm >= 25.0 for mm in rain) == 34


def daily_rain(weather: Weather) -> list[float]:
    """Return the rain of each local date."""
    by_date: dict[date, float] = {}
    for at, hour in weather.hours.items():
        on = at.astimezone(weather.zone).date()
        by_date[on] = by_date.get(on, 0.0) + (hour.rain_mm or 0.0)
    return list(by_date.values())


@pytest.mark.parametrize(
    ("year", "last"),
    [(2012, (3, 19)), (2013, (3, 4)), (2014, (2, 9)), (2015, (3, 4))],
)
def test_last_freezes_of_seattle_are_those_of_the_record(
    record: Callable[[str], Weather], year: int, last: tuple[int, int]
) -> None:
    """As counted from the daily lows of the file."""
    assert last_freeze(record("Seattle"), date(year, 7, 1)) == date(year, *last)


@pytest.mark.parametrize(
    ("station", "rows", "last"),
    [("EWR", 8703, (4, 4)), ("JFK", 8706, (3, 23)), ("LGA", 8706, (3, 22))],
)
def test_new_york_is_read_in_fahrenheit_and_inches(
    record: Callable[[str], Weather], station: str, rows: int, last: tuple[int, int]
) -> None:
    """Every row is an hour of its own, also where the clock is changed."""
    weather = record(station)
    assert len(weather.hours) == rows
    assert weather.report.doubles == 0
    assert not weather.report.daily
    assert last_freeze(weather, date(2013, 7, 1)) == date(2013, *last)


def test_a_slipped_digit_makes_no_freeze_in_may(record: Callable[[str], Weather]) -> None:
    """JFK has 13.1 F between 57 and 57 on the evening of 8 May: rejected, unknown, a gap."""
    weather = record("JFK")
    at = datetime(2013, 5, 9, 2, tzinfo=UTC)
    assert weather.hours[at].temperature_c is None
    assert weather.hours[at].rain_mm is not None
    assert any("-10.5 C between" in each.text for each in weather.report.rejected)
    assert any(gap.start <= at < gap.end for gap in weather.report.gaps)


def test_a_wind_of_a_thousand_miles_is_rejected(record: Callable[[str], Weather]) -> None:
    """EWR, 12 February, 03:00 local; its temperature is believed."""
    weather = record("EWR")
    at = datetime(2013, 2, 12, 8, tzinfo=UTC)
    assert weather.hours[at].wind_m_s is None
    assert weather.hours[at].temperature_c is not None
    assert [each.text for each in weather.report.rejected if each.column == "wind_mph"] == [
        "1048.36058"
    ]


@pytest.mark.parametrize("station", ["EWR", "JFK", "LGA"])
def test_missing_hours_are_gaps_and_no_dry_warm_ones(
    record: Callable[[str], Weather], station: str
) -> None:
    """Gaps and hours together are the whole span."""
    weather = record(station)
    report = weather.report
    first, last = min(weather.hours), max(weather.hours)
    known = sum(
        hour.temperature_c is not None and hour.rain_mm is not None
        for hour in weather.hours.values()
    )
    assert report.gaps
    assert known + report.unknown_hours == (last - first) // timedelta(hours=1) + 1


def test_the_warmest_hour_is_in_the_afternoon_the_year_round(
    record: Callable[[str], Weather],
) -> None:
    """If the times were read in the wrong zone it would move in summer."""
    weather = record("LGA")
    for month in (1, 7):
        by_hour: dict[int, list[float]] = {}
        for at, hour in weather.hours.items():
            local = at.astimezone(weather.zone)
            if local.month == month and hour.temperature_c is not None:
                by_hour.setdefault(local.hour, []).append(hour.temperature_c)
        means = {hour: sum(each) / len(each) for hour, each in by_hour.items()}
        assert 12 <= max(means, key=means.__getitem__) <= 16
