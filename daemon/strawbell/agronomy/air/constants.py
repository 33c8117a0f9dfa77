"""A day's air temperature, as the conditioning and the heat of a bale need it."""

from __future__ import annotations

import math

from msgspec import Struct

COLDEST_AIR_C = -90.0
HOTTEST_AIR_C = 60.0
"""Air temperatures beyond these were never measured on earth (WMO extremes: -89.2 and 56.7)."""


class DayTemperature(Struct, frozen=True):
    """Lowest and highest air temperature of one garden-local day [degC at 2 m].

    Values outside -90 to 60 degC, or a low above the high, are refused with ValueError.
    """

    low_c: float
    high_c: float

    def __post_init__(self) -> None:
        """Refuse what no thermometer has shown."""
        for name, value in (("low_c", self.low_c), ("high_c", self.high_c)):
            if not (math.isfinite(value) and COLDEST_AIR_C <= value <= HOTTEST_AIR_C):
                raise ValueError(
                    f"{name} must lie between {COLDEST_AIR_C:g} and {HOTTEST_AIR_C:g}, got {value}"
                )
        if self.low_c > self.high_c:
            raise ValueError(f"low_c must not be above high_c, got {self.low_c}, {self.high_c}")

    @property
    def mean_c(self) -> float:
        """Return the middle of low and high [degC]."""
        return (self.low_c + self.high_c) / 2.0
