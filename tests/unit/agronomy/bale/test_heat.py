"""Claims about the heat balance of a moist bale."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from itertools import pairwise

import pytest

from strawbell.agronomy.bale.heat import (
    HEAT_OF_DECOMPOSITION_J_KG,
    HOLD_AT_START,
    ORGANIC_RELEASE_PER_DAY,
    BaleThermal,
    Feeding,
    HeatState,
    advance,
    bale_thermal,
    feed,
    start_state,
    working_rate,
)
from strawbell.model.garden import Bale

TWO_STRING = Bale("two-string", 100.0, 46.0, 36.0, 20.0)
THREE_STRING = Bale("three-string", 112.0, 56.0, 41.0, 38.0)
ON = date(2027, 4, 5)


def fed_bale(bale: Bale = TWO_STRING, temperature_c: float = 14.0) -> tuple[HeatState, BaleThermal]:
    """Return a bale with a whole season's nitrogen."""
    thermal = bale_thermal(bale)
    state = start_state(thermal, temperature_c)
    feed(state, Feeding(ON, 180.0))
    return state, thermal


def test_warming_a_soaked_bale_takes_the_calculated_heat() -> None:
    """17.6 kg dry and 26.4 kg water from 15 to 55 degC: 5.48 MJ (by hand, 1.5 and 4.186 kJ)."""
    thermal = bale_thermal(TWO_STRING)
    assert thermal.dry_kg == pytest.approx(17.6)
    assert thermal.moisture_fraction == pytest.approx(0.60)
    assert thermal.heat_capacity_j_k * 40.0 / 1e6 == pytest.approx(5.48, abs=0.005)


def test_heat_capacity_and_conductivity_lie_in_the_measured_range() -> None:
    """0.26 to 3.45 MJ/(m3 K) (Ahn et al. 2009)."""
    for bale in (TWO_STRING, THREE_STRING):
        volume = bale.length_cm * bale.width_cm * bale.height_cm / 1e6
        assert 0.26e6 <= bale_thermal(bale).heat_capacity_j_k / volume <= 3.45e6


def test_a_larger_bale_loses_less_for_its_mass() -> None:
    """Less surface for its mass: that is why three-string bales get hotter."""
    small, large = bale_thermal(TWO_STRING), bale_thermal(THREE_STRING)
    assert large.loss_w_k / large.dry_kg < small.loss_w_k / small.dry_kg


def test_a_weathered_bale_has_little_left_that_rots_fast() -> None:
    """What is gone from the fast share counts as slow; the sum stays."""
    fresh, old = bale_thermal(TWO_STRING), bale_thermal(replace(TWO_STRING, weathered=True))
    assert old.fast_kg < 0.1 * fresh.fast_kg
    assert old.fast_kg + old.slow_kg == pytest.approx(fresh.fast_kg + fresh.slow_kg)


@pytest.mark.parametrize("name", ["length_cm", "width_cm", "height_cm"])
def test_sides_outside_the_range_are_refused(name: str) -> None:
    """10 and 400 cm are in, beyond them is out."""
    for good in (10.0, 400.0):
        bale_thermal(replace(TWO_STRING, **{name: good}))
    for bad in (9.9, 400.1, math.nan):
        with pytest.raises(ValueError, match=name):
            bale_thermal(replace(TWO_STRING, **{name: bad}))


def test_masses_and_water_outside_the_range_are_refused() -> None:
    """The refusal names the argument; a bale without water is accepted."""
    for bad in (0.9, 1000.1, math.inf):
        with pytest.raises(ValueError, match="dry_mass_kg"):
            bale_thermal(replace(TWO_STRING, dry_mass_kg=bad))
    for bad in (-0.1, 2000.1, math.nan):
        with pytest.raises(ValueError, match="water_litres"):
            bale_thermal(TWO_STRING, bad)
    assert bale_thermal(TWO_STRING, 0.0).moisture_fraction == 0.0


def test_a_dry_bale_does_not_work() -> None:
    """At 20 % moisture nothing, above it something, from 40 % all."""
    rates = []
    for moisture in (0.199, 0.21, 0.40, 0.60):
        thermal = bale_thermal(TWO_STRING, 17.6 * moisture / (1.0 - moisture))
        state = start_state(thermal, 30.0)
        rates.append(working_rate(state, thermal))
    assert rates[0] == 0.0 < rates[1] < rates[2]
    assert rates[2] == pytest.approx(rates[3])


def test_nitrogen_speeds_decomposers_up_with_less_and_less_gain() -> None:
    """Each further dose adds less than the one before."""
    thermal = bale_thermal(TWO_STRING)
    rates = []
    for dose in range(5):
        state = start_state(thermal, 30.0)
        feed(state, Feeding(ON, 40.0 * dose))
        rates.append(working_rate(state, thermal))
    gains = [b - a for a, b in pairwise(rates)]
    assert all(gain > 0.0 for gain in gains)
    assert gains == sorted(gains, reverse=True)


def test_organic_nitrogen_becomes_available_day_by_day() -> None:
    """Bound and available keep their sum; after two weeks 54 % is available."""
    thermal = bale_thermal(TWO_STRING)
    state = start_state(thermal, -10.0)
    own = state.available_g
    feed(state, Feeding(ON, 100.0, organic=True))
    for _ in range(56):
        advance(state, thermal, -10.0, 0.25)
    assert state.available_g - own + state.bound_g == pytest.approx(100.0, abs=1e-9)
    released = 100.0 * (1.0 - math.exp(-14.0 * ORGANIC_RELEASE_PER_DAY))
    assert state.available_g - own == pytest.approx(released)


@pytest.mark.parametrize("bad", [-0.1, 2000.1, math.nan])
def test_nitrogen_outside_the_range_is_refused(bad: float) -> None:
    """The refusal names the argument."""
    state, _ = fed_bale()
    with pytest.raises(ValueError, match="nitrogen_g"):
        feed(state, Feeding(ON, bad))


def test_a_bale_without_heat_follows_the_air() -> None:
    """Frozen straw gives no heat; after a week it is at the air's temperature."""
    state, thermal = fed_bale(temperature_c=0.0)
    for _ in range(28):
        advance(state, thermal, -8.0, 0.25)
    assert state.temperature_c == pytest.approx(-8.0, abs=0.01)
    assert state.heat_j == 0.0
    assert state.hold == HOLD_AT_START


def test_the_heat_given_off_is_that_of_the_matter_gone() -> None:
    """Heat equals the solids lost times their heat of decomposition."""
    state, thermal = fed_bale()
    for _ in range(60):
        advance(state, thermal, 14.0, 0.25)
    gone = thermal.fast_kg + thermal.slow_kg - state.fast_kg - state.slow_kg
    assert gone > 1.0
    assert state.heat_j == pytest.approx(gone * HEAT_OF_DECOMPOSITION_J_KG, rel=1e-9)


def test_the_loss_is_the_warmth_above_the_air_summed_over_time() -> None:
    """Against plain summing in steps of three minutes, within half a percent."""
    state, thermal = fed_bale(temperature_c=30.0)
    summed = 0.0
    step = 1.0 / 480.0
    for _ in range(480 * 6):
        before = state.temperature_c
        advance(state, thermal, 14.0, step)
        middle = (before + state.temperature_c) / 2.0
        summed += thermal.loss_w_k * (middle - 14.0) * step * 86_400.0
    assert state.loss_j == pytest.approx(summed, rel=0.005)


def test_steps_of_six_hours_come_near_to_finer_ones() -> None:
    """The peak moves by under 0.6 K against steps of half an hour."""
    peaks = []
    for steps in (4, 48):
        state, thermal = fed_bale(THREE_STRING)
        peak = 0.0
        for _ in range(20 * steps):
            advance(state, thermal, 14.0, 1.0 / steps)
            peak = max(peak, state.temperature_c)
        peaks.append(peak)
    assert peaks[0] == pytest.approx(peaks[1], abs=0.6)


@pytest.mark.parametrize("days", [0.0, -0.1, 1.1, math.nan])
def test_steps_outside_the_range_are_refused(days: float) -> None:
    """Above 0 and up to a day."""
    state, thermal = fed_bale()
    with pytest.raises(ValueError, match="days"):
        advance(state, thermal, 14.0, days)


def test_what_is_no_temperature_is_refused() -> None:
    """The refusal names the argument."""
    state, thermal = fed_bale()
    with pytest.raises(ValueError, match="air_c"):
        advance(state, thermal, math.nan, 0.25)
    with pytest.raises(ValueError, match="temperature_c"):
        start_state(thermal, math.inf)
