"""Whatever the weather, the bale and the probe: energy closes, masses stay, bands hold."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from strawbell.agronomy.air.constants import DayTemperature
from strawbell.agronomy.bale.core_outlook import Reading, core_temperature
from strawbell.agronomy.bale.growth_response import cardinal_response
from strawbell.agronomy.bale.heat import (
    HEAT_OF_DECOMPOSITION_J_KG,
    BaleHeatInputs,
    Feeding,
    advance,
    bale_thermal,
    feed,
    start_state,
)
from strawbell.agronomy.bale.progress import (
    FASTEST_RATE,
    EffectiveDays,
    day_rate,
    days_to_go,
    effective_days,
)
from strawbell.model.garden import Bale

START = date(2027, 4, 5)

finite_air = st.floats(-90.0, 60.0)
day_temperatures = st.tuples(finite_air, finite_air).map(
    lambda pair: DayTemperature(min(pair), max(pair))
)
side_cm = st.floats(10.0, 400.0)
bales = st.builds(
    Bale,
    kind=st.just("any"),
    length_cm=side_cm,
    width_cm=side_cm,
    height_cm=side_cm,
    dry_mass_kg=st.floats(1.0, 1000.0),
    weathered=st.booleans(),
)
waters = st.none() | st.floats(0.0, 2000.0)
feedings = st.lists(
    st.builds(
        Feeding,
        on=st.integers(-3, 20).map(lambda day: START + timedelta(days=day)),
        nitrogen_g=st.floats(0.0, 2000.0),
        organic=st.booleans(),
    ),
    max_size=6,
).map(tuple)
readings = st.lists(
    st.builds(
        Reading,
        at=st.floats(-2.0, 30.0).map(
            lambda day: datetime(2027, 4, 5, tzinfo=UTC) + timedelta(days=day)
        ),
        temperature_c=st.floats(-40.0, 150.0),
    ),
    max_size=5,
)


@given(bales, waters, finite_air, st.lists(finite_air, min_size=1, max_size=60), feedings)
def test_energy_closes_and_masses_stay(
    bale: Bale,
    water: float | None,
    start_c: float,
    air: list[float],
    fed: tuple[Feeding, ...],
) -> None:
    """Heat given off = heat lost + heat stored, and solids and nitrogen neither rise nor vanish."""
    thermal = bale_thermal(bale, water)
    state = start_state(thermal, start_c)
    own = state.available_g
    for feeding in fed:
        feed(state, feeding)
    previous = state.fast_kg + state.slow_kg
    for air_c in air:
        advance(state, thermal, air_c, 0.25)
        now = state.fast_kg + state.slow_kg
        assert state.fast_kg >= 0.0
        assert 0.0 <= now <= previous
        assert 0.0 <= state.hold <= 1.0
        previous = now
    stored = thermal.heat_capacity_j_k * (state.temperature_c - start_c)
    scale = max(
        1.0, state.heat_j, abs(state.loss_j), thermal.heat_capacity_j_k * max(abs(start_c), 100.0)
    )
    assert state.heat_j - state.loss_j - stored == pytest.approx(0.0, abs=1e-9 * scale)
    gone = thermal.fast_kg + thermal.slow_kg - previous
    assert state.heat_j == pytest.approx(
        gone * HEAT_OF_DECOMPOSITION_J_KG, abs=1e-9 * HEAT_OF_DECOMPOSITION_J_KG * thermal.dry_kg
    )
    given_g = sum(feeding.nitrogen_g for feeding in fed)
    assert state.available_g + state.bound_g == pytest.approx(own + given_g, abs=1e-9)


@given(bales, waters, finite_air, finite_air, st.floats(0.01, 1.0))
def test_one_step_stays_between_old_temperature_air_and_full_heat(
    bale: Bale, water: float | None, start_c: float, air_c: float, days: float
) -> None:
    """However small or dry the bale and long the step: stable, and never colder than both."""
    thermal = bale_thermal(bale, water)
    state = start_state(thermal, start_c)
    feed(state, Feeding(START, 2000.0))
    advance(state, thermal, air_c, days)
    assert math.isfinite(state.temperature_c)
    assert state.temperature_c >= min(start_c, air_c) - 1e-9
    settled = air_c + state.heat_j / (days * 86_400.0) / thermal.loss_w_k
    assert state.temperature_c <= max(start_c, settled) + 1e-9


@given(
    bales,
    waters,
    feedings,
    st.dictionaries(
        st.integers(-2, 40).map(lambda day: START + timedelta(days=day)),
        st.none() | day_temperatures,
        max_size=40,
    ),
    readings,
    st.floats(-5.0, 30.0),
    st.integers(0, 10),
)
def test_the_band_is_finite_ordered_and_repeatable(
    bale: Bale,
    water: float | None,
    fed: tuple[Feeding, ...],
    air: dict[date, DayTemperature | None],
    probed: list[Reading],
    day: float,
    ahead: int,
) -> None:
    """Every day has low <= expected <= high, finite, and the same again for the same inputs."""
    inputs = BaleHeatInputs(bale, fed, START, water)
    now = datetime(2027, 4, 5, tzinfo=UTC) + timedelta(days=day)
    found = core_temperature(inputs, air, probed, now, ahead)
    for core in found.days:
        assert -120.0 < core.low_c <= core.expected_c <= core.high_c < 400.0
    assert found == core_temperature(inputs, air, probed, now, ahead)
    assert found.air_assumed_days >= 0


@given(st.floats(25.0, 60.0), st.floats(4.0, 24.0))
def test_a_reading_pulls_the_expectation_towards_itself(reading_c: float, hour: float) -> None:
    """After a reading the day's expected value lies no further from it than without it."""
    bale = Bale("two-string", 100.0, 46.0, 36.0, 20.0)
    inputs = BaleHeatInputs(bale, (Feeding(START, 150.0),), START)
    air: dict[date, DayTemperature | None] = {
        START + timedelta(days=day): DayTemperature(9.0, 19.0) for day in range(30)
    }
    now = datetime(2027, 4, 13, tzinfo=UTC) + timedelta(hours=hour)
    reading = Reading(now - timedelta(hours=1), reading_c)
    plain = core_temperature(inputs, air, (), now, 0).days[0].expected_c
    taken = core_temperature(inputs, air, (reading,), now, 0).days[0].expected_c
    assert abs(taken - reading_c) <= abs(plain - reading_c) + 4.0


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
