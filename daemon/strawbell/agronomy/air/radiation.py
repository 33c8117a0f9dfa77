"""What of the sun reaches the ground, and what the ground keeps of it.

References
----------
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapter 3, https://www.fao.org/docrep/x0490e/x0490e00.htm (equation numbers below).
[2] F. Kasten, G. Czeplak, "Solar and terrestrial radiation dependent on the amount and type of
    cloud", Solar Energy 24(2):177-189 (1980), doi:10.1016/0038-092X(80)90391-6.
[3] ASCE-EWRI, "The ASCE standardized reference evapotranspiration equation", Reston 2005,
    equations 18 and 45.
"""

from __future__ import annotations

from math import sqrt

from strawbell.agronomy.air.constants import COLDEST_AIR_C, HOTTEST_AIR_C
from strawbell.agronomy.air.humidity import HIGHEST_PLACE_M, HIGHEST_VAPOUR_KPA, LOWEST_PLACE_M
from strawbell.agronomy.ranges import within

OVERCAST_SHARE = 0.25
SUNSHINE_SHARE = 0.50
"""Angstrom's shares of Ra on a sunless day and for full sunshine [1], equation 35."""
CLEAR_SHARE = 0.75
CLEAR_SHARE_PER_M = 2e-5
"""Share of Ra on a clear day at sea level, and its rise with height [1], equation 37."""
CLOUD_LOSS = 0.75
CLOUD_EXPONENT = 3.4
"""Share that a closed cover takes away, and how it comes with the cover [2]."""
INLAND_RANGE_COEFFICIENT = 0.16
COAST_RANGE_COEFFICIENT = 0.19
"""Square-root-of-range coefficients [1/degC^0.5] [1], equation 50."""
ALBEDO = 0.23
"""Of the reference grass [1], equation 38."""
LONGWAVE_DAILY = 4.903e-9
LONGWAVE_HOURLY = 2.043e-10
"""Stefan-Boltzmann constant [MJ/K4/m2 per day and per hour], as printed in [1]."""
KELVIN = 273.16
"""As used for long-wave radiation in [1], equation 39."""
CLEARNESS_LOWEST = 0.3
"""Least share of clear-sky radiation that long-wave loss is reckoned with [3]."""
MOST_DAILY_MJ = 50.0
MOST_HOURLY_MJ = 5.5
"""Just above the extraterrestrial radiation of any place [MJ/m2]."""


def clear_sky(extraterrestrial_mj_m2: float, elevation_m: float) -> float:
    """Return what arrives under a cloudless sky, Rso [1], equation 37.

    Parameters
    ----------
    extraterrestrial_mj_m2 : float
        Radiation above the air [MJ/m2 per hour or day], 0 to 50; outside ValueError.
    elevation_m : float
        Height above the sea [m], -430 to 9000; outside ValueError.

    Returns
    -------
    float
        Radiation on the level [MJ/m2 per the same time].

    References
    ----------
    [1] FAO-56, equation 37 and Example 18.
    """
    within("extraterrestrial_mj_m2", extraterrestrial_mj_m2, 0.0, MOST_DAILY_MJ, "MJ/m2")
    within("elevation_m", elevation_m, LOWEST_PLACE_M, HIGHEST_PLACE_M, "m")
    return (CLEAR_SHARE + CLEAR_SHARE_PER_M * elevation_m) * extraterrestrial_mj_m2


def radiation_from_sunshine(
    sunshine_h: float, daylight_h: float, extraterrestrial_mj_m2: float
) -> float:
    """Return a day's radiation from its hours of sunshine, Rs [1], equation 35.

    Parameters
    ----------
    sunshine_h : float
        Hours of bright sunshine [h], 0 to `daylight_h`; outside ValueError.
    daylight_h : float
        Longest possible sunshine [h], above 0 to 24; outside ValueError.
    extraterrestrial_mj_m2 : float
        Radiation above the air [MJ/m2/day], 0 to 50; outside ValueError.

    Returns
    -------
    float
        Radiation on the level [MJ/m2/day].

    References
    ----------
    [1] FAO-56, equation 35 and Example 10.
    """
    within("daylight_h", daylight_h, 1e-9, 24.0, "h")
    within("sunshine_h", sunshine_h, 0.0, daylight_h, "h")
    within("extraterrestrial_mj_m2", extraterrestrial_mj_m2, 0.0, MOST_DAILY_MJ, "MJ/m2")
    return (OVERCAST_SHARE + SUNSHINE_SHARE * sunshine_h / daylight_h) * extraterrestrial_mj_m2


def radiation_from_cloud(clear_sky_mj_m2: float, cloud_percent: float) -> float:
    """Return what arrives under a cloud cover: G = G0 (1 - 0.75 N^3.4) [2].

    Parameters
    ----------
    clear_sky_mj_m2 : float
        Radiation under a cloudless sky [MJ/m2 per hour or day], 0 to 50; outside ValueError.
    cloud_percent : float
        Sky covered [percent], 0 to 100; outside ValueError.

    Returns
    -------
    float
        Radiation on the level [MJ/m2 per the same time]: a quarter of the clear-sky value
        under a closed cover. The formula is the mean over all kinds of cloud at one place
        (Hamburg); a thin cover lets more through than it says, a thick one less.

    References
    ----------
    [2] Kasten and Czeplak 1980, with N the cover as a share.
    """
    within("clear_sky_mj_m2", clear_sky_mj_m2, 0.0, MOST_DAILY_MJ, "MJ/m2")
    within("cloud_percent", cloud_percent, 0.0, 100.0, "percent")
    return clear_sky_mj_m2 * cloud_clearness(cloud_percent)


def cloud_clearness(cloud_percent: float) -> float:
    """Return the share of clear-sky radiation under a cloud cover [2].

    Parameters
    ----------
    cloud_percent : float
        Sky covered [percent], known to lie in 0 to 100; not checked.

    Returns
    -------
    float
        Share [0.25 to 1].

    References
    ----------
    [2] Kasten and Czeplak 1980.
    """
    return 1.0 - CLOUD_LOSS * float((cloud_percent / 100.0) ** CLOUD_EXPONENT)


def radiation_from_temperature_range(
    low_c: float,
    high_c: float,
    extraterrestrial_mj_m2: float,
    coefficient: float = INLAND_RANGE_COEFFICIENT,
) -> float:
    """Return a day's radiation from how far its temperature swings [1], equation 50.

    Parameters
    ----------
    low_c, high_c : float
        Lowest and highest air temperature [degC], -90 to 60, low not above high; else ValueError.
    extraterrestrial_mj_m2 : float
        Radiation above the air [MJ/m2/day], 0 to 50; outside ValueError.
    coefficient : float
        0.16 inland, 0.19 on a coast [1/degC^0.5]; 0.05 to 0.3 accepted, else ValueError.

    Returns
    -------
    float
        Radiation on the level [MJ/m2/day]; to be capped at the clear-sky value by the caller.

    References
    ----------
    [1] FAO-56, equation 50 and Example 15.
    """
    within("high_c", high_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    within("low_c", low_c, COLDEST_AIR_C, high_c, "degC")
    within("extraterrestrial_mj_m2", extraterrestrial_mj_m2, 0.0, MOST_DAILY_MJ, "MJ/m2")
    within("coefficient", coefficient, 0.05, 0.3, "")
    return coefficient * sqrt(high_c - low_c) * extraterrestrial_mj_m2


def bounded_clearness(radiation_mj_m2: float, clear_sky_mj_m2: float) -> float:
    """Return Rs/Rso as the long-wave loss takes it: 0.3 to 1 [3].

    Parameters
    ----------
    radiation_mj_m2, clear_sky_mj_m2 : float
        Radiation that arrives, and that of a cloudless sky [MJ/m2 per the same time], not under
        0; else ValueError.

    Returns
    -------
    float
        Share [0.3 to 1]; 1 where the sun is down and there is nothing to compare.

    References
    ----------
    [1] FAO-56, equation 39. [3] ASCE-EWRI 2005, equation 18.
    """
    within("radiation_mj_m2", radiation_mj_m2, 0.0, MOST_DAILY_MJ, "MJ/m2")
    within("clear_sky_mj_m2", clear_sky_mj_m2, 0.0, MOST_DAILY_MJ, "MJ/m2")
    if radiation_mj_m2 >= clear_sky_mj_m2:
        return 1.0
    return max(CLEARNESS_LOWEST, radiation_mj_m2 / clear_sky_mj_m2)


def net_shortwave(radiation_mj_m2: float) -> float:
    """Return what the reference grass keeps of the sun, Rns [1], equation 38.

    Parameters
    ----------
    radiation_mj_m2 : float
        Radiation on the level [MJ/m2 per hour or day], 0 to 50; outside ValueError.

    Returns
    -------
    float
        Net short-wave radiation [MJ/m2 per the same time].

    References
    ----------
    [1] FAO-56, equation 38 and Example 12.
    """
    within("radiation_mj_m2", radiation_mj_m2, 0.0, MOST_DAILY_MJ, "MJ/m2")
    return (1.0 - ALBEDO) * radiation_mj_m2


def net_longwave_daily(
    low_c: float, high_c: float, vapour_pressure_kpa: float, clearness: float
) -> float:
    """Return what the ground loses to the sky in a day, Rnl [1], equation 39.

    Parameters
    ----------
    low_c, high_c : float
        Lowest and highest air temperature [degC], -90 to 60, low not above high; else ValueError.
    vapour_pressure_kpa : float
        Actual vapour pressure [kPa], 0 to 20; outside ValueError.
    clearness : float
        Radiation as a share of the clear-sky one, Rs/Rso [0.3 to 1]; outside ValueError.

    Returns
    -------
    float
        Net outgoing long-wave radiation [MJ/m2/day].

    References
    ----------
    [1] FAO-56, equation 39 and Example 11.
    """
    within("high_c", high_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    within("low_c", low_c, COLDEST_AIR_C, high_c, "degC")
    within("vapour_pressure_kpa", vapour_pressure_kpa, 0.0, HIGHEST_VAPOUR_KPA, "kPa")
    within("clearness", clearness, CLEARNESS_LOWEST, 1.0, "")
    fourth = ((low_c + KELVIN) ** 4 + (high_c + KELVIN) ** 4) / 2.0
    return LONGWAVE_DAILY * fourth * longwave_factor(vapour_pressure_kpa, clearness)


def longwave_factor(vapour_pressure_kpa: float, clearness: float) -> float:
    """Return the humidity and cloud terms of the long-wave loss, without checking the range.

    Parameters
    ----------
    vapour_pressure_kpa : float
        Actual vapour pressure [kPa], not under 0; not checked.
    clearness : float
        Rs/Rso [0.3 to 1]; not checked.

    Returns
    -------
    float
        Share of black-body radiation that is lost [-].

    References
    ----------
    [1] FAO-56, equation 39.
    """
    return (0.34 - 0.14 * sqrt(vapour_pressure_kpa)) * (1.35 * clearness - 0.35)
