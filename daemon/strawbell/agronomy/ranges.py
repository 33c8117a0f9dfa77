"""Refuse a value that lies outside what a formula was made for, by the argument's name."""

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
