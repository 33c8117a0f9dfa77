"""What the usual errors come to on a real record, as the module says."""

from __future__ import annotations

from datetime import time, timedelta
from math import sqrt

import pytest

from strawbell.rehearsal.recorded import Weather, read_weather
from strawbell.rehearsal.skill import forecast_at
from strawbell.season.local_time import moment_of, zone_of
from strawbell.weather.windows import lowest_temperature, rain_total
from support.station_records import PLACES, station_csv
from tests.value.verification import Contingency, counted

DAY = timedelta(days=1)
STEP_DAYS = 4
RAIN_MM, FREEZE_C = 12.7, 0.0


@pytest.fixture(scope="module")
def seattle(tmp_path_factory: pytest.TempPathFactory) -> Weather:
    """Read the record once."""
    path = station_csv(tmp_path_factory.mktemp("stations"), "Seattle")
    return read_weather(path, zone_of(PLACES["Seattle"].time_zone))


def measured(weather: Weather, lead_days: int) -> tuple[Contingency, Contingency, float]:
    """Return how heavy rain and freezes were foretold, and the error of the lows [degC]."""
    truth = tuple(weather.hours.values())
    rain, freeze, squares = [], [], []
    on = weather.report.first + 3 * DAY
    while on < weather.report.last - 12 * DAY:
        now = moment_of(on, time(6, 30), weather.zone)
        forecast = forecast_at(weather, "usual", now, seed=1)
        assert forecast is not None
        start, end = now + DAY * lead_days, now + DAY * (lead_days + 1)
        said, came = (rain_total(hours, start, end).value for hours in (forecast.hours, truth))
        low, lowest = (
            lowest_temperature(hours, start, end).value for hours in (forecast.hours, truth)
        )
        assert said is not None
        assert came is not None
        assert low is not None
        assert lowest is not None
        rain.append((said >= RAIN_MM, came >= RAIN_MM))
        freeze.append((low <= FREEZE_C, lowest <= FREEZE_C))
        squares.append((low - lowest) ** 2)
        on += DAY * STEP_DAYS
    return counted(rain), counted(freeze), sqrt(sum(squares) / len(squares))


def test_the_coming_day_is_foretold_as_the_module_says(seattle: Weather) -> None:
    """Of heavy rain six in ten, three alarms in ten false; of freezes nine in ten."""
    rain, freeze, error_c = measured(seattle, 0)
    assert rain.hit_rate == pytest.approx(0.6, abs=0.15)
    assert rain.false_alarm_ratio == pytest.approx(0.3, abs=0.15)
    assert freeze.hit_rate == pytest.approx(0.9, abs=0.1)
    assert freeze.false_alarm_ratio == pytest.approx(0.3, abs=0.15)
    assert error_c == pytest.approx(1.7, abs=0.2)


def test_the_end_of_the_week_is_foretold_much_worse(seattle: Weather) -> None:
    """Fewer hits, more false alarms, twice the error."""
    rain, freeze, error_c = measured(seattle, 6)
    near_rain, near_freeze, _ = measured(seattle, 0)
    assert error_c == pytest.approx(3.6, abs=0.4)
    assert rain.hit_rate is not None
    assert near_rain.hit_rate is not None
    assert rain.hit_rate < near_rain.hit_rate
    assert freeze.false_alarm_ratio is not None
    assert near_freeze.false_alarm_ratio is not None
    assert freeze.false_alarm_ratio > near_freeze.false_alarm_ratio
