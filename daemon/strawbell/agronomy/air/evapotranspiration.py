"""Reference evapotranspiration: how much water short, well watered grass would lose.

References:
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    https://www.fao.org/docrep/x0490e/x0490e00.htm (equation numbers below).
[2] ASCE-EWRI, "The ASCE standardized reference evapotranspiration equation", Reston 2005,
    equations 65, 66.
"""

from __future__ import annotations

from math import log, sqrt

from msgspec import Struct

from strawbell.agronomy.air.humidity import (
    SATURATION_OFFSET_C,
    SLOPE_FACTOR,
    saturation,
)
from strawbell.agronomy.air.radiation import (
    ALBEDO,
    KELVIN,
    LONGWAVE_HOURLY,
    MOST_DAILY_MJ,
    longwave_factor,
)
from strawbell.agronomy.ranges import COLDEST_AIR_C, HOTTEST_AIR_C, within

EVAPORATED_MM_PER_MJ = 0.408
"""Depth of water that one MJ/m2 evaporates [mm] [1], table 3 and equation 20."""
ABSOLUTE_OFFSET_C = 273.0
"""As printed in [1], equation 6."""
SOIL_HEAT_DAY_SHARE = 0.1
SOIL_HEAT_NIGHT_SHARE = 0.5
"""Shares of net radiation that go into the soil in an hour [1], equations 45 and 46."""
WIND_PROFILE = (4.87, 67.8, 5.42)
"""Logarithmic wind profile over short grass [1], equation 47."""
LOWEST_ANEMOMETER_M = 0.5
HIGHEST_ANEMOMETER_M = 200.0
"""Heights the profile is used for here [m]; services give 2 or 10."""
FASTEST_WIND_M_S = 75.0
"""No hourly mean over land is stronger [m/s] (from memory)."""
HARGREAVES_COEFFICIENT = 0.0023
HARGREAVES_OFFSET_C = 17.8
"""[1], equation 52."""


class HourlyCoefficients(Struct, frozen=True):
    """Numerator [K mm s3/Mg/h] and the denominators by day and by night [s/m]."""

    numerator: float
    day: float
    night: float


FAO_56_HOURLY = HourlyCoefficients(numerator=37.0, day=0.34, night=0.34)
"""[1], equation 53."""


def wind_factor(height_m: float) -> float:
    """Return by what a wind at a height is multiplied to give that at 2 m [1], equation 47.

    Args:
        height_m: Height of the measurement above ground [m], 0.5 to 200; outside ValueError.

    Returns:
        Factor [-], 0.748 at 10 m.
    """
    within("height_m", height_m, LOWEST_ANEMOMETER_M, HIGHEST_ANEMOMETER_M, "m")
    share, per_m, shift = WIND_PROFILE
    return share / log(per_m * height_m - shift)


def hourly_reference_et(
    temperature_c: float,
    vapour_pressure_kpa: float,
    wind_2m_m_s: float,
    radiation_mj_m2: float,
    clearness: float,
    gamma: float,
    coefficients: HourlyCoefficients,
) -> float:
    """Return the reference evapotranspiration of an hour: Penman-Monteith [1], equation 53.

    Nothing is checked here, in the loop over a forecast: `reference_et` leaves out what no
    instrument can have shown.

    Args:
        temperature_c: Mean air temperature of the hour [degC], -90 to 60.
        vapour_pressure_kpa: Actual vapour pressure [kPa], not under 0; above saturation counts as
            saturated.
        wind_2m_m_s: Mean wind speed at 2 m [m/s], 0 to 75.
        radiation_mj_m2: Global short-wave radiation [MJ/m2/h], 0 to 5.5.
        clearness: Radiation as a share of the clear-sky one, Rs/Rso [0.3 to 1]; by night and low
            sun that of 2 to 3 h before sunset is carried on [1], equation 39 and Example 19.
        gamma: Psychrometric constant of the place [kPa/degC].
        coefficients: Of the surface: `FAO_56_HOURLY`, or those of another standard that this is
            compared with.

    Returns:
        Reference evapotranspiration [mm/h]; slightly under 0 when dew falls. Hours with a negative
        net radiation count as night, as in [2].

    Sources: [1] FAO-56, equations 11, 13, 38, 39, 45, 46, 53 and Example 19. [2] ASCE-EWRI 2005,
        equations 65, 66.
    """
    saturated = saturation(temperature_c)
    slope = SLOPE_FACTOR * saturated / (temperature_c + SATURATION_OFFSET_C) ** 2
    lost = LONGWAVE_HOURLY * (temperature_c + KELVIN) ** 4
    net = (1.0 - ALBEDO) * radiation_mj_m2 - lost * longwave_factor(vapour_pressure_kpa, clearness)
    if net >= 0.0:
        soil, resistance = SOIL_HEAT_DAY_SHARE, coefficients.day
    else:
        soil, resistance = SOIL_HEAT_NIGHT_SHARE, coefficients.night
    deficit = max(0.0, saturated - vapour_pressure_kpa)
    radiative = EVAPORATED_MM_PER_MJ * slope * net * (1.0 - soil)
    drying = gamma * coefficients.numerator / (temperature_c + ABSOLUTE_OFFSET_C)
    return (radiative + drying * wind_2m_m_s * deficit) / (
        slope + gamma * (1.0 + resistance * wind_2m_m_s)
    )


def hargreaves_et(low_c: float, high_c: float, extraterrestrial_mj_m2: float) -> float:
    """Return an estimate of evapotranspiration from temperatures alone [1], equation 52.

    Args:
        low_c, high_c: Lowest and highest air temperature of the day [degC], -90 to 60, low not
            above high; else ValueError.
        extraterrestrial_mj_m2: Radiation above the air [MJ/m2 per day, or per hour for that hour's
            part], 0 to 50; outside ValueError.

    Returns:
        Reference evapotranspiration [mm per the same time], not under 0. The last resort: it
        overestimates where the air is humid and underestimates in strong wind [1], p. 64.
    """
    within("high_c", high_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    within("low_c", low_c, COLDEST_AIR_C, high_c, "degC")
    within("extraterrestrial_mj_m2", extraterrestrial_mj_m2, 0.0, MOST_DAILY_MJ, "MJ/m2")
    warmth = max(0.0, (low_c + high_c) / 2.0 + HARGREAVES_OFFSET_C)
    water_mm = EVAPORATED_MM_PER_MJ * extraterrestrial_mj_m2
    return HARGREAVES_COEFFICIENT * warmth * sqrt(high_c - low_c) * water_mm
