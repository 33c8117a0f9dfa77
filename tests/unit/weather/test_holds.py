"""The two reasons to hold a feeding, just under, at and just over their thresholds."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from strawbell.model.brief import ReasonCode
from strawbell.weather.findings import Standing
from strawbell.weather.holds import freeze, heavy_rain
from strawbell.weather.thresholds import DEFAULT_RULES
from support.gardens import ZONE, at, forecast, hour_at, on_day

NOW = at(on_day(5))
HERE = ZoneInfo(ZONE)
LATER = at(on_day(5), 15, 0)


def rain_of(amount: float, chance: float | None = 80.0) -> object:
    """Return the forecast of one wet hour this afternoon."""
    return forecast(NOW, hour_at(LATER, rain_mm=amount, rain_chance_percent=chance))


@pytest.mark.parametrize(
    ("amount", "told", "standing"),
    [
        (12.6, False, Standing.CLEAR),
        (12.7, False, Standing.REACHED),
        (12.8, False, Standing.REACHED),
        (10.1, True, Standing.CLEAR),
        (10.2, True, Standing.REACHED),
    ],
)
def test_rain_is_reached_at_its_threshold_and_let_go_by_a_margin(
    amount: float, told: bool, standing: Standing
) -> None:
    """A told hold is kept until the rain is 2.5 mm under the threshold."""
    assert heavy_rain(rain_of(amount), NOW, HERE, DEFAULT_RULES, told=told).standing is standing


@pytest.mark.parametrize(("chance", "standing"), [(49.0, Standing.CLEAR), (50.0, Standing.REACHED)])
def test_a_chance_counts_from_fifty_percent(chance: float, standing: Standing) -> None:
    """More than half is likely enough to wait."""
    assert heavy_rain(rain_of(20.0, chance), NOW, HERE, DEFAULT_RULES).standing is standing


def test_rain_known_to_be_enough_needs_no_complete_window() -> None:
    """What is known reaches the threshold, whatever the missing hour brings."""
    wet = rain_of(14.0)
    holed = replace(
        wet,
        hours=tuple(hour for hour in wet.hours if hour.starts_at != LATER + timedelta(hours=3)),
    )
    assert heavy_rain(holed, NOW, HERE, DEFAULT_RULES).reached


def test_a_missing_hour_makes_dry_weather_unknown() -> None:
    """Unknown is never dry."""
    holed = forecast(NOW, hour_at(LATER, rain_mm=None))
    finding = heavy_rain(holed, NOW, HERE, DEFAULT_RULES)
    assert finding.standing is Standing.UNKNOWN
    assert finding.reasons[0].code is ReasonCode.RAIN_UNKNOWN


@pytest.mark.parametrize(
    ("low", "told", "standing"),
    [
        (0.1, False, Standing.CLEAR),
        (0.0, False, Standing.REACHED),
        (-0.1, False, Standing.REACHED),
        (1.0, True, Standing.REACHED),
        (1.1, True, Standing.CLEAR),
    ],
)
def test_a_freeze_is_reached_at_zero_and_let_go_by_a_degree(
    low: float, told: bool, standing: Standing
) -> None:
    """A told hold is kept until the low is a degree over the threshold."""
    cold = forecast(NOW, hour_at(at(on_day(6), 5, 0), temperature_c=low))
    assert freeze(cold, NOW, HERE, DEFAULT_RULES, told=told).standing is standing


def test_during_the_day_the_window_does_not_move() -> None:
    """Rain tomorrow noon is no news this afternoon: it lies past the morning's window."""
    tomorrow_noon = at(on_day(6), 12, 0)
    wet = forecast(NOW, hour_at(tomorrow_noon, rain_mm=20.0, rain_chance_percent=90.0))
    afternoon = at(on_day(5), 14, 0)
    assert heavy_rain(wet, afternoon, HERE, DEFAULT_RULES).reached
    assert not heavy_rain(wet, afternoon, HERE, DEFAULT_RULES, decided=NOW).reached


def test_a_hold_is_not_taken_back_just_before_the_downpour() -> None:
    """Held in the morning, the evening looks a whole day ahead again."""
    tomorrow_noon = at(on_day(6), 12, 0)
    wet = forecast(NOW, hour_at(tomorrow_noon, rain_mm=20.0, rain_chance_percent=90.0))
    evening = at(on_day(5), 18, 30)
    assert heavy_rain(wet, evening, HERE, DEFAULT_RULES, decided=NOW, told=True).reached
    cold = forecast(NOW, hour_at(tomorrow_noon, temperature_c=-2.0))
    assert freeze(cold, evening, HERE, DEFAULT_RULES, decided=NOW, told=True).reached
    assert not freeze(cold, evening, HERE, DEFAULT_RULES, decided=NOW).reached
