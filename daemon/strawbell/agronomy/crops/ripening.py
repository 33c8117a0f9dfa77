"""When a crop may be picked: by degree days where they are known, by days where they are not.

Every day from planting brings a crop a share of the way to its harvest: a day of known weather
the share degree days / degree days to maturity, any other day 1 / days to maturity. With no
weather at all this is the seed packet's figure, with all of it a degree-day count. A crop whose
degree days to maturity are unknown goes by the packet's days, of which a cool one counts only in
part: packets are printed for good growing weather.

References
----------
[1] Oregon State University Extension, EM 9305, "Vegetable Degree-Day Models: An Introduction for
    Farmers and Gardeners" (2021).
[2] From memory, as seed packets print it: a crop whose days run from sowing is ready 10 to 14
    days sooner from a transplant; one whose days run from transplanting takes 25 to 30 days more
    from seed.
[3] Colorado State University Extension, CMG GardenNotes 720, "Vegetable Planting Guide".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
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
LONGEST_SEASON_DAYS = 500
"""A crop that cold days have not brought to harvest by then never gets there."""
ALMOST_RIPE = 1.0 - 1e-9
"""Shares add up to one but for rounding."""


@dataclass(frozen=True, slots=True)
class HarvestWindow:
    """From the first to the last date of picking.

    `ready_by` is the latest date on which picking should have begun; `weather_share` how much of
    the way to the first harvest was counted by known weather, 0 to 1.
    """

    first: date
    ready_by: date
    last: date
    weather_share: float


def harvest_window(
    crop: Crop,
    from_on: date,
    daily: Mapping[date, tuple[float | None, float | None]],
    *,
    method: Method = Method.TRANSPLANT,
    killing_freeze_on: date | None = None,
) -> HarvestWindow | None:
    """Return when a crop may be picked.

    The degree days to maturity belong to the middle of the days to maturity; the soonest and the
    latest sort need as much less and more as their days do. Temperatures over 30 degC count as 30.

    Parameters
    ----------
    crop : Crop
        The crop.
    from_on : date
        Garden-local date of sowing or transplanting.
    daily : mapping of date to (float or None, float or None)
        Highest and lowest air temperature of each day [degC], observed or forecast; missing days
        and None are unknown.
    method : Method
        Whether it was sown or set out as a transplant.
    killing_freeze_on : date or None
        Date of the first killing freeze expected; None when unknown or harmless.

    Returns
    -------
    HarvestWindow or None
        The window, ended the day before the freeze. None when the freeze comes on or before the
        first picking, or when it is too cold for the crop to ripen within 500 days.

    Raises
    ------
    ValueError
        When a temperature lies outside -60 to 60 degC, or a low over its high.

    References
    ----------
    .. [1] Oregon State University Extension EM 9305 (2021) for degree days to harvest.
    """
    soonest, latest = days_to_harvest(crop, method)
    first, weather_share = _ripe_on(crop, from_on, daily, soonest)
    ready_by, _ = _ripe_on(crop, from_on, daily, latest)
    if first is None or ready_by is None:
        return None
    last = ready_by + timedelta(days=crop.harvest_days - 1)
    if killing_freeze_on is not None:
        if killing_freeze_on <= first:
            return None
        day_before = killing_freeze_on - timedelta(days=1)
        ready_by, last = min(ready_by, day_before), min(last, day_before)
    return HarvestWindow(first, ready_by, last, weather_share)


def growing_days(crop: Crop, high_c: float | None, low_c: float | None) -> float:
    """Return how many of a crop's days to maturity a day of weather counts for.

    By degree days where the crop has a total, which belongs to the middle of its days; else a
    part of one day, growing evenly with the mean air from where the crop hardly grows (5 degC,
    tender crops 10) to where it grows well (13 and 18), and never more than one.

    Parameters
    ----------
    crop : Crop
        The crop.
    high_c, low_c : float or None
        Highest and lowest air temperature of the day [degC], -60 to 60; None is unknown.

    Returns
    -------
    float
        Days [day], 0 or more; 1 where a temperature is unknown.

    Raises
    ------
    ValueError
        When a temperature lies outside -60 to 60 degC, or the low over the high.

    References
    ----------
    .. [1] Oregon State University Extension EM 9305 (2021) for degree days to harvest; the rest a
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

    Parameters
    ----------
    crop : Crop
        The crop; its days run from sowing or from transplanting.
    method : Method
        How this one is planted.

    Returns
    -------
    tuple of (int, int)
        Shortest and longest [day], each at least 10.

    References
    ----------
    .. [1] From memory, as seed packets print it; see the module.
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

    Parameters
    ----------
    crop : Crop
        The crop.

    Returns
    -------
    Method
        SEED for a crop whose days run from sowing and that has no age as a transplant, else
        TRANSPLANT.

    References
    ----------
    .. [1] Colorado State University Extension, CMG GardenNotes 720: which crops are sown in place.
    """
    sown = not crop.maturity_from_transplant and crop.transplant_weeks is None
    return Method.SEED if sown else Method.TRANSPLANT


def _ripe_on(
    crop: Crop,
    from_on: date,
    daily: Mapping[date, tuple[float | None, float | None]],
    days: int,
) -> tuple[date | None, float]:
    """Return the date on which the shares reach one, and the part that weather made up."""
    share = by_weather = 0.0
    for offset in range(LONGEST_SEASON_DAYS):
        on = from_on + timedelta(days=offset)
        known = _weather_share(crop, daily.get(on), days)
        by_weather += known or 0.0
        share += 1.0 / days if known is None else known
        if share >= ALMOST_RIPE:
            return on + timedelta(days=1), min(1.0, by_weather)
    return None, min(1.0, by_weather)


def _weather_share(
    crop: Crop, day: tuple[float | None, float | None] | None, days: int
) -> float | None:
    """Return the share a day of known weather brings, None when it has to be counted as a day."""
    if day is None or day[0] is None or day[1] is None:
        return None
    return growing_days(crop, day[0], day[1]) / days
