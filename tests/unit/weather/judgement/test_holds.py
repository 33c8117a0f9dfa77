"""The two reasons to hold a feeding, just under, at and just over their thresholds."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from strawbell.model.brief import ReasonCode
from strawbell.model.forecast import Forecast
from strawbell.weather.chance import Colder
from strawbell.weather.judgement import Standing, freeze, heavy_rain
from strawbell.weather.thresholds import DEFAULT_RULES
from support.gardens import ZONE, at, forecast, hour_at, on_day

NOW = at(on_day(5))
HERE = ZoneInfo(ZONE)
LATER = at(on_day(5), 15, 0)


def rain_of(amount: float) -> Forecast:
    """Return the forecast of one wet hour this afternoon."""
    return forecast(NOW, hour_at(LATER, rain_mm=amount))


@pytest.mark.parametrize(
    ("amount", "told", "standing"),
    [
        (18.11, False, Standing.CLEAR),
        (18.13, False, Standing.REACHED),
        (15.83, True, Standing.CLEAR),
        (15.85, True, Standing.REACHED),
    ],
)
def test_rain_is_reached_at_its_threshold_and_let_go_by_a_margin(
    amount: float, told: bool, standing: Standing
) -> None:
    """Half an inch has even chances after 18.12 mm; a told hold is kept until they are 0.4."""
    assert heavy_rain(rain_of(amount), NOW, HERE, DEFAULT_RULES, told=told).standing is standing


@pytest.mark.parametrize(("percent", "reached"), [(57.7, True), (57.9, False)])
def test_the_grower_may_want_to_be_surer(percent: float, reached: bool) -> None:
    """After 20 mm the chance is 0.578."""
    rules = replace(DEFAULT_RULES, rain_hold_chance_percent=percent)
    finding = heavy_rain(rain_of(20.0), NOW, HERE, rules)
    assert finding.reached is reached
    assert finding.reasons[0].chance == pytest.approx(0.578, abs=0.001)


def test_rain_known_to_be_enough_needs_no_complete_window() -> None:
    """What is known reaches the threshold, whatever the missing hour brings."""
    wet = rain_of(20.0)
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
        (0.35, True, Standing.REACHED),
        (0.36, True, Standing.CLEAR),
    ],
)
def test_a_freeze_is_reached_at_zero_and_let_go_by_a_margin(
    low: float, told: bool, standing: Standing
) -> None:
    """At zero it is as likely as not; a told hold is kept until the chance is 0.4."""
    cold = forecast(NOW, hour_at(at(on_day(6), 5, 0), temperature_c=low))
    assert freeze(cold, NOW, HERE, DEFAULT_RULES, told=told).standing is standing


def test_the_reason_of_a_freeze_tells_the_low_of_the_garden_and_when_it_comes() -> None:
    """In tenths of a degree; in a hollow it is the hollow's, by the clock of the garden."""
    dawn = at(on_day(6), 5, 0)
    cold = forecast(NOW, hour_at(dawn, temperature_c=0.26))
    (why,) = freeze(cold, NOW, HERE, DEFAULT_RULES, colder=Colder(2.0, 0.5)).reasons
    assert (why.code, why.value, why.threshold) == (ReasonCode.FREEZE, -1.7, 0.0)
    assert why.at == dawn
    assert why.at.utcoffset() == dawn.astimezone(HERE).utcoffset()


def test_a_low_that_is_unknown_is_no_mild_night() -> None:
    """What is known is told beside it; nothing known is no figure."""
    blank = forecast(NOW, lambda hour: replace(hour, temperature_c=None))
    (why,) = freeze(blank, NOW, HERE, DEFAULT_RULES).reasons
    assert (why.code, why.value) == (ReasonCode.TEMPERATURE_UNKNOWN, None)


def test_during_the_day_the_window_does_not_move() -> None:
    """Rain tomorrow noon is no news this afternoon: it lies past the morning's window."""
    tomorrow_noon = at(on_day(6), 12, 0)
    wet = forecast(NOW, hour_at(tomorrow_noon, rain_mm=20.0))
    afternoon = at(on_day(5), 14, 0)
    assert heavy_rain(wet, afternoon, HERE, DEFAULT_RULES).reached
    assert not heavy_rain(wet, afternoon, HERE, DEFAULT_RULES, decided=NOW).reached


def test_half_a_downpour_does_not_release_what_waits_for_it() -> None:
    """Rain that has fallen since the morning counts as long as the hold stands."""
    wet = rain_of(30.0)
    evening = at(on_day(5), 18, 30)
    assert heavy_rain(wet, evening, HERE, DEFAULT_RULES, decided=NOW, told=True).reached
    assert not heavy_rain(wet, evening, HERE, DEFAULT_RULES, decided=NOW).reached


def test_a_hold_is_not_taken_back_just_before_the_downpour() -> None:
    """Held in the morning, the evening looks a whole day ahead again."""
    tomorrow_noon = at(on_day(6), 12, 0)
    wet = forecast(NOW, hour_at(tomorrow_noon, rain_mm=20.0))
    evening = at(on_day(5), 18, 30)
    assert heavy_rain(wet, evening, HERE, DEFAULT_RULES, decided=NOW, told=True).reached
    cold = forecast(NOW, hour_at(tomorrow_noon, temperature_c=-2.0))
    assert freeze(cold, evening, HERE, DEFAULT_RULES, decided=NOW, told=True).reached
    assert not freeze(cold, evening, HERE, DEFAULT_RULES, decided=NOW).reached
