"""A local day of the forecast in figures, and whether it is hot and dry by the grower's rules."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.model.brief import ReasonCode
from strawbell.model.forecast import DayWeather, Forecast, Hour
from strawbell.weather.judgement import Finding, Standing, day_weather, hot_and_dry
from strawbell.weather.thresholds import DEFAULT_RULES
from support.gardens import forecast

START = datetime(2027, 7, 5, tzinfo=UTC)
DAY = timedelta(days=1)


def judged(high_c: float | None, rain_mm: float | None = 0.0, hot_day_c: float = 30.0) -> Finding:
    """Judge a day whose 15th hour has a high and all of whose rain falls in its 4th."""
    hours = tuple(
        Hour(
            START + timedelta(hours=number),
            temperature_c=high_c if number == 15 else 20.0,
            rain_mm=rain_mm if number == 4 else 0.0,
        )
        for number in range(24)
    )
    known: Forecast = replace(forecast(START), hours=hours)
    rules = replace(DEFAULT_RULES, hot_day_c=hot_day_c)
    return hot_and_dry(known, START, START + DAY, UTC, rules)


@pytest.mark.parametrize("hot_day_c", [30.0, 26.5])
@pytest.mark.parametrize(
    ("over_c", "standing"),
    [(-0.01, Standing.CLEAR), (0.0, Standing.REACHED), (0.01, Standing.REACHED)],
)
def test_a_day_is_hot_from_the_very_degree_of_the_rule_on(
    hot_day_c: float, over_c: float, standing: Standing
) -> None:
    """Just below, at and just over it; the reason names the high and the rule."""
    found = judged(hot_day_c + over_c, hot_day_c=hot_day_c)
    assert found.standing is standing
    assert [(each.value, each.threshold) for each in found.reasons] == (
        [(hot_day_c + over_c, hot_day_c)] if found.reached else []
    )


@pytest.mark.parametrize(("rain_mm", "reached"), [(2.49, True), (2.5, False), (2.51, False)])
def test_a_hot_day_with_rain_enough_is_not_dry(rain_mm: float, reached: bool) -> None:
    """Just under, at and over `dry_day_mm`."""
    assert judged(35.0, rain_mm).reached is reached


def test_rain_that_is_unknown_on_a_hot_day_is_said_and_not_taken_for_dry() -> None:
    """The day is hot all the same."""
    found = judged(35.0, None)
    assert found.reached
    assert [each.code for each in found.reasons] == [ReasonCode.HOT_DRY, ReasonCode.RAIN_UNKNOWN]


def test_a_high_that_is_unknown_is_not_cool() -> None:
    """The hour that is missing may have been the hot one."""
    assert judged(None).standing is Standing.UNKNOWN


def known_hours(*numbers: int) -> Forecast:
    """Return a forecast that knows some hours of the day: 12 degC and one more, 0.5 mm, 40 %."""
    hours = tuple(
        Hour(
            START + timedelta(hours=number),
            temperature_c=12.0 + number,
            rain_mm=0.5,
            rain_chance_percent=40.0,
        )
        for number in numbers
    )
    return replace(forecast(START), hours=hours)


def test_a_day_is_told_in_its_low_high_rain_and_chance() -> None:
    """Of all its hours, and of no other."""
    told = day_weather(known_hours(*range(-3, 30)), START, START + DAY)
    assert told == DayWeather(12.0, 35.0, 12.0, 40.0, complete=True)


@pytest.mark.parametrize(
    ("since_h", "complete"), [(None, False), (0, False), (1.5, False), (2, True), (24, False)]
)
def test_hours_that_are_over_are_not_missed(since_h: float | None, complete: bool) -> None:
    """A forecast of the morning knows no night; of a day that is over nothing is left to know."""
    since = None if since_h is None else START + timedelta(hours=since_h)
    assert day_weather(known_hours(*range(2, 24)), START, START + DAY, since).complete is complete


@pytest.mark.parametrize("unknown", ["temperature_c", "rain_mm"])
def test_what_is_left_of_a_day_has_to_be_known_in_both_its_figures(unknown: str) -> None:
    """Its temperature and its rain."""
    seen = known_hours(*range(24))
    hours = (*seen.hours[:20], replace(seen.hours[20], **{unknown: None}), *seen.hours[21:])
    noon = START + timedelta(hours=12)
    assert not day_weather(replace(seen, hours=hours), START, START + DAY, noon).complete


def test_a_day_without_a_forecast_is_unknown() -> None:
    """Neither dry nor mild."""
    assert day_weather(None, START, START + DAY) == DayWeather()
