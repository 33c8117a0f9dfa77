"""Claims about reference evapotranspiration."""

from __future__ import annotations

from typing import Any

import pytest
from msgspec.structs import replace

from strawbell.agronomy.evaporation import (
    FAO_56_HOURLY,
    hargreaves_et,
    hourly_reference_et,
    psychrometric_constant,
    wind_factor,
)

NOON: dict[str, Any] = {
    "temperature_c": 24.0, "vapour_pressure_kpa": 1.4, "wind_2m_m_s": 2.0,
    "radiation_mj_m2": 2.8, "clearness": 0.9, "gamma": psychrometric_constant(450.0),
    "coefficients": FAO_56_HOURLY,
}  # fmt: skip
NIGHT = NOON | {"radiation_mj_m2": 0.0}


def test_a_wind_at_two_metres_stays_as_it_is() -> None:
    """And at 10 m it is a quarter stronger than down here."""
    assert wind_factor(2.0) == pytest.approx(1.0, rel=0.001)
    assert wind_factor(10.0) == pytest.approx(0.748, abs=0.0005)


def test_drier_and_sunnier_air_takes_more() -> None:
    """Each cause by itself raises the hour's evapotranspiration."""
    usual = hourly_reference_et(**NOON)
    assert hourly_reference_et(**(NOON | {"vapour_pressure_kpa": 1.0})) > usual
    assert hourly_reference_et(**(NOON | {"radiation_mj_m2": 3.0})) > usual
    assert hourly_reference_et(**(NOON | {"temperature_c": 28.0})) > usual
    assert hourly_reference_et(**(NOON | {"wind_2m_m_s": 4.0})) > usual


def test_a_surface_that_resists_more_by_day_or_by_night_lets_less_through_then() -> None:
    """Each of the two resistances rules its own hours and leaves the others as they are."""
    by_day, by_night = replace(FAO_56_HOURLY, day=0.5), replace(FAO_56_HOURLY, night=0.5)
    usual_noon, usual_night = hourly_reference_et(**NOON), hourly_reference_et(**NIGHT)
    assert hourly_reference_et(**(NOON | {"coefficients": by_day})) < usual_noon
    assert hourly_reference_et(**(NOON | {"coefficients": by_night})) == usual_noon
    assert hourly_reference_et(**(NIGHT | {"coefficients": by_day})) == usual_night
    assert hourly_reference_et(**(NIGHT | {"coefficients": by_night})) < usual_night


def test_a_clear_humid_night_gives_dew() -> None:
    """Saturated air under an open sky: slightly under zero."""
    dew = hourly_reference_et(
        10.0, 1.2281, 1.0, 0.0, 1.0, psychrometric_constant(0.0), FAO_56_HOURLY
    )
    assert -0.05 < dew < 0.0


def test_hargreaves_is_never_negative() -> None:
    """Colder than -17.8 degC on the mean there is nothing left."""
    assert hargreaves_et(-40.0, -20.0, 5.0) == 0.0
    assert hargreaves_et(10.0, 10.0, 30.0) == 0.0


def test_winds_and_hargreaves_outside_are_refused_by_name() -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match="height_m"):
        wind_factor(0.49)
    with pytest.raises(ValueError, match="low_c"):
        hargreaves_et(20.1, 20.0, 30.0)
    with pytest.raises(ValueError, match="extraterrestrial_mj_m2"):
        hargreaves_et(10.0, 20.0, 51.0)
