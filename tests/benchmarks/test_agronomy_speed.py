"""The speed of the water advice: as ratios within one run, and the time of a garden's day.

Run with `pytest -m benchmark -s`. Nothing here is judged by the clock alone: limits are ratios.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import cos, pi
from time import process_time

import pytest

from strawbell.agronomy.evaporation import reference_et
from strawbell.agronomy.heat_index import heat_of_day
from strawbell.agronomy.surface import (
    potting_mix_layer,
    seed_bed_layer,
    surface_hours,
    surface_outlook,
)
from strawbell.decision.daily_weather import DailyWeather
from strawbell.decision.estimates import Estimates
from strawbell.model.forecast import Hour
from strawbell.model.garden import Place
from strawbell.season.fold import state_at
from strawbell.season.journal_index import JournalIndex
from strawbell.season.stage import Day
from support.gardens import at, batch, forecast, garden, on_day, told_until
from support.speed import figure
from support.sunlight import extraterrestrial, solar_date
from support.yardstick import median_s, yardstick

pytestmark = pytest.mark.benchmark

PLACE = Place(47.05, 8.31, "Europe/Zurich", 450.0)
START = datetime(2027, 1, 1, tzinfo=UTC)
WEEK_H = 168
YEAR_H = 8760
BATCHES = 6


def hours_of(count: int, start: datetime) -> list[Hour]:
    hours = []
    for index in range(count):
        at = start + timedelta(hours=index)
        swing = cos((at.hour - 14) / 12.0 * pi)
        season = -cos(at.timetuple().tm_yday / 365.0 * 2.0 * pi)
        above = extraterrestrial(PLACE.latitude, PLACE.longitude, at)
        hours.append(
            Hour(
                starts_at=at,
                temperature_c=10.0 + 9.0 * season + 5.0 * swing,
                rain_mm=0.0,
                dew_point_c=4.0 + 6.0 * season,
                wind_m_s=2.5 + swing,
                radiation_w_m2=0.6 * above / 0.0036,
                cloud_percent=30.0,
            )
        )
    return hours


BALE_OF_YARDSTICK = 1.6
"""Four milliseconds where a hundred thousand additions took 2.5, for one batch whose season is kept
folded to today; six may take fifteen."""


@pytest.mark.parametrize("batches", [1, 6])
@pytest.mark.parametrize("day", [9, 60])
def test_what_is_known_of_bales_whose_season_is_kept_costs_no_more_the_longer_it_is(
    batches: int, day: int
) -> None:
    """One bale 4 ms, six batches 15, where the additions took 2.5: readiness and core with it."""
    rows = tuple(batch(name=f"Row {number}") for number in range(batches))
    plan, moment = garden(*rows), at(on_day(day))
    index = JournalIndex.of(told_until(plan, day))
    seen = forecast(moment, days=7)

    daily = DailyWeather(plan, seen, moment)
    on = daily.today
    days = [Day(plan, row, state_at(plan, row, index, on), index.day(row, on)) for row in rows]

    def look() -> None:
        estimates = Estimates(plan, index, daily)
        estimates.begin(days)
        for each in rows:
            estimates.of(each)

    stick_s = median_s(yardstick, 40, process_time)
    look_s = median_s(look, 40, process_time)
    what = f"what is known of batches whose season is kept: {batches} on day {day}"
    most = BALE_OF_YARDSTICK if batches == 1 else 6.0
    figure(what, look_s / stick_s, "times 100,000 additions", most=most)


def test_a_gardens_day_costs_little_more_than_its_evapotranspiration() -> None:
    """Six batches share one week of demand: together under five times its cost."""
    july = datetime(2027, 7, 5, tzinfo=UTC)
    week, now = hours_of(WEEK_H, july), july + timedelta(hours=4, minutes=30)
    layers = [potting_mix_layer(4.0), seed_bed_layer(0.5)] * (BATCHES // 2)

    def demand_only() -> object:
        return reference_et(week, PLACE, 10.0)

    def garden_day() -> object:
        above = surface_hours(week, PLACE, 10.0)
        told: list[object] = [heat_of_day(week[:24])]
        for layer in layers:
            told.append(surface_outlook(above, layer, 0.41, now))
        assert None not in told
        return told

    alone, day = median_s(demand_only, 100), median_s(garden_day, 100)
    what = "advice on water for six batches and a week, beside its evapotranspiration"
    figure(what, day / alone, "times", most=5.0)


def test_a_year_of_hours_beside_the_array_library() -> None:
    """Plain Python is some tens of times slower than whole arrays at most, never hundreds."""
    numpy, refet = pytest.importorskip("numpy"), pytest.importorskip("refet")
    year = hours_of(YEAR_H, START)
    arrays = {
        "tmean": numpy.array([hour.temperature_c for hour in year]),
        "tdew": numpy.array([hour.dew_point_c for hour in year]),
        "rs": numpy.array([(hour.radiation_w_m2 or 0.0) * 0.0036 for hour in year]),
        "uz": numpy.array([hour.wind_m_s for hour in year]),
        "doy": numpy.array([solar_date(hour.starts_at, PLACE.longitude) for hour in year]),
        "time": numpy.array([float(hour.starts_at.hour) for hour in year]),
    }

    def by_arrays() -> object:
        return refet.Hourly(
            **arrays, zw=10.0, elev=450.0, lat=PLACE.latitude, lon=PLACE.longitude
        ).eto()

    def by_us() -> object:
        return reference_et(year, PLACE, 10.0)

    theirs, ours = median_s(by_arrays, 15), median_s(by_us, 15)
    what = "a year of hourly evapotranspiration beside whole arrays (`refet`)"
    figure(what, ours / theirs, "times", most=100.0)
