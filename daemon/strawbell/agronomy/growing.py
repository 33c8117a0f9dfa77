"""A crop from seed to harvest: when it comes up, is thinned, held up and picked, and its rows.

Every day from planting brings a crop a share of the way to its harvest: a day of known weather
the share degree days / degree days to maturity, any other day 1 / days to maturity. With no
weather at all this is the seed packet's figure, with all of it a degree-day count. A crop whose
degree days to maturity are unknown goes by the packet's days, of which a cool one counts only in
part: packets are printed for good growing weather.

The rate of emergence (1/days) is taken as linear between the tabulated temperatures, since it is
the rate and not the time that grows about evenly with warmth. Outside the tabulated temperatures
nothing is claimed.

References:
[1] American Meteorological Society, Glossary of Meteorology, "Corn heat unit": temperatures over
    86 F count as 86 F, those under 50 F as 50 F.
[2] Wilson, L. T. and Barnett, W. W., "Degree-days: an aid in crop and pest management",
    California Agriculture (1983), Table 1.
[3] Oregon State University Extension, EM 9305, "Vegetable Degree-Day Models: An Introduction for
    Farmers and Gardeners" (2021).
[4] From memory, as seed packets print it: a crop whose days run from sowing is ready 10 to 14
    days sooner from a transplant; one whose days run from transplanting takes 25 to 30 days more
    from seed.
[5] Colorado State University Extension, CMG GardenNotes 720, "Vegetable Planting Guide".
[6] Harrington, J. F. and Minges, P. A., "Vegetable Seed Germination", California Agricultural
    Extension Mimeo Leaflet (1954), as adapted in Knott's Handbook for Vegetable Growers (1997).
[7] Common practice: seedlings are thinned once they carry their first true leaves, a week and a
    half or so after they came up, by snipping rather than pulling, so that neighbours keep their
    roots.
[8] University of Minnesota Extension, "Trellises and cages" (2009): a 6 ft stake driven 1 ft
    leaves 5 ft; a trellis carries vines with fruit up to 3 lb; tomatoes that keep growing need a
    stake or cage.
[9] Common practice: stakes are driven through the bale into the ground when the plants go in, so
    that no roots are torn later; vines are given something to climb before they fall over.
[10] Common practice: nothing is planted within a hand's breadth of the edge of a bale, which dries
    out and crumbles first.

Decided 2026-11-25: A crop without degree days ripens by days, of which a cool one counts in part;
a crop that never ripens is cleared thirty days after its days are over.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date, timedelta
from functools import lru_cache
from itertools import combinations, pairwise

from msgspec import Struct

from strawbell.agronomy.figures import deg_f, inches, within
from strawbell.model.garden import Bale, Crop, Method, Support

COLDEST_BALE_C, HOTTEST_BALE_C = -40.0, 100.0
"""Outside these a figure is no temperature of a bale."""
LONGEST_WAIT_DAYS = 200
"""No seed of the trials took longer than 172 days (parsnip at 32 F) [6]; then it is given up."""
ALMOST_EMERGED = 1.0 - 1e-9
"""Shares add up to one but for rounding."""
TRUE_LEAVES_DAYS = 10
"""Days from emergence to the first true leaves [7]."""
GROWTH_CEILING_C = deg_f(86)
"""Warmth over this grows nothing more, by the 86/50 method of corn [1]: 30 degC."""
TRANSPLANT_SAVES_DAYS = (14, 10)
"""What a transplant saves of days counted from sowing, for the soonest and the latest [4]."""
SEED_ADDS_DAYS = (25, 30)
"""What sowing adds to days counted from transplanting, for the soonest and the latest [4]."""
FEWEST_DAYS = 10
"""No crop is ready sooner after planting, whatever is saved (common practice)."""
SOONEST_SHARE = 0.5
"""No weather brings a crop to harvest in less than this share of its fewest days (design choice:
30 degC all day and night would take a third)."""
GROWS_FROM_C = 5.0
TENDER_GROWS_FROM_C = 10.0
"""Mean air under which plants hardly grow (from memory: the growing season counts from 5 degC,
41 F, that of warm-season crops from 10 degC, 50 F) [degC]."""
GROWS_WELL_FROM_C = 13.0
TENDER_GROWS_WELL_FROM_C = 18.0
"""Mean air from which a day counts as one of the packet's (design choice: days of 18 and 24 degC,
64 and 75 F, in a span of 10 to 12; cool-season crops do best at 60 to 80 F, warm-season ones at
70 to 95 F [5]) [degC]."""
CLIMBS_FROM_CM = inches(12)
"""Height at which a vine or bush begins to lean (common practice)."""
READY_BEFORE_DAYS = 7
"""How long before that the support stands (common practice)."""
DRIVEN_CM = inches(12)
"""How deep a stake goes into the ground under the bale [8]."""
MOST_ABOVE_BALE_CM = inches(72)
"""Longer growth is turned down, pinched or tied back (common practice)."""
EDGE_CM = inches(4)
"""Least distance of a plant from the edge of the bale [10]."""
MOST_PLANTS = 150
"""More than this on one bale is a slip of the pen (radishes reach about 60)."""


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


def thin_on(crop: Crop, emerged_on: date | None) -> date | None:
    """Return when a sowing is thinned to its distance, `Crop.thin_to_cm`.

    Args:
        crop: The crop; one without a distance to thin to is sown at its final distance.
        emerged_on: Garden-local date on which it came up, seen or expected at the latest; None is
            unknown.

    Returns:
        Ten days after emergence. None for crops sown at their distance, and while emergence is
        unknown.

    Source: [7] common practice.
    """
    if crop.thin_to_cm is None or emerged_on is None:
        return None
    return emerged_on + timedelta(days=TRUE_LEAVES_DAYS)


def degree_days(high_c: float, low_c: float, base_c: float) -> float:
    """Return the degree days of a day, both temperatures moved into [base, 30 degC] first.

    Args:
        high_c, low_c: Highest and lowest air temperature of the day [degC], known to lie in -90 to
            60.
        base_c: Temperature at which growth begins [degC].

    Returns:
        Degree days [degC day], 0 to 30 - base; none at a base of 30 or more.

    Sources: [1] American Meteorological Society, Glossary of Meteorology, "Corn heat unit". [2]
        Wilson and Barnett, California Agriculture (1983), Table 1.
    """
    high, low = (min(max(value, base_c), GROWTH_CEILING_C) for value in (high_c, low_c))
    return max(0.0, (high + low) / 2.0 - base_c)


def grows_at(crop: Crop, mean_air_c: float) -> bool:
    """Return whether it is warm enough for a crop to grow, and to make use of feed.

    Args:
        crop: The crop.
        mean_air_c: Mean air temperature of the last days [degC].

    Returns:
        True from 10 degC for tender and very tender crops, from 5 degC for the others.

    Source: from memory: growing seasons are counted from 5 degC, for warm-season crops from 10.
    """
    return mean_air_c >= _grows_from_c(crop)


def _grows_from_c(crop: Crop) -> float:
    return TENDER_GROWS_FROM_C if crop.tender else GROWS_FROM_C


def growing_days(crop: Crop, high_c: float | None, low_c: float | None) -> float:
    """Return how many of a crop's days to maturity a day of weather counts for.

    By degree days where the crop has a total, which belongs to the middle of its days; else a
    part of one day, growing evenly with the mean air from where the crop hardly grows (5 degC,
    tender crops 10) to where it grows well (13 and 18), and never more than one.

    Args:
        crop: The crop.
        high_c, low_c: Highest and lowest air temperature of the day [degC], known to lie in -90 to
            60; None is unknown.

    Returns:
        Days [day], 0 or more; 1 where a temperature is unknown.

    Source: Oregon State University Extension EM 9305 (2021) for degree days to harvest; the rest a
        design choice, see the module.
    """
    if high_c is None or low_c is None:
        return 1.0
    base_c, needed = crop.degree_day_base_c, crop.degree_days_to_maturity
    if base_c is not None and needed is not None:
        middle_days = sum(crop.days_to_maturity) / 2.0
        return degree_days(high_c, low_c, base_c) * middle_days / needed
    from_c = _grows_from_c(crop)
    well_c = TENDER_GROWS_WELL_FROM_C if crop.tender else GROWS_WELL_FROM_C
    return min(1.0, max(0.0, ((high_c + low_c) / 2.0 - from_c) / (well_c - from_c)))


def days_to_harvest(crop: Crop, method: Method) -> tuple[int, int]:
    """Return the days from planting to the first picking, for the way it is planted.

    Args:
        crop: The crop; its days run from sowing or from transplanting.
        method: How this one is planted.

    Returns:
        Shortest and longest [day], each at least 10.

    Source: from memory, as seed packets print it; see the module.
    """
    return _days(crop.days_to_maturity, crop.maturity_from_transplant, method)


@lru_cache(maxsize=256)
def _days(maturity: tuple[int, int], from_transplant: bool, method: Method) -> tuple[int, int]:
    # Asked every day of a season; a crop itself would be slow to look up by.
    shifts = (0, 0)
    if from_transplant and method is Method.SEED:
        shifts = SEED_ADDS_DAYS
    elif not from_transplant and method is Method.TRANSPLANT:
        shifts = (-TRANSPLANT_SAVES_DAYS[0], -TRANSPLANT_SAVES_DAYS[1])
    soonest, latest = (
        max(FEWEST_DAYS, days + shift) for days, shift in zip(maturity, shifts, strict=True)
    )
    return soonest, max(soonest, latest)


def usual_method(crop: Crop) -> Method:
    """Return how a crop is usually planted where nothing is said.

    Args:
        crop: The crop.

    Returns:
        SEED for a crop whose days run from sowing and that has no age as a transplant, else
        TRANSPLANT.

    Source: Colorado State University Extension, CMG GardenNotes 720: which crops are sown in place.
    """
    sown = not crop.maturity_from_transplant and crop.transplant_weeks is None
    return Method.SEED if sown else Method.TRANSPLANT


class SupportPlan(Struct, frozen=True):
    """By when a crop's support stands, and how long its uprights are [cm].

    `upright_cm` counts from the tip in the ground: driven depth, height of the bale, and what the
    crop climbs.
    """

    by: date
    upright_cm: float


def support_plan(
    crop: Crop, planted_on: date, bale_height_cm: float, method: Method
) -> SupportPlan | None:
    """Return by when a crop's support stands, and how long its uprights are.

    Stakes and cages stand on planting day. A trellis stands a week before the crop, growing
    evenly to its mature height by its first harvest, is 12 in high; young plants grow more slowly
    than that, so the date is early rather than late.

    Args:
        crop: The crop with its mature height [cm].
        planted_on: Garden-local date of planting.
        bale_height_cm: Height of the bale as set out [cm].
        method: How it was planted.

    Returns:
        Never before `planted_on`; None for a crop that needs no support. Growth over 6 ft above the
        bale is not counted.

    Source: [8] University of Minnesota Extension (2009): 1 ft driven; common practice for the time.
    """
    if crop.support is Support.NONE:
        return None
    days = 0
    if crop.support is Support.TRELLIS:
        share = min(1.0, CLIMBS_FROM_CM / crop.mature_height_cm)
        days = max(0, int(days_to_harvest(crop, method)[0] * share) - READY_BEFORE_DAYS)
    climbs_cm = min(crop.mature_height_cm, MOST_ABOVE_BALE_CM)
    return SupportPlan(planted_on + timedelta(days=days), DRIVEN_CM + bale_height_cm + climbs_cm)


def rows_on(bale: Bale, plants: int) -> int:
    """Return in how many rows along a bale its plants stand furthest from each other.

    Args:
        bale: The bale; its top is length by width [cm].
        plants: Plants on this bale, 1 to 150.

    Returns:
        The number of rows that leaves the widest distance between neighbours, spread evenly over
        the top and off its edge; of equals the fewest. A row that is one short is spread evenly
        like the others.

    Source: [10] common practice: even distances, a hand's breadth off the edge.
    """
    # A narrow top leaves its middle line.
    length_cm = max(0.0, bale.length_cm - 2.0 * EDGE_CM)
    width_cm = max(0.0, bale.width_cm - 2.0 * EDGE_CM)

    def nearest_cm(rows: int) -> float:
        spots = _spots(plants, rows, length_cm, width_cm)
        return round(min(math.dist(one, other) for one, other in combinations(spots, 2)), 3)

    # With more rows than this every layout only gets tighter along them.
    most = min(plants, 2 * math.isqrt(plants) + 2)
    return 1 if plants == 1 else max(range(1, most + 1), key=nearest_cm)


def _spots(plants: int, rows: int, length_cm: float, width_cm: float) -> list[tuple[float, float]]:
    """Place `plants` in `rows`, the first rows one longer where they do not come out even."""
    each, longer = divmod(plants, rows)
    placed: list[tuple[float, float]] = []
    for row in range(rows):
        across = _step(row, rows, width_cm)
        in_row = each + (1 if row < longer else 0)
        placed.extend((_step(column, in_row, length_cm), across) for column in range(in_row))
    return placed


def _step(index: int, count: int, span_cm: float) -> float:
    """Return the place of one of `count` evenly spread over a span, the only one in its middle."""
    return span_cm / 2.0 if count == 1 else span_cm * index / (count - 1)
