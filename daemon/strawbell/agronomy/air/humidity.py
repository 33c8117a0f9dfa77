"""Water vapour in the air: its pressure at saturation, and what the height of a place changes.

References:
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapter 3, https://www.fao.org/docrep/x0490e/x0490e00.htm (equation numbers below).
"""

from __future__ import annotations

from math import exp

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
LOWEST_PLACE_M = -430.0
HIGHEST_PLACE_M = 9000.0
"""Shore of the Dead Sea and the highest summit [m], rounded outward."""


def saturation(temperature_c: float) -> float:
    """Return the vapour pressure at saturation, e0(T) [1], equation 11.

    Not checked, for the loops over hours.

    Args:
        temperature_c: Air temperature [degC], known to lie in -90 to 60; not checked.

    Returns:
        Saturation vapour pressure [kPa].
    """
    return SATURATION_KPA * exp(
        SATURATION_SLOPE * temperature_c / (temperature_c + SATURATION_OFFSET_C)
    )


def air_pressure(elevation_m: float) -> float:
    """Return the mean air pressure at a height above the sea [1], equation 7.

    Args:
        elevation_m: Height above the sea [m], -430 to 9000; outside refused with ValueError.

    Returns:
        Air pressure [kPa].
    """
    within("elevation_m", elevation_m, LOWEST_PLACE_M, HIGHEST_PLACE_M, "m")
    cooled = STANDARD_TEMPERATURE_K - LAPSE_C_PER_M * elevation_m
    return SEA_LEVEL_PRESSURE_KPA * float((cooled / STANDARD_TEMPERATURE_K) ** PRESSURE_EXPONENT)


def psychrometric_constant(elevation_m: float) -> float:
    """Return the psychrometric constant, gamma [1], equation 8.

    Args:
        elevation_m: Height above the sea [m], -430 to 9000; outside refused with ValueError.

    Returns:
        Psychrometric constant [kPa/degC].
    """
    return PSYCHROMETER_PER_C * air_pressure(elevation_m)
