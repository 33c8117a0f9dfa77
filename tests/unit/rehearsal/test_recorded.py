"""Recorded weather: what a file says, what it does not know, and what is wrong with it."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from strawbell.errors import GrowerError
from strawbell.rehearsal.recorded import Weather, read_weather

ZURICH = ZoneInfo("Europe/Zurich")


def read(folder: Path, text: str) -> Weather:
    """Read a file with the given text."""
    path = folder / "weather.csv"
    path.write_text(text, encoding="utf-8")
    return read_weather(path, ZURICH)


def refused(folder: Path, text: str) -> list[str]:
    """Return the sentences a file is refused with."""
    with pytest.raises(GrowerError) as caught:
        read(folder, text)
    return [problem.sentence() for problem in caught.value.problems]


def test_a_day_becomes_hours_between_its_low_and_its_high(tmp_path: Path) -> None:
    """Coldest at 03:00, warmest at 15:00 local, rain spread evenly and kept in sum."""
    weather = read(tmp_path, "date,low_c,high_c,rain_mm\n2014-07-01,10,22,12\n")
    hours = list(weather.hours.values())
    assert len(hours) == 24
    assert hours[0].starts_at == datetime(2014, 6, 30, 22, tzinfo=UTC)
    assert hours[3].temperature_c == min(hour.temperature_c or 0.0 for hour in hours) == 10.0
    assert hours[15].temperature_c == max(hour.temperature_c or 0.0 for hour in hours) == 22.0
    assert {hour.rain_mm for hour in hours} == {0.5}
    assert all(hour.relative_humidity_percent is None for hour in hours)


@pytest.mark.parametrize(("on", "count"), [("2014-03-30", 23), ("2014-10-26", 25)])
def test_a_day_of_a_clock_change_keeps_its_rain(tmp_path: Path, on: str, count: int) -> None:
    """It has an hour less or more, and the same rain."""
    weather = read(tmp_path, f"date,low_c,high_c,rain_mm\n{on},5,15,10\n")
    assert len(weather.hours) == count
    assert sum(hour.rain_mm or 0.0 for hour in weather.hours.values()) == pytest.approx(10.0)


def test_us_units_are_the_same_weather(tmp_path: Path) -> None:
    """50 F is 10 C, 72.5 F is 22.5 C, an inch is 25.4 mm, 10 mph is 4.4704 m/s."""
    us = read(tmp_path, "date,low_f,high_f,rain_in,wind_mph\n2014-07-01,50,72.5,1,10\n")
    si = read(tmp_path, "date,low_c,high_c,rain_mm,wind_m_s\n2014-07-01,10,22.5,25.4,4.4704\n")
    assert us.hours == si.hours


def test_hours_are_taken_to_the_nearest_full_one_and_offsets_are_obeyed(tmp_path: Path) -> None:
    """A station that reads at :53 means the coming hour; without an offset it is local."""
    text = "time,temperature_c,rain_mm\n2014-07-01T11:53:00+02:00,20,0\n2014-07-01 13:00,21,1\n"
    weather = read(tmp_path, text)
    assert [moment.hour for moment in weather.hours] == [10, 11]


def test_a_local_hour_that_comes_twice_is_two_hours(tmp_path: Path) -> None:
    """In autumn the second line of 02:00 is the second pass; a third is a double."""
    line = "2014-10-26T02:00,{},0\n"
    text = "time,temperature_c,rain_mm\n" + line.format(8) + line.format(7) + line.format(6)
    weather = read(tmp_path, text)
    assert [hour.temperature_c for hour in weather.hours.values()] == [8.0, 7.0]
    assert weather.report.doubles == 1


def test_gaps_are_reported_and_unknown(tmp_path: Path) -> None:
    """A day that is absent and a field that is empty are unknown, never dry."""
    rows = "2014-07-01,10,20,0\n2014-07-03,10,20,\n2014-07-04,10,20,0\n"
    weather = read(tmp_path, "date,low_c,high_c,rain_mm\n" + rows)
    (gap,) = weather.report.gaps
    assert gap.start == datetime(2014, 7, 1, 22, tzinfo=UTC)
    assert gap.hours == weather.report.unknown_hours == 48
    assert gap.start not in weather.hours
    assert weather.hours[gap.start + timedelta(days=1)].rain_mm is None
    assert (weather.report.first, weather.report.last) == (date(2014, 7, 1), date(2014, 7, 4))


@pytest.mark.parametrize(
    ("row", "column", "unknown"),
    [
        ("2014-07-01,10,60.1,0", "high_c", "temperature_c"),
        ("2014-07-01,-90.1,20,0", "low_c", "temperature_c"),
        ("2014-07-01,10,20,-0.1", "rain_mm", "rain_mm"),
        ("2014-07-01,10,20,1900.1", "rain_mm", "rain_mm"),
        ("2014-07-01,10,20,inf", "rain_mm", "rain_mm"),
        ("2014-07-01,20.1,20,0", "low over high", "temperature_c"),
    ],
)
def test_figures_no_weather_has_are_rejected_and_counted(
    tmp_path: Path, row: str, column: str, unknown: str
) -> None:
    """They are unknown afterwards, and the report says where they stood."""
    weather = read(tmp_path, f"date,low_c,high_c,rain_mm\n{row}\n")
    (rejected,) = weather.report.rejected
    assert (rejected.line, rejected.column) == (2, column)
    assert all(getattr(hour, unknown) is None for hour in weather.hours.values())


@pytest.mark.parametrize("row", ["2014-07-01,20,20,0", "2014-07-01,-90,60,1900"])
def test_figures_at_their_limits_are_believed(tmp_path: Path, row: str) -> None:
    """Nothing is rejected that weather has had."""
    assert read(tmp_path, f"date,low_c,high_c,rain_mm\n{row}\n").report.rejected == ()


def test_what_is_wrong_is_said_with_file_line_and_column(tmp_path: Path) -> None:
    """All of it at once."""
    text = "date,low_c,high_c,rain_mm\n2014-07-01,cold,20,0\n1 July,10,20,0\n"
    first, second = refused(tmp_path, text)
    assert first.startswith("weather.csv: line 2, column low_c: not a number; found 'cold'")
    assert second.startswith("weather.csv: line 3, column date: not a date; found '1 July'")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no column says when it was"),
        ("date,low_c,high_c\n", "rain_mm or rain_in"),
        ("time,rain_mm\n", "temperature_c or temperature_f"),
        ("date,low_c,low_f,high_c,rain_mm\n", "two columns say the same"),
        ("date,low_c,high_c,rain_mm\n", "the file holds no weather"),
    ],
)
def test_a_file_that_cannot_serve_is_refused(tmp_path: Path, text: str, said: str) -> None:
    """With what it would have to have."""
    assert any(said in sentence for sentence in refused(tmp_path, text))


def test_an_absent_file_is_refused_in_words(tmp_path: Path) -> None:
    """Not with a traceback."""
    with pytest.raises(GrowerError, match="cannot be read"):
        read_weather(tmp_path / "none.csv", ZURICH)


def hourly(folder: Path, *temperatures: float) -> Weather:
    """Read an hourly record of some temperatures."""
    rows = [
        f"2014-05-08T{hour:02}:00,{value},0" for hour, value in enumerate(temperatures, start=10)
    ]
    return read(folder, "time,temperature_c,rain_mm\n" + "\n".join(rows) + "\n")


@pytest.mark.parametrize(("slip_c", "kept"), [(-1.01, False), (-1.0, False), (-0.99, True)])
def test_an_hour_that_leaps_away_and_back_is_rejected(
    tmp_path: Path, slip_c: float, kept: bool
) -> None:
    """From 15 degC off both neighbours on; said with its line, and unknown afterwards."""
    weather = hourly(tmp_path, 16.0, slip_c, 14.0)
    assert [hour.temperature_c is not None for hour in weather.hours.values()] == [True, kept, True]
    assert [each.line for each in weather.report.rejected] == ([] if kept else [3])
    assert weather.report.unknown_hours == (0 if kept else 1)


def test_a_front_that_stays_is_believed(tmp_path: Path) -> None:
    """Twenty degrees within the hour, and still so in the next."""
    weather = hourly(tmp_path, 24.0, 4.0, 3.0)
    assert weather.report.rejected == ()


def test_an_hour_at_the_edge_of_a_gap_is_believed(tmp_path: Path) -> None:
    """With one neighbour nobody can tell."""
    assert hourly(tmp_path, -20.0, 15.0, 16.0).report.rejected == ()


def test_a_trace_of_rain_is_none_worth_measuring(tmp_path: Path) -> None:
    """In a column of temperature the letter is no number."""
    text = "date,low_c,high_c,rain_in\n2014-07-01,10,20,T\n"
    assert {hour.rain_mm for hour in read(tmp_path, text).hours.values()} == {0.0}
    (sentence,) = refused(tmp_path, "date,low_c,high_c,rain_in\n2014-07-01,T,20,0\n")
    assert "low_c" in sentence
