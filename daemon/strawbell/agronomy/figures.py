"""What every formula shares: the range an argument may lie in, and figures as sources print them.

A figure printed in deg F or inches stays in sight (`deg_f(28)`, `inches(18)`); what leaves the
modules is SI.
"""

from __future__ import annotations

import math

COLDEST_AIR_C, HOTTEST_AIR_C = -90.0, 60.0
"""Air temperatures beyond these were never measured on earth (WMO extremes: -89.2 and 56.7)."""


def within(name: str, value: float, lowest: float, highest: float, unit: str) -> float:
    """Return `value` unchanged when it is finite and lies in [lowest, highest].

    Args:
        name: The argument as the caller knows it; it opens the message.
        value: What was given [unit].
        lowest, highest: The ends of the range [unit], both allowed.
        unit: Unit for the message; empty for a bare share or count.

    Returns:
        `value` [unit].

    Raises:
        ValueError: When `value` is not finite or lies outside; the message says what is allowed.
    """
    if not (math.isfinite(value) and lowest <= value <= highest):
        tail = f" {unit}" if unit else ""
        raise ValueError(f"{name} must lie between {lowest:g} and {highest:g}{tail}, got {value}")
    return value


CM_PER_INCH = 2.54
"""Exact by definition."""
F_PER_C = 1.8
"""Exact by definition; also the step between deg F and deg C degree days."""
F_AT_FREEZING = 32.0


def deg_f(printed: float) -> float:
    """Convert a printed temperature [deg F] to [degC].

    Args:
        printed: Temperature [deg F], any finite value.

    Returns:
        Temperature [degC], rounded to 0.01 so that 33 F reads 0.56.

    Source: Definition of the Fahrenheit scale: C = (F - 32) / 1.8.
    """
    return round((printed - F_AT_FREEZING) / F_PER_C, 2)


def inches(printed: float) -> float:
    """Convert a printed length [in] to [cm].

    Args:
        printed: Length [in], any finite value.

    Returns:
        Length [cm], rounded to 0.01.

    Source: International yard and pound agreement (1959): 1 in = 2.54 cm.
    """
    return round(printed * CM_PER_INCH, 2)
