"""Growing degree days of one day, by the three methods in use for bale crops.

References:
[1] American Meteorological Society, Glossary of Meteorology, "Corn heat unit": temperatures over
    86 F count as 86 F, those under 50 F as 50 F.
[2] Wilson, L. T. and Barnett, W. W., "Degree-days: an aid in crop and pest management",
    California Agriculture (1983), Table 1.
[3] HortTechnology 6(1):27 (1996): cucumber, sum of (Tmax - 60 F); over 90 F the excess is taken
    off twice.
"""

from __future__ import annotations

from strawbell.agronomy.crops.crop_figures import deg_f
from strawbell.agronomy.ranges import within

CORN_BASE_C = deg_f(50)
CORN_CEILING_C = deg_f(86)
"""The 86/50 method [1]: 30 and 10 degC."""
COLDEST_AIR_C = -60.0
HOTTEST_AIR_C = 60.0
"""Outside these a figure is no outdoor air temperature."""


def simple_degree_days(high_c: float, low_c: float, base_c: float) -> float:
    """Return the degree days of a day by the plain mean: max(0, (high + low)/2 - base).

    Args:
        high_c, low_c: Highest and lowest air temperature of the day [degC], -60 to 60.
        base_c: Temperature at which growth begins [degC], -60 to 60.

    Returns:
        Degree days [degC day], 0 or more.

    Raises:
        ValueError: When a temperature lies outside -60 to 60 degC, or the low over the high.

    Source: Wilson and Barnett, California Agriculture (1983), Table 1.
    """
    _check(high_c, low_c)
    within("base_c", base_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    return max(0.0, (high_c + low_c) / 2.0 - base_c)


def capped_degree_days(
    high_c: float,
    low_c: float,
    base_c: float = CORN_BASE_C,
    ceiling_c: float = CORN_CEILING_C,
) -> float:
    """Return the degree days of a day with both temperatures moved into [base, ceiling] first.

    With the defaults this is the 86/50 F method of corn.

    Args:
        high_c, low_c: Highest and lowest air temperature of the day [degC], -60 to 60.
        base_c, ceiling_c: Temperature at which growth begins, and over which it gains no more
            [degC].

    Returns:
        Degree days [degC day], 0 to ceiling - base.

    Raises:
        ValueError: When a temperature lies outside -60 to 60 degC, the low over the high, or the
            base at or over the ceiling.

    Source: American Meteorological Society, Glossary of Meteorology, "Corn heat unit".
    """
    _check(high_c, low_c)
    if not base_c < ceiling_c:
        raise ValueError(f"base_c must lie under ceiling_c, got {base_c} and {ceiling_c}")
    high, low = (min(max(value, base_c), ceiling_c) for value in (high_c, low_c))
    return simple_degree_days(high, low, base_c)


def _check(high_c: float, low_c: float) -> None:
    within("high_c", high_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    within("low_c", low_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    if low_c > high_c:
        raise ValueError(f"low_c must not lie over high_c, got {low_c} and {high_c}")
