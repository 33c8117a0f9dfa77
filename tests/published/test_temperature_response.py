"""Responses of decomposers and steps of self-heating against published and second-route values."""

from __future__ import annotations

import math

import pytest

from strawbell.agronomy.bale import growth_response
from strawbell.agronomy.bale.growth_response import (
    cardinal_response,
    decomposition_moisture_response,
    decomposition_temperature_response,
)
from strawbell.agronomy.bale.heat import ORGANIC_RELEASE_PER_DAY
from strawbell.agronomy.bale.progress import MILD_DAYS_NEEDED, DayTemperature, day_rate

# Inputs: example of the function Gamma_T(T = 10, Tmin = 4, Tmax = 37, Topt = 20, mu = 0.037) at
# rdrr.io/github/Ghayabh/bacterial-growth (looked up 2026-11-25). The page prints no result; the
# expected one was calculated by hand from the formula printed there.
LIBRARY_EXAMPLE = (10.0, 4.0, 20.0, 37.0, 0.037, 0.024432)

# Calculated by hand from the formula of Rosso et al. 1993 as printed by the package rTPC
# (rdrr.io/github/padpadpad/rTPC); cardinal temperatures 5/58.6/71.6 and 0/59/82 are those of
# composting models, from memory. Tolerance: the last printed digit.
CARDINAL_ROWS = [
    ((5.0, 58.6, 71.6), (10, 20, 30, 40, 50, 55, 60, 65, 70, 75),
     (0.0141, 0.1229, 0.3264, 0.5968, 0.8736, 0.9725, 0.9947, 0.8522, 0.3300, 0.0)),
    ((0.0, 59.0, 82.0), (10, 20, 30, 40, 50, 55, 60, 65, 70, 75),
     (0.0612, 0.2255, 0.4575, 0.7101, 0.9199, 0.9825, 0.9988, 0.9518, 0.8209, 0.5808)),
]  # fmt: skip
CARDINAL_CASES = [
    (cardinals, temperature, expected)
    for cardinals, temperatures, values in CARDINAL_ROWS
    for temperature, expected in zip(temperatures, values, strict=True)
]

# Stombaugh and Nokes 1996 (from memory): T/30, 1, 3.75 - T/20.
TEMPERATURE_ROWS = [
    (0.0, 0.0), (15.0, 0.5), (30.0, 1.0), (55.0, 1.0), (65.0, 0.5), (75.0, 0.0), (80.0, 0.0),
]  # fmt: skip
# Stombaugh and Nokes 1996 (from memory): 0, 5 M - 1, 1.
MOISTURE_ROWS = [(0.10, 0.0), (0.20, 0.0), (0.30, 0.5), (0.40, 1.0), (0.60, 1.0)]

# Purdue University Extension, temperatures of stacked hay (2024) [deg F].

# Days of conditioning: mean air [degC], days, tolerance [d], where from.
CONDITIONING_ROWS = [
    (14.0, 12.0, 0.5, "mild spring weather, about 12 days: common practice"),
    (28.0, 10.0, 0.5, "hot weather, about 10 days: common practice"),
    (3.0, 42.0, 1.5, "up to six weeks: Montana State University Extension, Carbon County (2018)"),
]


def test_the_cardinal_formula_gives_the_library_example() -> None:
    """0.037 per hour at the optimum of 20 degC is 0.024432 at 10 degC, by the bare formula."""
    temperature, minimum, optimum, maximum, rate, expected = LIBRARY_EXAMPLE
    result = rate * growth_response._cardinal_formula(temperature, minimum, optimum, maximum)
    assert result == pytest.approx(expected, abs=5e-7)


def test_the_cardinals_of_the_library_example_are_refused() -> None:
    """Its optimum of 20 lies under the middle of 4 and 37, so the formula has a pole at 4.89."""
    temperature, minimum, optimum, maximum, _, _ = LIBRARY_EXAMPLE
    below = growth_response._cardinal_formula(4.88, minimum, optimum, maximum)
    above = growth_response._cardinal_formula(4.90, minimum, optimum, maximum)
    assert below < 0.0 < above
    with pytest.raises(ValueError, match="optimum_c"):
        cardinal_response(temperature, minimum, optimum, maximum)


@pytest.mark.parametrize(("cardinals", "temperature_c", "expected"), CARDINAL_CASES)
def test_the_cardinal_model_gives_the_calculated_tables(
    cardinals: tuple[float, float, float], temperature_c: float, expected: float
) -> None:
    """Each printed digit of the two tables comes out."""
    assert cardinal_response(temperature_c, *cardinals) == pytest.approx(expected, abs=5.1e-5)


@pytest.mark.parametrize(("temperature_c", "expected"), TEMPERATURE_ROWS)
def test_the_heat_response_has_its_published_corners(temperature_c: float, expected: float) -> None:
    """The piecewise line passes through its corners and their middles."""
    assert decomposition_temperature_response(temperature_c) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(("moisture_fraction", "expected"), MOISTURE_ROWS)
def test_the_moisture_response_has_its_published_corners(
    moisture_fraction: float, expected: float
) -> None:
    """The piecewise line passes through its corners and their middle."""
    assert decomposition_moisture_response(moisture_fraction) == pytest.approx(expected, abs=1e-12)


def test_two_composting_responses_agree_on_the_order_of_cold_mild_and_warm() -> None:
    """Haug 1993 (from memory), scaled to 20 degC, is bracketed between 10 and 30 degC.

    They part above: that form rises on to 71 degC, while Cornell's composting pages put the
    fastest decay at 40 to 60 degC, as the line used here does.
    """

    def haug(temperature_c: float) -> float:
        return float(1.066 ** (temperature_c - 20.0) - 1.21 ** (temperature_c - 60.0))

    for temperature_c in (10.0, 20.0, 30.0):
        ours = decomposition_temperature_response(
            temperature_c
        ) / decomposition_temperature_response(20.0)
        assert ours == pytest.approx(haug(temperature_c) / haug(20.0), rel=0.25)


@pytest.mark.parametrize("temperature_c", [40.0, 45.0, 50.0, 55.0])
def test_decay_is_fastest_where_cornell_says(temperature_c: float) -> None:
    """Fastest between 40 and 60 degC (Cornell Waste Management Institute, compost physics)."""
    assert decomposition_temperature_response(temperature_c) == 1.0


def test_organic_nitrogen_is_released_as_incubated() -> None:
    """47 to 60 % in two weeks over 10 to 25 degC (Hartz and Johnstone 2006)."""
    assert 0.47 <= 1.0 - math.exp(-14.0 * ORGANIC_RELEASE_PER_DAY) <= 0.60


@pytest.mark.parametrize(("mean_c", "days", "tolerance_d", "source"), CONDITIONING_ROWS)
def test_conditioning_takes_the_days_of_common_experience(
    mean_c: float, days: float, tolerance_d: float, source: str
) -> None:
    """Steady weather of a mean, 5 K to either side, fills the count in the days stated."""
    taken = MILD_DAYS_NEEDED / day_rate(DayTemperature(mean_c - 5.0, mean_c + 5.0))
    assert taken == pytest.approx(days, abs=tolerance_d), source
