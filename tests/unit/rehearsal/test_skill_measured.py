"""What the usual errors come to on a real record, as the module says."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import time, timedelta
from math import sqrt
from statistics import fmean

import pytest

from strawbell.agronomy.crops.table import CROPS
from strawbell.decision.daily_weather import Skies
from strawbell.decision.frost_watch import risk_of
from strawbell.decision.hold_judgement import FROST_HOLDS_NIGHTS
from strawbell.model.garden import Garden
from strawbell.rehearsal.recorded import Weather, read_weather
from strawbell.rehearsal.skill import forecast_at
from strawbell.season.local_time import moment_of, zone_of
from strawbell.weather.windows import lowest_temperature, rain_total
from support.gardens import batch, garden
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


NEAR_NIGHTS, FAR_NIGHTS = range(FROST_HOLDS_NIGHTS), range(FROST_HOLDS_NIGHTS, 9)
"""The tenth night is not forecast to its end."""


@pytest.fixture(scope="module")
def alarms(tmp_path_factory: pytest.TempPathFactory) -> Mapping[int, float]:
    """Return by nights ahead how often a frost came that was foretold for tomatoes in spring.

    The mean over four stations, looked at on every second morning from 15 February to the end
    of May.
    """
    shares: dict[int, list[float]] = {}
    for station, place in PLACES.items():
        path = station_csv(tmp_path_factory.mktemp("alarms"), station)
        weather = read_weather(path, zone_of(place.time_zone))
        for ahead, (came, said) in _frosts_foretold(weather, garden(batch(), place=place)).items():
            shares.setdefault(ahead, []).append(came / said)
    return {ahead: fmean(each) for ahead, each in shares.items()}


def _frosts_foretold(weather: Weather, plan: Garden) -> Mapping[int, tuple[int, int]]:
    """Return by nights ahead how many frosts came of those foretold, and how many were."""
    came: dict[int, int] = {}
    said: dict[int, int] = {}
    first, last = weather.report.first + 3 * DAY, weather.report.last - 12 * DAY
    on = first
    while on <= last:
        now = moment_of(on, time(6, 30), weather.zone)
        if (2, 15) <= (on.month, on.day) <= (5, 31):
            truth = forecast_at(weather, "perfect", now, seed=1)
            for seed in (1, 2):
                usual = forecast_at(weather, "usual", now, seed=seed)
                told, real = Skies(plan, usual, now), Skies(plan, truth, now)
                for ahead in (*NEAR_NIGHTS, *FAR_NIGHTS):
                    night = on + DAY * ahead
                    if risk_of(told.night(night), CROPS["tomato"]) is not None:
                        said[ahead] = said.get(ahead, 0) + 1
                        frost = risk_of(real.night(night), CROPS["tomato"]) is not None
                        came[ahead] = came.get(ahead, 0) + frost
        on += DAY * 2
    return {ahead: (came.get(ahead, 0), many) for ahead, many in said.items()}


def test_a_frost_foretold_for_the_nights_planting_waits_for_mostly_comes(
    alarms: Mapping[int, float],
) -> None:
    """Each of the five nights: more than half of the alarms are true."""
    assert all(alarms[ahead] > 0.5 for ahead in NEAR_NIGHTS)


def test_a_frost_foretold_for_later_nights_comes_in_half_the_cases(
    alarms: Mapping[int, float],
) -> None:
    """No better than a coin, so nobody waits for it."""
    assert fmean(alarms[ahead] for ahead in FAR_NIGHTS) == pytest.approx(0.5, abs=0.05)
    assert max(alarms[ahead] for ahead in FAR_NIGHTS) < alarms[0] - 0.15
