"""Claims about reference evapotranspiration."""

from __future__ import annotations

from typing import Any

import pytest

from strawbell.agronomy.air.evapotranspiration import (
    ASCE_HOURLY,
    FAO_56_HOURLY,
    daily_reference_et,
    hargreaves_et,
    hourly_reference_et,
    wind_at_two_metres,
)

DAY: dict[str, Any] = {
    "low_c": 12.0, "high_c": 24.0, "vapour_pressure_kpa": 1.4, "wind_2m_m_s": 2.0,
    "radiation_mj_m2": 22.0, "latitude_deg": 47.0, "day_of_year": 180, "elevation_m": 450.0,
}  # fmt: skip
NOON: dict[str, Any] = {
    "temperature_c": 24.0, "vapour_pressure_kpa": 1.4, "wind_2m_m_s": 2.0,
    "radiation_mj_m2": 2.8, "clearness": 0.9, "elevation_m": 450.0,
}  # fmt: skip


def test_a_wind_at_two_metres_stays_as_it_is() -> None:
    """And at 10 m it is a quarter stronger than down here."""
    assert wind_at_two_metres(4.0, 2.0) == pytest.approx(4.0, rel=0.001)
    assert wind_at_two_metres(4.0, 10.0) == pytest.approx(2.992, abs=0.001)


def test_drier_and_sunnier_air_takes_more() -> None:
    """Each cause by itself raises the day's evapotranspiration."""
    usual = daily_reference_et(**DAY)
    assert daily_reference_et(**(DAY | {"vapour_pressure_kpa": 1.0})) > usual
    assert daily_reference_et(**(DAY | {"radiation_mj_m2": 25.0})) > usual
    assert daily_reference_et(**(DAY | {"high_c": 28.0})) > usual
    assert daily_reference_et(**(DAY | {"wind_2m_m_s": 4.0})) > usual


def test_heat_stored_in_the_soil_is_not_there_to_evaporate() -> None:
    """One MJ into the soil lessens the day."""
    assert daily_reference_et(**DAY, soil_heat_mj_m2=1.0) < daily_reference_et(**DAY)


def test_a_known_clear_sky_replaces_equation_37() -> None:
    """A clearer clear sky makes the same radiation a cloudier day with less long-wave loss."""
    assert daily_reference_et(**DAY, clear_sky_mj_m2=40.0) > daily_reference_et(**DAY)


def test_asce_lets_more_through_by_day_and_less_by_night() -> None:
    """Its surface resists less by day and more by night than that of FAO-56."""
    night = NOON | {"radiation_mj_m2": 0.0}
    assert hourly_reference_et(**NOON, coefficients=ASCE_HOURLY) > hourly_reference_et(**NOON)
    assert hourly_reference_et(**night, coefficients=ASCE_HOURLY) < hourly_reference_et(**night)
    assert hourly_reference_et(**NOON, coefficients=FAO_56_HOURLY) == hourly_reference_et(**NOON)


def test_a_clear_humid_night_gives_dew() -> None:
    """Saturated air under an open sky: slightly under zero."""
    dew = hourly_reference_et(10.0, 1.2281, 1.0, 0.0, 1.0, 0.0)
    assert -0.05 < dew < 0.0


def test_hargreaves_is_never_negative() -> None:
    """Colder than -17.8 degC on the mean there is nothing left."""
    assert hargreaves_et(-40.0, -20.0, 5.0) == 0.0
    assert hargreaves_et(10.0, 10.0, 30.0) == 0.0


@pytest.mark.parametrize(
    ("named", "value"),
    [
        ("low_c", 24.1), ("high_c", 61.0), ("vapour_pressure_kpa", -0.1), ("wind_2m_m_s", 75.1),
        ("radiation_mj_m2", 50.1), ("latitude_deg", -90.1), ("day_of_year", 367),
        ("elevation_m", 9001.0), ("soil_heat_mj_m2", 51.0), ("clear_sky_mj_m2", -1.0),
        ("wind_2m_m_s", float("nan")),
    ],
)  # fmt: skip
def test_a_day_outside_is_refused_by_name(named: str, value: float) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        daily_reference_et(**(DAY | {named: value}))


@pytest.mark.parametrize(
    ("named", "value"),
    [
        ("temperature_c", 60.1), ("vapour_pressure_kpa", 20.1), ("wind_2m_m_s", -0.1),
        ("radiation_mj_m2", 5.6), ("clearness", 1.01), ("clearness", 0.29),
        ("elevation_m", -431.0), ("temperature_c", float("inf")),
    ],
)  # fmt: skip
def test_an_hour_outside_is_refused_by_name(named: str, value: float) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        hourly_reference_et(**(NOON | {named: value}))


def test_winds_and_hargreaves_outside_are_refused_by_name() -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match="height_m"):
        wind_at_two_metres(3.0, 0.49)
    with pytest.raises(ValueError, match="wind_m_s"):
        wind_at_two_metres(468.0, 10.0)
    with pytest.raises(ValueError, match="low_c"):
        hargreaves_et(20.1, 20.0, 30.0)
    with pytest.raises(ValueError, match="extraterrestrial_mj_m2"):
        hargreaves_et(10.0, 20.0, 51.0)
