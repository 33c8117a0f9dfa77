"""Claims about water vapour in the air."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from strawbell.agronomy.evaporation import (
    SATURATION_OFFSET_C,
    SLOPE_FACTOR,
    air_pressure,
    psychrometric_constant,
    saturation,
)


@pytest.mark.parametrize("temperature_c", [-20.0, 5.0, 25.0, 45.0])
def test_the_slope_factor_makes_the_derivative_of_the_saturation_curve(
    temperature_c: float,
) -> None:
    """Second route: a difference quotient; 4098 is 17.27 times 237.3 rounded."""
    step = 1e-4
    rise = saturation(temperature_c + step) - saturation(temperature_c - step)
    offset = temperature_c + SATURATION_OFFSET_C
    slope = SLOPE_FACTOR * saturation(temperature_c) / offset**2
    assert slope == pytest.approx(rise / (2 * step), rel=1e-4)


@pytest.mark.parametrize(
    "call",
    [lambda: air_pressure(9001.0), lambda: psychrometric_constant(-431.0)],
)
def test_what_lies_outside_is_refused_by_name(call: Callable[[], float]) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match="elevation_m"):
        call()


def test_the_psychrometric_constant_falls_with_height() -> None:
    """As the pressure does."""
    assert psychrometric_constant(1500.0) < psychrometric_constant(0.0)
