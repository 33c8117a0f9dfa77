"""Claims about water vapour in the air."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from strawbell.agronomy.air import humidity


@pytest.mark.parametrize("temperature_c", [-40.0, 0.0, 12.5, 35.0])
def test_the_dew_point_undoes_the_saturation_pressure(temperature_c: float) -> None:
    """Equation 11 and its inverse close."""
    vapour = humidity.saturation_vapour_pressure(temperature_c)
    assert humidity.dew_point(vapour) == pytest.approx(temperature_c, abs=1e-9)


@pytest.mark.parametrize("temperature_c", [-20.0, 5.0, 25.0, 45.0])
def test_the_slope_is_the_derivative_of_the_saturation_curve(temperature_c: float) -> None:
    """Second route: a difference quotient; 4098 is 17.27 times 237.3 rounded."""
    step = 1e-4
    rise = humidity.saturation_vapour_pressure(temperature_c + step)
    rise -= humidity.saturation_vapour_pressure(temperature_c - step)
    assert humidity.saturation_slope(temperature_c) == pytest.approx(rise / (2 * step), rel=1e-4)


def test_saturated_air_has_no_deficit() -> None:
    """Air given as more than saturated counts as saturated."""
    assert humidity.vapour_pressure_deficit(20.0, 3.0) == 0.0
    assert humidity.vapour_pressure_deficit(20.0, 1.0) == pytest.approx(1.338, abs=0.0005)


def test_a_dry_wet_bulb_reading_never_gives_a_negative_pressure() -> None:
    """A wet bulb far below the dry one means air without vapour."""
    assert humidity.vapour_pressure_from_wet_bulb(0.0, 50.0, 0.0) == 0.0


@pytest.mark.parametrize(
    ("named", "call"),
    [
        ("temperature_c", lambda: humidity.saturation_vapour_pressure(60.1)),
        ("temperature_c", lambda: humidity.saturation_slope(math.nan)),
        ("low_c", lambda: humidity.mean_saturation_vapour_pressure(20.0, 19.9)),
        ("high_c", lambda: humidity.mean_saturation_vapour_pressure(20.0, 61.0)),
        ("elevation_m", lambda: humidity.air_pressure(9001.0)),
        ("elevation_m", lambda: humidity.psychrometric_constant(-431.0)),
        ("wet_c", lambda: humidity.vapour_pressure_from_wet_bulb(20.1, 20.0, 0.0)),
        (
            "relative_humidity_percent",
            lambda: humidity.vapour_pressure_from_humidity(20.0, 100.1),
        ),
        (
            "lowest_percent",
            lambda: humidity.vapour_pressure_from_extremes(10.0, 20.0, 50.0, 50.1),
        ),
        (
            "highest_percent",
            lambda: humidity.vapour_pressure_from_extremes(10.0, 20.0, 101.0, 50.0),
        ),
        ("mean_percent", lambda: humidity.vapour_pressure_from_mean_humidity(10.0, 20.0, -1.0)),
        ("vapour_pressure_kpa", lambda: humidity.dew_point(0.0)),
        ("vapour_pressure_kpa", lambda: humidity.vapour_pressure_deficit(20.0, -0.1)),
    ],
)
def test_what_lies_outside_is_refused_by_name(named: str, call: Callable[[], float]) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        call()


def test_the_three_ways_of_a_day_agree_where_they_must() -> None:
    """A day of one temperature and one humidity has one vapour pressure."""
    by_hour = humidity.vapour_pressure_from_humidity(20.0, 60.0)
    by_extremes = humidity.vapour_pressure_from_extremes(20.0, 20.0, 60.0, 60.0)
    by_mean = humidity.vapour_pressure_from_mean_humidity(20.0, 20.0, 60.0)
    assert by_hour == pytest.approx(by_extremes) == pytest.approx(by_mean)
    assert by_hour == pytest.approx(1.4029, abs=0.0005)


def test_the_psychrometric_constant_falls_with_height() -> None:
    """As the pressure does."""
    assert humidity.psychrometric_constant(1500.0) < humidity.psychrometric_constant(0.0)
