"""Whatever the weather: days that count are ordered, and warmth never takes any away."""

from __future__ import annotations

import math
from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from strawbell.agronomy.air.constants import DayTemperature
from strawbell.agronomy.bale.growth_response import cardinal_response
from strawbell.agronomy.bale.progress import (
    FASTEST_RATE,
    EffectiveDays,
    day_rate,
    days_to_go,
    effective_days,
)

START = date(2027, 4, 5)

finite_air = st.floats(-90.0, 60.0)
day_temperatures = st.tuples(finite_air, finite_air).map(
    lambda pair: DayTemperature(min(pair), max(pair))
)


@given(day_temperatures, st.floats(0.0, 20.0), st.floats(0.0, 20.0))
def test_a_warmer_day_never_counts_less(
    day: DayTemperature, low_more: float, high_more: float
) -> None:
    """Monotone in the low and in the high, and within nothing and the best."""
    low, high = min(60.0, day.low_c + low_more), min(60.0, day.high_c + high_more)
    warmer = DayTemperature(min(low, high), max(low, high))
    assert 0.0 <= day_rate(day) <= day_rate(warmer) + 1e-12
    assert day_rate(warmer) <= FASTEST_RATE + 1e-12


@given(st.lists(st.none() | day_temperatures, max_size=30), st.none() | st.floats(-90.0, 60.0))
def test_done_is_a_range_that_an_unknown_day_never_narrows(
    daily: list[DayTemperature | None], season_c: float | None
) -> None:
    """Forgetting a day's weather widens the range around what it was, without a season given."""
    done = effective_days(daily, season_c)
    assert 0.0 <= done.low <= done.high <= FASTEST_RATE * len(daily) + 1e-9
    if daily:
        forgotten = effective_days([*daily[:-1], None])
        plain = effective_days(daily)
        assert forgotten.low <= plain.low + 1e-12
        assert forgotten.high >= plain.high - 1e-12


@given(
    st.floats(0.0, 15.0),
    st.floats(0.0, 5.0),
    st.lists(st.none() | day_temperatures, max_size=16),
    st.none() | st.floats(-30.0, 40.0),
)
def test_days_to_go_are_ordered_and_fall_with_what_is_done(
    low: float, wide: float, ahead: list[DayTemperature | None], season_c: float | None
) -> None:
    """low <= expected <= high, unknown last; doing more never adds days."""
    span = days_to_go(EffectiveDays(low, low + wide), 12.0, ahead, season_c)
    expected = math.inf if span.expected is None else span.expected
    high = math.inf if span.high is None else span.high
    assert 0 <= span.low <= expected <= high
    more = days_to_go(EffectiveDays(low + 1.0, low + wide + 1.0), 12.0, ahead, season_c)
    assert (math.inf if more.expected is None else more.expected) <= expected
    assert (math.inf if more.high is None else more.high) <= high
    assert more.low <= span.low


@given(
    st.lists(st.tuples(st.floats(-40.0, 35.0), st.floats(0.0, 15.0)), min_size=1, max_size=16),
    st.floats(0.0, 10.0),
)
def test_a_warmer_forecast_never_adds_days(
    days: list[tuple[float, float]], warmer_c: float
) -> None:
    """Shifting every day ahead upwards moves none of the three dates back."""
    cold = [DayTemperature(low, low + swing) for low, swing in days]
    warm = [DayTemperature(low + warmer_c, low + swing + warmer_c) for low, swing in days]
    before = days_to_go(EffectiveDays(0.0, 0.0), 12.0, cold)
    after = days_to_go(EffectiveDays(0.0, 0.0), 12.0, warm)
    assert after.low <= before.low
    for later, earlier in ((before.expected, after.expected), (before.high, after.high)):
        assert (math.inf if earlier is None else earlier) <= (math.inf if later is None else later)


@given(
    st.floats(-50.0, 50.0),
    st.floats(0.1, 100.0),
    st.floats(0.501, 0.999),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
)
def test_the_cardinal_response_rises_to_its_optimum(
    minimum_c: float, span_c: float, optimum_share: float, one: float, other: float
) -> None:
    """Between minimum and optimum the warmer never grows slower; all stays within 0 and 1."""
    maximum_c, optimum_c = minimum_c + span_c, minimum_c + span_c * optimum_share
    below, above = sorted((one, other))
    cooler = minimum_c + (optimum_c - minimum_c) * below
    warmer = minimum_c + (optimum_c - minimum_c) * above
    slow = cardinal_response(cooler, minimum_c, optimum_c, maximum_c)
    fast = cardinal_response(warmer, minimum_c, optimum_c, maximum_c)
    assert 0.0 <= slow <= fast + 1e-9
    assert fast <= 1.0
