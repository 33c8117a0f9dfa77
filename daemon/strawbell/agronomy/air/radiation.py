"""What of the sun reaches the ground, and what the ground keeps of it.

References:
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

CLEAR_SHARE = 0.75
CLEAR_SHARE_PER_M = 2e-5
"""Share of Ra on a clear day at sea level, and its rise with height [1], equation 37."""
CLOUD_LOSS = 0.75
CLOUD_EXPONENT = 3.4
"""Share that a closed cover takes away, and how it comes with the cover [2]."""
INLAND_RANGE_COEFFICIENT = 0.16
ALBEDO = 0.23
"""Of the reference grass [1], equation 38."""
LONGWAVE_HOURLY = 2.043e-10
"""Stefan-Boltzmann constant [MJ/K4/m2 per day and per hour], as printed in [1]."""
KELVIN = 273.16
"""As used for long-wave radiation in [1], equation 39."""
CLEARNESS_LOWEST = 0.3
"""Least share of clear-sky radiation that long-wave loss is reckoned with [3]."""
MOST_DAILY_MJ = 50.0
MOST_HOURLY_MJ = 5.5
"""Just above the extraterrestrial radiation of any place [MJ/m2]."""


def cloud_clearness(cloud_percent: float) -> float:
    """Return the share of clear-sky radiation under a cloud cover [2].

    Args:
        cloud_percent: Sky covered [percent], known to lie in 0 to 100; not checked.

    Returns:
        Share [0.25 to 1].

    Source: [2] Kasten and Czeplak 1980.
    """
    return 1.0 - CLOUD_LOSS * float((cloud_percent / 100.0) ** CLOUD_EXPONENT)


def longwave_factor(vapour_pressure_kpa: float, clearness: float) -> float:
    """Return the humidity and cloud terms of the long-wave loss, without checking the range.

    Args:
        vapour_pressure_kpa: Actual vapour pressure [kPa], not under 0; not checked.
        clearness: Rs/Rso [0.3 to 1]; not checked.

    Returns:
        Share of black-body radiation that is lost [-].

    Source: FAO-56, equation 39.
    """
    return (0.34 - 0.14 * sqrt(vapour_pressure_kpa)) * (1.35 * clearness - 0.35)
