"""Claims about the responses of decomposers to temperature and moisture."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from strawbell.agronomy.bale.growth_response import (
    cardinal_response,
)


def test_growth_is_best_at_the_optimum_and_nothing_at_both_ends() -> None:
    """1 at the optimum, 0 at minimum and maximum and outside them."""
    assert cardinal_response(58.6, 5.0, 58.6, 71.6) == pytest.approx(1.0, abs=1e-12)
    for temperature in (-300.0, 4.9, 5.0, 71.6, 71.7, 400.0):
        assert cardinal_response(temperature, 5.0, 58.6, 71.6) == 0.0


def test_growth_rises_to_the_optimum_and_falls_after_it() -> None:
    """Each tenth of a kelvin towards the optimum grows faster."""
    values = [cardinal_response(tenth / 10.0, 5.0, 58.6, 71.6) for tenth in range(51, 716)]
    top = values.index(max(values))
    assert all(a < b for a, b in pairwise(values[: top + 1]))
    assert all(a > b for a, b in pairwise(values[top:]))


@pytest.mark.parametrize(
    ("minimum_c", "optimum_c", "maximum_c"),
    [
        (5.0, 5.0, 71.6),
        (5.0, 4.0, 71.6),
        (5.0, 71.6, 71.6),
        (5.0, 80.0, 71.6),
        (0.0, 20.0, 40.0),  # exactly the middle
        (0.0, 19.9, 40.0),
    ],
)
def test_cardinals_out_of_order_or_with_a_low_optimum_are_refused(
    minimum_c: float, optimum_c: float, maximum_c: float
) -> None:
    """The refusal names the optimum."""
    with pytest.raises(ValueError, match="optimum_c"):
        cardinal_response(10.0, minimum_c, optimum_c, maximum_c)


def test_an_optimum_just_above_the_middle_is_accepted() -> None:
    """The limit itself is out, the next hundredth is in."""
    assert 0.0 < cardinal_response(1.0, 0.0, 20.01, 40.0) < 1.0


@pytest.mark.parametrize("position", range(4))
@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_what_is_no_temperature_is_refused(position: int, bad: float) -> None:
    """Every argument is checked and named."""
    arguments = [10.0, 5.0, 58.6, 71.6]
    names = ["temperature_c", "minimum_c", "optimum_c", "maximum_c"]
    arguments[position] = bad
    with pytest.raises(ValueError, match=names[position]):
        cardinal_response(*arguments)


def test_rounding_next_to_the_minimum_gives_nothing_rather_than_a_pole() -> None:
    """One step of a float above the minimum, with an optimum one step above the middle."""
    optimum = math.nextafter(20.0, 21.0)
    share = cardinal_response(math.nextafter(0.0, 1.0), 0.0, optimum, 40.0)
    assert 0.0 <= share <= 1.0
