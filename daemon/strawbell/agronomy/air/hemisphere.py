"""On which side of the equator a record of daily lows was taken, by its cold half of the year.

References:
[1] Design choice: where the halves differ by less than 3 degC, as near the equator, the seasons
    do not tell the side.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from datetime import date

from strawbell.agronomy.ranges import COLDEST_AIR_C, HOTTEST_AIR_C, within

SOUTHERN_WINTER = range(5, 11)
"""May to October, the cold half of the year south of the equator."""
MONTHS_OF_HALF = 6
HALVES_DIFFER_C = 3.0
"""From this difference of their mean lows on one half is the cold one [1]."""


def southern_winter(minima: Mapping[date, float | None]) -> bool | None:
    """Return whether May to October is the cold half of the year, as south of the equator.

    Every month counts the same, however many of its nights are known.

    Args:
        minima: Daily minimum air temperature [degC], -90 to 60; missing dates and None are unknown.

    Returns:
        True when the mean of May to October lies 3 degC or more under that of November to April,
        False when it lies as much over it. None when they are nearer, or when no night of one of
        the twelve months is known.

    Raises:
        ValueError: When a minimum lies outside -90 to 60 degC.

    Source: Astronomical seasons are half a year apart across the equator; the difference that is
        asked for is a design choice.
    """
    nights: dict[int, list[float]] = defaultdict(list)
    for on, low_c in minima.items():
        if low_c is not None:
            nights[on.month].append(within("minima", low_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC"))
    means = {month: math.fsum(lows) / len(lows) for month, lows in nights.items()}
    if len(means) < 2 * MONTHS_OF_HALF:
        return None
    inside = math.fsum(mean for month, mean in means.items() if month in SOUTHERN_WINTER)
    outside = math.fsum(mean for month, mean in means.items() if month not in SOUTHERN_WINTER)
    warmer_c = (outside - inside) / MONTHS_OF_HALF
    return warmer_c > 0.0 if abs(warmer_c) >= HALVES_DIFFER_C else None
