"""Claims about the progress of conditioning in warm and cold weather."""

from __future__ import annotations

import math

import pytest

from strawbell.agronomy.bale.progress import (
    FASTEST_FROM_C,
    FASTEST_RATE,
    HORIZON_DAYS,
    MILD_DAY,
    MILD_DAYS_NEEDED,
    DayTemperature,
    EffectiveDays,
    Span,
    air_response,
    day_rate,
    days_to_go,
    effective_days,
)

NOTHING_DONE = EffectiveDays(0.0, 0.0)


def steady(mean_c: float, days: int = 10) -> list[DayTemperature]:
    """Return days of one mean, 5 K to either side."""
    return [DayTemperature(mean_c - 5.0, mean_c + 5.0)] * days


def test_a_mild_day_counts_one() -> None:
    """9 to 19 degC is the unit."""
    assert day_rate(MILD_DAY) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("high_c", [0.0, -0.1, -20.0])
def test_a_day_that_stays_frozen_counts_nothing(high_c: float) -> None:
    """At 0 degC and under it conditioning stands still."""
    assert day_rate(DayTemperature(-30.0, high_c)) == 0.0


def test_a_warm_afternoon_after_a_frost_counts() -> None:
    """A mean of 0 degC with 10 degC in the afternoon is slow, not standstill."""
    assert 0.0 < day_rate(DayTemperature(-10.0, 10.0)) < 0.5


def test_hot_air_is_not_slower_than_warm_air() -> None:
    """From the optimum on the response is held."""
    assert air_response(FASTEST_FROM_C - 0.1) < 1.0
    assert air_response(FASTEST_FROM_C) == 1.0
    assert air_response(45.5) == 1.0
    assert day_rate(DayTemperature(30.0, 45.0)) == FASTEST_RATE


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_the_response_refuses_what_is_no_temperature(bad: float) -> None:
    """Also above the optimum."""
    with pytest.raises(ValueError, match="temperature_c"):
        air_response(bad)


def test_known_days_leave_no_range() -> None:
    """Low and high are the sum of the days."""
    done = effective_days(steady(14.0, 5))
    assert done.low == done.high == pytest.approx(5.0)


def test_an_unknown_day_counts_anything_between_nothing_and_the_best() -> None:
    """The range widens by a whole best day."""
    done = effective_days([*steady(14.0, 4), None])
    assert done.low == pytest.approx(4.0)
    assert done.high == pytest.approx(4.0 + FASTEST_RATE)


def test_the_season_narrows_an_unknown_day() -> None:
    """With a mean of the season the range is smaller, and holds the mean day."""
    done = effective_days([None], season_mean_c=14.0)
    assert 0.0 < done.low < 1.0 < done.high < FASTEST_RATE


def test_an_impossible_season_is_refused() -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match="season_mean_c"):
        effective_days([None], season_mean_c=60.1)
    with pytest.raises(ValueError, match="climatology_mean_c"):
        days_to_go(NOTHING_DONE, 12.0, [], climatology_mean_c=math.nan)


@pytest.mark.parametrize(("low", "high"), [(-0.1, 1.0), (2.0, 1.0), (0.0, math.inf)])
def test_a_range_that_is_none_is_refused(low: float, high: float) -> None:
    """Negative, reversed or endless."""
    with pytest.raises(ValueError, match="low and high"):
        EffectiveDays(low, high)


@pytest.mark.parametrize("needed", [0.0, -1.0, math.nan, math.inf])
def test_a_need_that_is_none_is_refused(needed: float) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match="needed"):
        days_to_go(NOTHING_DONE, needed, steady(14.0))


def test_mild_weather_takes_twelve_days_with_a_range_around_them() -> None:
    """The forecast errs to either side."""
    span = days_to_go(NOTHING_DONE, MILD_DAYS_NEEDED, steady(14.0, 16))
    assert span.expected == 12
    assert span.high is not None
    assert span.low < 12 < span.high


def test_what_is_done_needs_no_more_days() -> None:
    """At the count it is done, just under it one more day is needed."""
    assert days_to_go(EffectiveDays(12.0, 12.0), 12.0, steady(14.0)) == Span(0, 0, 0)
    assert days_to_go(EffectiveDays(11.9, 11.9), 12.0, steady(14.0)) == Span(1, 1, 1)


def test_frost_ahead_without_an_end_is_not_foreseeable() -> None:
    """A frozen week carried on gives no date."""
    span = days_to_go(NOTHING_DONE, 12.0, steady(-15.0))
    assert span == Span(HORIZON_DAYS, None, None)


def test_the_season_brings_a_frozen_forecast_back_to_spring() -> None:
    """Past the forecast a carried mean goes over into that of the season."""
    span = days_to_go(NOTHING_DONE, 12.0, steady(-15.0, 7), climatology_mean_c=14.0)
    assert span.expected is not None
    assert 7 + 12 <= span.expected <= 7 + 12 + 7


def test_nothing_known_of_the_weather_gives_only_the_earliest_day() -> None:
    """Ten hot days are the least; more is not said."""
    assert days_to_go(NOTHING_DONE, 12.0, []) == Span(10, None, None)
    assert days_to_go(NOTHING_DONE, 12.0, [None, None]) == Span(10, None, None)
    assert days_to_go(EffectiveDays(12.0, 13.0), 12.0, []) == Span(0, 0, 0)


def test_the_season_alone_is_enough_for_an_estimate() -> None:
    """Without a forecast the mean of the season is taken, with its band."""
    span = days_to_go(NOTHING_DONE, 12.0, [], climatology_mean_c=14.0)
    assert span.expected == 12
    assert span.high is not None
    assert span.low < 12 < span.high


def test_a_gap_in_the_forecast_is_filled_from_what_is_known() -> None:
    """One unknown day among mild ones widens, and keeps the expected count."""
    whole = days_to_go(NOTHING_DONE, 12.0, steady(14.0, 14))
    gap = days_to_go(NOTHING_DONE, 12.0, [*steady(14.0, 2), None, *steady(14.0, 11)])
    assert gap.expected == whole.expected
    assert gap.high is not None
    assert whole.high is not None
    assert gap.high >= whole.high


def test_days_to_go_move_as_the_forecast_moves() -> None:
    """Colder days ahead mean more of them."""
    warm = days_to_go(EffectiveDays(4.0, 4.0), 12.0, steady(18.0))
    cold = days_to_go(EffectiveDays(4.0, 4.0), 12.0, steady(6.0))
    assert warm.expected is not None
    assert cold.expected is not None
    assert cold.expected > warm.expected + 4


def test_the_band_past_the_forecast_widens_with_a_shorter_forecast() -> None:
    """A day beyond the forecast is less sure than a day within it."""
    long = days_to_go(NOTHING_DONE, 12.0, steady(10.0, 3) + steady(10.0, 2))
    short = days_to_go(NOTHING_DONE, 12.0, steady(10.0, 2))
    assert long.high is not None
    assert short.high is not None
    assert short.high - short.low >= long.high - long.low


def test_the_week_ahead_is_carried_on_before_the_season_takes_over() -> None:
    """A cold week before a warm season takes longer than a warm week before it, day for day."""
    carried = days_to_go(NOTHING_DONE, 3.0, steady(3.0, 1), climatology_mean_c=20.0)
    at_once = days_to_go(NOTHING_DONE, 3.0, [], climatology_mean_c=20.0)
    assert carried.expected is not None
    assert at_once.expected is not None
    assert carried.expected >= at_once.expected + 2
