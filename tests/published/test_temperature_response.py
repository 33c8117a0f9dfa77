"""Responses of decomposers and steps of self-heating against published and second-route values."""

from __future__ import annotations

import pytest

from strawbell.agronomy.bale import growth_response
from strawbell.agronomy.bale.growth_response import (
    cardinal_response,
)
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


@pytest.mark.parametrize(("mean_c", "days", "tolerance_d", "source"), CONDITIONING_ROWS)
def test_conditioning_takes_the_days_of_common_experience(
    mean_c: float, days: float, tolerance_d: float, source: str
) -> None:
    """Steady weather of a mean, 5 K to either side, fills the count in the days stated."""
    taken = MILD_DAYS_NEEDED / day_rate(DayTemperature(mean_c - 5.0, mean_c + 5.0))
    assert taken == pytest.approx(days, abs=tolerance_d), source
