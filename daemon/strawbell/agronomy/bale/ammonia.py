"""Nitrogen that urea loses to the air while it lies on a bale that was not watered after it.

Measured on wheat fields, where urea lay on soil and straw; a hot bale may lose more. What a bale
gives off later, from its inside, is not in this.

References
----------
[1] Montana State University, "Ammonia volatility from urea", results, Table 1: 1.1 to 44.1 % of
    the nitrogen lost in 17 trials, 18.1 % on average,
    http://landresources.montana.edu/ureavolatilization/results.html
[2] The same, lessons learned: up to 22 % in one week; 8 to 15 % is common; at least 0.5 in of
    water in one event moves urea in, light scattered rain does not,
    http://landresources.montana.edu/ureavolatilization/learned.html
[3] North Dakota State University Extension: work urea in within two to three days when warm, up
    to five when cool, http://www.ag.ndsu.edu/procrop/fer/udurea05.htm
"""

from __future__ import annotations

from collections.abc import Sequence

from strawbell.agronomy.bale.leaching import Share
from strawbell.agronomy.ranges import within

WASHES_IN_MM = 12.7
"""Rain of one day that ends the loss, 0.5 in [2]."""
LEAST_IN_A_WEEK = 0.08
"""Lower end of the common losses, taken as that of a week [2]."""
MOST_IN_A_WEEK = 0.22
"""Most lost in one week [2]."""
MOST_IN_ALL = 0.441
"""Most lost in any trial [1]."""
WASHED_IN_MOST = 0.011
"""Least lost in any trial [1]: the most for urea that was watered in at once."""
DAYS_A_WEEK = 7.0
LONGEST_DAYS = 3650


def volatilised_share(rain_mm: Sequence[float | None], washed_in: bool | None) -> Share:
    """Return the share of a dose of urea that has gone to the air.

    Parameters
    ----------
    rain_mm : sequence of float or None
        Rain of each whole day since the dose, first to last [mm], 0 to 2000; outside ValueError.
        None is unknown: it may have washed the urea in or not. No day: nothing lost yet, beyond
        what goes at once.
    washed_in : bool or None
        Whether it was watered in when it was given; None when nobody said.

    Returns
    -------
    Share
        Least and most, 0 to 0.441.

    References
    ----------
    .. [1] Montana State University, results and lessons learned, linear within the week.
    """
    if len(rain_mm) > LONGEST_DAYS:
        raise ValueError(f"rain_mm must have at most {LONGEST_DAYS} days, got {len(rain_mm)}")
    for rain in rain_mm:
        if rain is not None:
            within("rain_mm", rain, 0.0, 2000.0, "mm")
    surely_dry, perhaps_dry = _dry_days(rain_mm)
    least = min(LEAST_IN_A_WEEK, LEAST_IN_A_WEEK * surely_dry / DAYS_A_WEEK)
    most = min(MOST_IN_ALL, MOST_IN_A_WEEK * perhaps_dry / DAYS_A_WEEK)
    return Share(
        low=least if washed_in is False else 0.0,
        high=WASHED_IN_MOST if washed_in else max(WASHED_IN_MOST, most),
    )


def _dry_days(rain_mm: Sequence[float | None]) -> tuple[int, int]:
    """Return the days before a soaking rain: until one may have come, and until one surely has."""
    surely: int | None = None
    for day, rain in enumerate(rain_mm):
        if rain is None or rain >= WASHES_IN_MM:
            surely = day if surely is None else surely
        if rain is not None and rain >= WASHES_IN_MM:
            return surely if surely is not None else day, day
    return (len(rain_mm) if surely is None else surely), len(rain_mm)
