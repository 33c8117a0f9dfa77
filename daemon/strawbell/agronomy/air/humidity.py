"""Water vapour in the air: saturation, actual pressure, deficit, dew point.

References
----------
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapter 3, https://www.fao.org/docrep/x0490e/x0490e00.htm (equation numbers below).
"""

from __future__ import annotations

from math import exp, log

from strawbell.agronomy.air.constants import COLDEST_AIR_C, HOTTEST_AIR_C
from strawbell.agronomy.ranges import within

SATURATION_KPA = 0.6108
SATURATION_SLOPE = 17.27
SATURATION_OFFSET_C = 237.3
"""Constants of the saturation curve over water [1], equation 11."""
SLOPE_FACTOR = 4098.0
"""17.27 times 237.3, as printed in [1], equation 13."""
SEA_LEVEL_PRESSURE_KPA = 101.3
LAPSE_C_PER_M = 0.0065
STANDARD_TEMPERATURE_K = 293.0
PRESSURE_EXPONENT = 5.26
"""The standard atmosphere of [1], equation 7."""
PSYCHROMETER_PER_C = 0.665e-3
"""Psychrometric constant per pressure [1/degC], [1] equation 8."""
VENTILATED_PSYCHROMETER_PER_C = 0.000662
"""Coefficient of a ventilated (Asmann type) psychrometer [1/degC], [1] equation 16."""
LOWEST_PLACE_M = -430.0
HIGHEST_PLACE_M = 9000.0
"""Shore of the Dead Sea and the highest summit [m], rounded outward."""
HIGHEST_VAPOUR_KPA = 20.0
"""Just above saturation at 60 degC [kPa]."""


def saturation_vapour_pressure(temperature_c: float) -> float:
    """Return the vapour pressure at saturation over water, e0(T) [1], equation 11.

    Parameters
    ----------
    temperature_c : float
        Air temperature [degC], -90 to 60; outside refused with ValueError. Below freezing it is
        the pressure over supercooled water, which dew points by convention refer to.

    Returns
    -------
    float
        Saturation vapour pressure [kPa], rising with temperature.

    References
    ----------
    [1] FAO-56, equation 11 and Example 3.
    """
    within("temperature_c", temperature_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    return saturation(temperature_c)


def saturation(temperature_c: float) -> float:
    """Return e0(T) without checking the range, for the loops over hours.

    Parameters
    ----------
    temperature_c : float
        Air temperature [degC], known to lie in -90 to 60; not checked.

    Returns
    -------
    float
        Saturation vapour pressure [kPa].

    References
    ----------
    [1] FAO-56, equation 11.
    """
    return SATURATION_KPA * exp(
        SATURATION_SLOPE * temperature_c / (temperature_c + SATURATION_OFFSET_C)
    )


def mean_saturation_vapour_pressure(low_c: float, high_c: float) -> float:
    """Return the mean saturation pressure of a day: that of high and low, halved [1].

    Parameters
    ----------
    low_c, high_c : float
        Lowest and highest air temperature [degC], -90 to 60, low not above high; else ValueError.

    Returns
    -------
    float
        Mean saturation vapour pressure es [kPa], at or above that of the mean temperature.

    References
    ----------
    [1] FAO-56, equation 12 and Example 3.
    """
    _refuse_crossed(low_c, high_c)
    return (saturation_vapour_pressure(low_c) + saturation_vapour_pressure(high_c)) / 2.0


def saturation_slope(temperature_c: float) -> float:
    """Return the slope of the saturation curve, capital delta [1], equation 13.

    Parameters
    ----------
    temperature_c : float
        Air temperature [degC], -90 to 60; outside refused with ValueError.

    Returns
    -------
    float
        Slope [kPa/degC].

    References
    ----------
    [1] FAO-56, equation 13; the same numbers in ASCE-EWRI, "The ASCE standardized reference
        evapotranspiration equation" (2005), Table C-3.
    """
    return (
        SLOPE_FACTOR
        * saturation_vapour_pressure(temperature_c)
        / (temperature_c + SATURATION_OFFSET_C) ** 2
    )


def air_pressure(elevation_m: float) -> float:
    """Return the mean air pressure at a height above the sea [1], equation 7.

    Parameters
    ----------
    elevation_m : float
        Height above the sea [m], -430 to 9000; outside refused with ValueError.

    Returns
    -------
    float
        Air pressure [kPa].

    References
    ----------
    [1] FAO-56, equation 7 and Example 2.
    """
    within("elevation_m", elevation_m, LOWEST_PLACE_M, HIGHEST_PLACE_M, "m")
    cooled = STANDARD_TEMPERATURE_K - LAPSE_C_PER_M * elevation_m
    return SEA_LEVEL_PRESSURE_KPA * float((cooled / STANDARD_TEMPERATURE_K) ** PRESSURE_EXPONENT)


def psychrometric_constant(elevation_m: float) -> float:
    """Return the psychrometric constant, gamma [1], equation 8.

    Parameters
    ----------
    elevation_m : float
        Height above the sea [m], -430 to 9000; outside refused with ValueError.

    Returns
    -------
    float
        Psychrometric constant [kPa/degC].

    References
    ----------
    [1] FAO-56, equation 8 and Example 2.
    """
    return PSYCHROMETER_PER_C * air_pressure(elevation_m)


def vapour_pressure_from_wet_bulb(wet_c: float, dry_c: float, elevation_m: float) -> float:
    """Return the vapour pressure that a ventilated psychrometer shows [1], equation 15.

    Parameters
    ----------
    wet_c, dry_c : float
        Wet and dry bulb [degC], -90 to 60, wet not above dry; else ValueError.
    elevation_m : float
        Height above the sea [m], -430 to 9000; outside ValueError.

    Returns
    -------
    float
        Actual vapour pressure [kPa], not under 0.

    References
    ----------
    [1] FAO-56, equations 15 and 16, Example 4.
    """
    within("dry_c", dry_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    within("wet_c", wet_c, COLDEST_AIR_C, dry_c, "degC")
    cooling = VENTILATED_PSYCHROMETER_PER_C * air_pressure(elevation_m) * (dry_c - wet_c)
    return max(0.0, saturation(wet_c) - cooling)


def vapour_pressure_from_humidity(temperature_c: float, relative_humidity_percent: float) -> float:
    """Return the vapour pressure of one moment from its relative humidity [1], equation 54.

    Parameters
    ----------
    temperature_c : float
        Air temperature [degC], -90 to 60; outside ValueError.
    relative_humidity_percent : float
        Relative humidity [percent], 0 to 100; outside ValueError.

    Returns
    -------
    float
        Actual vapour pressure [kPa].

    References
    ----------
    [1] FAO-56, equation 54 and Example 19.
    """
    within("relative_humidity_percent", relative_humidity_percent, 0.0, 100.0, "percent")
    return saturation_vapour_pressure(temperature_c) * relative_humidity_percent / 100.0


def vapour_pressure_from_extremes(
    low_c: float, high_c: float, highest_percent: float, lowest_percent: float
) -> float:
    """Return a day's vapour pressure from its extremes of temperature and humidity [1].

    Parameters
    ----------
    low_c, high_c : float
        Lowest and highest air temperature [degC], -90 to 60, low not above high; else ValueError.
    highest_percent, lowest_percent : float
        Highest (early morning) and lowest (early afternoon) relative humidity [percent], 0 to
        100, lowest not above highest; else ValueError.

    Returns
    -------
    float
        Actual vapour pressure [kPa].

    References
    ----------
    [1] FAO-56, equation 17 and Example 5.
    """
    _refuse_crossed(low_c, high_c)
    within("highest_percent", highest_percent, 0.0, 100.0, "percent")
    within("lowest_percent", lowest_percent, 0.0, highest_percent, "percent")
    morning = saturation_vapour_pressure(low_c) * highest_percent
    afternoon = saturation_vapour_pressure(high_c) * lowest_percent
    return (morning + afternoon) / 200.0


def vapour_pressure_from_mean_humidity(low_c: float, high_c: float, mean_percent: float) -> float:
    """Return a day's vapour pressure from its mean relative humidity [1], equation 19.

    Parameters
    ----------
    low_c, high_c : float
        Lowest and highest air temperature [degC], -90 to 60, low not above high; else ValueError.
    mean_percent : float
        Mean relative humidity [percent], 0 to 100; outside ValueError.

    Returns
    -------
    float
        Actual vapour pressure [kPa]; less certain than from the extremes.

    References
    ----------
    [1] FAO-56, equation 19 and Example 5.
    """
    within("mean_percent", mean_percent, 0.0, 100.0, "percent")
    return mean_saturation_vapour_pressure(low_c, high_c) * mean_percent / 100.0


def dew_point(vapour_pressure_kpa: float) -> float:
    """Return the temperature at which a vapour pressure saturates: equation 11 solved for T [1].

    Parameters
    ----------
    vapour_pressure_kpa : float
        Actual vapour pressure [kPa], above 1e-5 and up to 20; outside ValueError.

    Returns
    -------
    float
        Dew point [degC].

    References
    ----------
    [1] FAO-56, equation 11 (annex 3 prints it solved: equation 3-11).
    """
    within("vapour_pressure_kpa", vapour_pressure_kpa, 1e-5, HIGHEST_VAPOUR_KPA, "kPa")
    ratio = log(vapour_pressure_kpa / SATURATION_KPA)
    return SATURATION_OFFSET_C * ratio / (SATURATION_SLOPE - ratio)


def vapour_pressure_deficit(temperature_c: float, vapour_pressure_kpa: float) -> float:
    """Return how much more vapour the air could take up at this moment.

    Parameters
    ----------
    temperature_c : float
        Air temperature [degC], -90 to 60; outside ValueError.
    vapour_pressure_kpa : float
        Actual vapour pressure [kPa], 0 to 20; outside ValueError.

    Returns
    -------
    float
        Deficit [kPa], 0 where the air is saturated or given as more than saturated.

    References
    ----------
    [1] FAO-56, chapter 3, vapour pressure deficit, Example 6.
    """
    within("vapour_pressure_kpa", vapour_pressure_kpa, 0.0, HIGHEST_VAPOUR_KPA, "kPa")
    return max(0.0, saturation_vapour_pressure(temperature_c) - vapour_pressure_kpa)


def _refuse_crossed(low_c: float, high_c: float) -> None:
    within("high_c", high_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    within("low_c", low_c, COLDEST_AIR_C, high_c, "degC")
