"""When a crop may be picked: by degree days where they are known, by days where they are not.

Every day from planting brings a crop a share of the way to its harvest: a day of known weather
the share degree days / degree days to maturity, any other day 1 / days to maturity. With no
weather at all this is the seed packet's figure, with all of it a degree-day count. A crop whose
degree days to maturity are unknown goes by the packet's days, of which a cool one counts only in
part: packets are printed for good growing weather.

References:
[1] Oregon State University Extension, EM 9305, "Vegetable Degree-Day Models: An Introduction for
    Farmers and Gardeners" (2021).
[2] From memory, as seed packets print it: a crop whose days run from sowing is ready 10 to 14
    days sooner from a transplant; one whose days run from transplanting takes 25 to 30 days more
    from seed.
[3] Colorado State University Extension, CMG GardenNotes 720, "Vegetable Planting Guide".

Decided 2026-11-25: A crop without degree days ripens by days, of which a cool one counts in part;
a crop that never ripens is cleared thirty days after its days are over.
"""

from __future__ import annotations

from functools import lru_cache

from strawbell.agronomy.crops.degree_days import (
    CORN_CEILING_C,
    capped_degree_days,
    simple_degree_days,
)
from strawbell.model.crops import Crop
from strawbell.model.garden import Method

TRANSPLANT_SAVES_DAYS = (14, 10)
"""What a transplant saves of days counted from sowing, for the soonest and the latest [2]."""
SEED_ADDS_DAYS = (25, 30)
"""What sowing adds to days counted from transplanting, for the soonest and the latest [2]."""
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
70 to 95 F [3]) [degC]."""


def growing_days(crop: Crop, high_c: float | None, low_c: float | None) -> float:
    """Return how many of a crop's days to maturity a day of weather counts for.

    By degree days where the crop has a total, which belongs to the middle of its days; else a
    part of one day, growing evenly with the mean air from where the crop hardly grows (5 degC,
    tender crops 10) to where it grows well (13 and 18), and never more than one.

    Args:
        crop: The crop.
        high_c, low_c: Highest and lowest air temperature of the day [degC], -60 to 60; None is
            unknown.

    Returns:
        Days [day], 0 or more; 1 where a temperature is unknown.

    Raises:
        ValueError: When a temperature lies outside -60 to 60 degC, or the low over the high.

    Source: Oregon State University Extension EM 9305 (2021) for degree days to harvest; the rest a
        design choice, see the module.
    """
    if high_c is None or low_c is None:
        return 1.0
    base_c, needed = crop.degree_day_base_c, crop.degree_days_to_maturity
    if base_c is not None and needed is not None:
        middle_days = sum(crop.days_to_maturity) / 2.0
        return capped_degree_days(high_c, low_c, base_c, CORN_CEILING_C) * middle_days / needed
    from_c = TENDER_GROWS_FROM_C if crop.tender else GROWS_FROM_C
    well_c = TENDER_GROWS_WELL_FROM_C if crop.tender else GROWS_WELL_FROM_C
    over_c = simple_degree_days(high_c, low_c, from_c)
    return min(1.0, over_c / (well_c - from_c))


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
