"""Reference evapotranspiration: how much water short, well watered grass would lose.

References
----------
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    https://www.fao.org/docrep/x0490e/x0490e00.htm (equation numbers below).
[2] ASCE-EWRI, "The ASCE standardized reference evapotranspiration equation", Reston 2005,
    Table 1 and equations 1, 65, 66.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log, sqrt

from strawbell.agronomy.air.constants import COLDEST_AIR_C, HOTTEST_AIR_C
from strawbell.agronomy.air.humidity import (
    HIGHEST_PLACE_M,
    HIGHEST_VAPOUR_KPA,
    LOWEST_PLACE_M,
    PSYCHROMETER_PER_C,
    SATURATION_OFFSET_C,
    SLOPE_FACTOR,
    air_pressure,
    mean_saturation_vapour_pressure,
    saturation,
    saturation_slope,
)
from strawbell.agronomy.air.radiation import (
    ALBEDO,
    CLEARNESS_LOWEST,
    KELVIN,
    LONGWAVE_HOURLY,
    MOST_DAILY_MJ,
    MOST_HOURLY_MJ,
    bounded_clearness,
    clear_sky,
    longwave_factor,
    net_longwave_daily,
    net_shortwave,
)
from strawbell.agronomy.air.sun import daily_extraterrestrial
from strawbell.agronomy.ranges import within

EVAPORATED_MM_PER_MJ = 0.408
"""Depth of water that one MJ/m2 evaporates [mm] [1], table 3 and equation 20."""
DAILY_NUMERATOR = 900.0
DAILY_DENOMINATOR_S_M = 0.34
"""Aerodynamic and surface terms of a day [1], equation 6."""
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


@dataclass(frozen=True, slots=True)
class HourlyCoefficients:
    """Numerator [K mm s3/Mg/h] and the denominators by day and by night [s/m]."""

    numerator: float
    day: float
    night: float


FAO_56_HOURLY = HourlyCoefficients(numerator=37.0, day=0.34, night=0.34)
"""[1], equation 53."""
ASCE_HOURLY = HourlyCoefficients(numerator=37.0, day=0.24, night=0.96)
"""[2], Table 1, short reference."""


def wind_at_two_metres(wind_m_s: float, height_m: float) -> float:
    """Return the wind speed 2 m above grass from that at another height [1], equation 47.

    Parameters
    ----------
    wind_m_s : float
        Wind speed at `height_m` [m/s], 0 to 75; outside ValueError.
    height_m : float
        Height of the measurement above ground [m], 0.5 to 200; outside ValueError.

    Returns
    -------
    float
        Wind speed at 2 m [m/s].

    References
    ----------
    [1] FAO-56, equation 47 and Example 14.
    """
    within("wind_m_s", wind_m_s, 0.0, FASTEST_WIND_M_S, "m/s")
    return wind_m_s * wind_factor(height_m)


def wind_factor(height_m: float) -> float:
    """Return by what a wind at a height is multiplied to give that at 2 m [1], equation 47.

    Parameters
    ----------
    height_m : float
        Height of the measurement above ground [m], 0.5 to 200; outside ValueError.

    Returns
    -------
    float
        Factor [-], 0.748 at 10 m.

    References
    ----------
    [1] FAO-56, equation 47.
    """
    within("height_m", height_m, LOWEST_ANEMOMETER_M, HIGHEST_ANEMOMETER_M, "m")
    share, per_m, shift = WIND_PROFILE
    return share / log(per_m * height_m - shift)


def daily_reference_et(
    low_c: float,
    high_c: float,
    vapour_pressure_kpa: float,
    wind_2m_m_s: float,
    radiation_mj_m2: float,
    latitude_deg: float,
    day_of_year: int,
    elevation_m: float,
    soil_heat_mj_m2: float = 0.0,
    clear_sky_mj_m2: float | None = None,
) -> float:
    """Return the reference evapotranspiration of a day: FAO Penman-Monteith [1], equation 6.

    Parameters
    ----------
    low_c, high_c : float
        Lowest and highest air temperature [degC], -90 to 60, low not above high.
    vapour_pressure_kpa : float
        Mean actual vapour pressure [kPa], 0 to 20; above saturation counts as saturated.
    wind_2m_m_s : float
        Mean wind speed at 2 m [m/s], 0 to 75.
    radiation_mj_m2 : float
        Global short-wave radiation [MJ/m2/day], 0 to 50.
    latitude_deg : float
        Latitude [degrees north], -90 to 90.
    day_of_year : int
        1 to 366.
    elevation_m : float
        Height above the sea [m], -430 to 9000.
    soil_heat_mj_m2 : float
        Heat going into the soil [MJ/m2/day], -50 to 50; 0 for a single day [1], equation 42.
    clear_sky_mj_m2 : float or None
        Radiation of a cloudless day where it is known better than by equation 37 [MJ/m2/day],
        0 to 50; None takes that equation.

    Returns
    -------
    float
        Reference evapotranspiration [mm/day]; slightly under 0 where more dew falls than
        evaporates (a cold, humid, sunless day).

    Raises
    ------
    ValueError
        When an argument lies outside its range.

    References
    ----------
    [1] FAO-56, equation 6, Examples 17, 18 and 20.
    """
    within("wind_2m_m_s", wind_2m_m_s, 0.0, FASTEST_WIND_M_S, "m/s")
    within("soil_heat_mj_m2", soil_heat_mj_m2, -MOST_DAILY_MJ, MOST_DAILY_MJ, "MJ/m2")
    clear = clear_sky_mj_m2
    if clear is None:
        clear = clear_sky(daily_extraterrestrial(latitude_deg, day_of_year), elevation_m)
    clearness = bounded_clearness(radiation_mj_m2, clear)
    net = net_shortwave(radiation_mj_m2) - net_longwave_daily(
        low_c, high_c, vapour_pressure_kpa, clearness
    )
    mean_c = (low_c + high_c) / 2.0
    deficit = max(0.0, mean_saturation_vapour_pressure(low_c, high_c) - vapour_pressure_kpa)
    slope = saturation_slope(mean_c)
    gamma = PSYCHROMETER_PER_C * air_pressure(elevation_m)
    radiative = EVAPORATED_MM_PER_MJ * slope * (net - soil_heat_mj_m2)
    drying = gamma * DAILY_NUMERATOR / (mean_c + ABSOLUTE_OFFSET_C) * wind_2m_m_s * deficit
    return (radiative + drying) / (slope + gamma * (1.0 + DAILY_DENOMINATOR_S_M * wind_2m_m_s))


def hourly_reference_et(
    temperature_c: float,
    vapour_pressure_kpa: float,
    wind_2m_m_s: float,
    radiation_mj_m2: float,
    clearness: float,
    elevation_m: float,
    coefficients: HourlyCoefficients = FAO_56_HOURLY,
) -> float:
    """Return the reference evapotranspiration of an hour: Penman-Monteith [1], equation 53.

    Parameters
    ----------
    temperature_c : float
        Mean air temperature of the hour [degC], -90 to 60.
    vapour_pressure_kpa : float
        Actual vapour pressure [kPa], 0 to 20; above saturation counts as saturated.
    wind_2m_m_s : float
        Mean wind speed at 2 m [m/s], 0 to 75.
    radiation_mj_m2 : float
        Global short-wave radiation [MJ/m2/h], 0 to 5.5.
    clearness : float
        Radiation as a share of the clear-sky one, Rs/Rso [0.3 to 1]; by night and low sun that
        of 2 to 3 h before sunset is carried on [1], equation 39 and Example 19.
    elevation_m : float
        Height above the sea [m], -430 to 9000.
    coefficients : HourlyCoefficients
        FAO-56 by default; `ASCE_HOURLY` for the ASCE short reference.

    Returns
    -------
    float
        Reference evapotranspiration [mm/h]; slightly under 0 when dew falls. Hours with a
        negative net radiation count as night, as in [2].

    Raises
    ------
    ValueError
        When an argument lies outside its range.

    References
    ----------
    [1] FAO-56, equation 53 and Example 19. [2] ASCE-EWRI 2005, equations 1, 65, 66.
    """
    within("temperature_c", temperature_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    within("vapour_pressure_kpa", vapour_pressure_kpa, 0.0, HIGHEST_VAPOUR_KPA, "kPa")
    within("wind_2m_m_s", wind_2m_m_s, 0.0, FASTEST_WIND_M_S, "m/s")
    within("radiation_mj_m2", radiation_mj_m2, 0.0, MOST_HOURLY_MJ, "MJ/m2")
    within("clearness", clearness, CLEARNESS_LOWEST, 1.0, "")
    within("elevation_m", elevation_m, LOWEST_PLACE_M, HIGHEST_PLACE_M, "m")
    gamma = PSYCHROMETER_PER_C * air_pressure(elevation_m)
    return hourly_et_unchecked(
        temperature_c,
        vapour_pressure_kpa,
        wind_2m_m_s,
        radiation_mj_m2,
        clearness,
        gamma,
        coefficients,
    )


def hourly_et_unchecked(
    temperature_c: float,
    vapour_pressure_kpa: float,
    wind_2m_m_s: float,
    radiation_mj_m2: float,
    clearness: float,
    gamma: float,
    coefficients: HourlyCoefficients,
) -> float:
    """Return `hourly_reference_et` without checking the range, for the loop over a forecast.

    Parameters
    ----------
    temperature_c, vapour_pressure_kpa, wind_2m_m_s, radiation_mj_m2, clearness : float
        As for `hourly_reference_et` [degC, kPa, m/s, MJ/m2/h, -]; not checked.
    gamma : float
        Psychrometric constant of the place [kPa/degC].
    coefficients : HourlyCoefficients
        As for `hourly_reference_et`.

    Returns
    -------
    float
        Reference evapotranspiration [mm/h].

    References
    ----------
    [1] FAO-56, equations 11, 13, 38, 39, 45, 46, 53.
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

    Parameters
    ----------
    low_c, high_c : float
        Lowest and highest air temperature of the day [degC], -90 to 60, low not above high;
        else ValueError.
    extraterrestrial_mj_m2 : float
        Radiation above the air [MJ/m2 per day, or per hour for that hour's part], 0 to 50;
        outside ValueError.

    Returns
    -------
    float
        Reference evapotranspiration [mm per the same time], not under 0. The last resort: it
        overestimates where the air is humid and underestimates in strong wind [1], p. 64.

    References
    ----------
    [1] FAO-56, equation 52 and Example 20.
    """
    within("high_c", high_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    within("low_c", low_c, COLDEST_AIR_C, high_c, "degC")
    within("extraterrestrial_mj_m2", extraterrestrial_mj_m2, 0.0, MOST_DAILY_MJ, "MJ/m2")
    warmth = max(0.0, (low_c + high_c) / 2.0 + HARGREAVES_OFFSET_C)
    water_mm = EVAPORATED_MM_PER_MJ * extraterrestrial_mj_m2
    return HARGREAVES_COEFFICIENT * warmth * sqrt(high_c - low_c) * water_mm
