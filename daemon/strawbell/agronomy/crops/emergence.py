"""How long seeds take to come up in a bale of a temperature, and when they will not.

The rate of emergence (1/days) is taken as linear between the tabulated temperatures, since it is
the rate and not the time that grows about evenly with warmth. Outside the tabulated temperatures
nothing is claimed.

References:
[1] Harrington, J. F. and Minges, P. A., "Vegetable Seed Germination", California Agricultural
    Extension Mimeo Leaflet (1954), as adapted in Knott's Handbook for Vegetable Growers (1997).
[2] Harrington, J. F., "Soil Temperature Conditions for Vegetable Seed Germination", Oregon State
    University Extension (2013, reviewed 2024): minimum, optimum and maximum.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from itertools import pairwise

from msgspec import Struct

from strawbell.agronomy.ranges import within
from strawbell.model.crops import Crop

COLDEST_BALE_C = -40.0
HOTTEST_BALE_C = 100.0
"""Outside these a figure is no temperature of a bale."""
LONGEST_WAIT_DAYS = 200
"""No seed of the trials took longer than 172 days (parsnip at 32 F) [1]; then it is given up."""
ALMOST_EMERGED = 1.0 - 1e-9
"""Shares add up to one but for rounding."""


class DayRange(Struct, frozen=True):
    """From the soonest to the latest; `latest` is None where it may not come up at all [day]."""

    soonest: float
    latest: float | None


def days_to_emerge(crop: Crop, bale_c: float) -> float | None:
    """Return the days from sowing to emergence at a steady bale temperature.

    Linear in 1/days between tabulated temperatures: at the share s of the way from (T1, d1) to
    (T2, d2) it is 1 / ((1 - s)/d1 + s/d2).

    Args:
        crop: The crop with its (temperature, days) points.
        bale_c: Temperature of the bale at seed depth [degC], -40 to 100.

    Returns:
        Days to emerge [day]; None outside the tabulated temperatures (too cold, too hot, or not
        tried) and for a crop without a table. `sprouting` tells these apart.

    Raises:
        ValueError: When `bale_c` lies outside -40 to 100 degC.

    Source: Harrington and Minges (1954) for the points; the interpolation is a rule of this module.
    """
    within("bale_c", bale_c, COLDEST_BALE_C, HOTTEST_BALE_C, "degC")
    for (cool_c, slow), (warm_c, fast) in pairwise(crop.emergence):
        if cool_c <= bale_c <= warm_c:
            share = (bale_c - cool_c) / (warm_c - cool_c)
            return 1.0 / ((1.0 - share) / slow + share / fast)
    if len(crop.emergence) == 1 and bale_c == crop.emergence[0][0]:
        return crop.emergence[0][1]
    return None


def days_to_emerge_between(crop: Crop, coolest_c: float, warmest_c: float) -> DayRange | None:
    """Return the range of days to emerge for a bale somewhere in a band of temperatures.

    Warmer is not always faster (onion is slower at 95 F than at 68 F), so the tabulated
    temperatures inside the band count beside its ends.

    Args:
        crop: The crop.
        coolest_c, warmest_c: Ends of the band [degC], -40 to 100, ascending.

    Returns:
        Soonest and latest [day]; `latest` is None where a part of the band lies outside the
        tabulated temperatures. None when the whole band does. No latest day is made up for a band
        that reaches out of the table: snap bean at 14 degC lies between 10, for which the trials
        give no figure, and 15, where it took 16 days; seed that lies so cold may as well rot as
        come up late.

    Raises:
        ValueError: When an end lies outside -40 to 100 degC or the band is upside down.

    Source: Harrington and Minges (1954).
    """
    if coolest_c > warmest_c:
        raise ValueError(f"coolest_c must not lie over warmest_c, got {coolest_c}, {warmest_c}")
    ends = [days_to_emerge(crop, end_c) for end_c in (coolest_c, warmest_c)]
    inside = [days for at_c, days in crop.emergence if coolest_c < at_c < warmest_c]
    known = [days for days in ends if days is not None] + inside
    if not known:
        return None
    return DayRange(min(known), None if None in ends else max(known))


def expected_emergence(
    crop: Crop,
    sown_on: date,
    bale_c: Mapping[date, float | None],
    later_c: float | None = None,
) -> date | None:
    """Add up day by day the share of the way to emergence, 1/days at each day's temperature.

    Args:
        crop: The crop.
        sown_on: Garden-local date of sowing; that day counts.
        bale_c: Mean bale temperature of each day [degC]; a missing or None day is unknown.
        later_c: Temperature that stands in for unknown days [degC]; None when there is none.

    Returns:
        The first date on which the shares reach one: the day after as many full days as
        `days_to_emerge` says at a steady temperature. None when an unknown day is met without a
        stand-in, when the crop has no table, or after 200 days. A day outside the tabulated
        temperatures adds nothing.

    Raises:
        ValueError: When a temperature lies outside -40 to 100 degC.

    Source: Harrington and Minges (1954) for the rates; the adding up of rates is common practice.
    """
    if not crop.emergence:
        return None
    share = 0.0
    for offset in range(LONGEST_WAIT_DAYS):
        on = sown_on + timedelta(days=offset)
        today_c = bale_c.get(on)
        today_c = later_c if today_c is None else today_c
        if today_c is None:
            return None
        days = days_to_emerge(crop, today_c)
        share += 0.0 if days is None else 1.0 / days
        if share >= ALMOST_EMERGED:
            return on + timedelta(days=1)
    return None
