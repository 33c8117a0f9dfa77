"""Feeding after planting: who is fed, from when, how often and with how much nitrogen.

No source with a measurement in bales was found; all figures are common practice: a soluble feed
every week or two, tomatoes and squash the most, leafy crops less, peas, beans and roots none. What
was fed in conditioning carries plants through their first weeks. A label's own rate goes before
these figures, and pale lower leaves ask for a feed sooner.

References:
[1] Common practice of bale growers: weekly to fortnightly soluble feed, heavy feeders weekly,
    legumes none.
[2] From memory: a soluble feed of 20 % N at a tablespoon (15 g) a US gallon, a gallon a bale,
    brings 3 g N a bale.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from enum import StrEnum

from msgspec import Struct

from strawbell.agronomy.crops.ripening import GROWS_FROM_C, TENDER_GROWS_FROM_C, days_to_harvest
from strawbell.agronomy.ranges import within
from strawbell.model.crops import Appetite, Crop
from strawbell.model.garden import Method

ROOTING_DAYS = 21
"""Days after planting in which the feed of conditioning suffices (common practice)."""
FOLLOWER_ROOTING_DAYS = 7
"""The same for a transplant after another crop, which has used that feed up: as soon as it has
rooted (common practice: about a week)."""
LAST_FEED_BEFORE_END_DAYS = 14
"""A crop is fed no more this long before it is done (common practice)."""
SEASON_NITROGEN_G = 3.0
"""Nitrogen of one feeding for a bale [2] [g]."""
COLDEST_AIR_C = -60.0
HOTTEST_AIR_C = 60.0
"""Outside these a figure is no outdoor air temperature."""
SETTING_SHARE = 0.5
"""Share of the days to maturity after which fruiting crops set (common practice)."""


class GrowthStage(StrEnum):
    """Where a planting stands."""

    NOT_PLANTED = "not-planted"
    ROOTING = "rooting"
    GROWING = "growing"
    SETTING = "setting"
    """From about the first fruit set on; only crops grown for fruit."""
    FINISHING = "finishing"


class SeasonFeeding(Struct, frozen=True):
    """How a planting is fed in a stage: days between feeds, and nitrogen a bale each time [g]."""

    every_days: int
    nitrogen_per_bale_g: float


# All of them common practice [1] at the strength of [2]; a stage that is not listed gets none.
_RULES: dict[tuple[Appetite, GrowthStage], SeasonFeeding] = {
    (Appetite.LEAFY, GrowthStage.GROWING): SeasonFeeding(14, SEASON_NITROGEN_G),
    (Appetite.FRUITING, GrowthStage.GROWING): SeasonFeeding(14, SEASON_NITROGEN_G),
    (Appetite.FRUITING, GrowthStage.SETTING): SeasonFeeding(14, SEASON_NITROGEN_G),
    (Appetite.HEAVY, GrowthStage.GROWING): SeasonFeeding(14, SEASON_NITROGEN_G),
    (Appetite.HEAVY, GrowthStage.SETTING): SeasonFeeding(7, SEASON_NITROGEN_G),
}


def growth_stage(
    crop: Crop,
    planted_on: date,
    on: date,
    method: Method = Method.TRANSPLANT,
    *,
    ends_on: date | None = None,
    follows: bool = False,
) -> GrowthStage:
    """Return the stage of a planting on a date.

    Args:
        crop: The crop.
        planted_on: Garden-local date of sowing or transplanting.
        on: The date asked about.
        method: How it was planted.
        ends_on: Date of its last harvest, where that is reckoned better than by days alone; None
            counts the days to maturity and the days of picking.
        follows: Whether another crop stood in the bale before.

    Returns:
        NOT_PLANTED before planting, ROOTING for 21 days (for 7 where a transplant follows another
        crop), FINISHING from 14 days before the last harvest, SETTING from half of the days to the
        first harvest on for fruiting and heavy feeders, else GROWING.

    Source: common practice.
    """
    age_days = (on - planted_on).days
    if age_days < 0:
        return GrowthStage.NOT_PLANTED
    transplant_follows = follows and method is Method.TRANSPLANT
    if age_days < (FOLLOWER_ROOTING_DAYS if transplant_follows else ROOTING_DAYS):
        return GrowthStage.ROOTING
    soonest, latest = days_to_harvest(crop, method)
    ends_on = ends_on or planted_on + timedelta(days=latest + crop.harvest_days)
    if (ends_on - on).days <= LAST_FEED_BEFORE_END_DAYS:
        return GrowthStage.FINISHING
    fruits = crop.appetite in (Appetite.FRUITING, Appetite.HEAVY)
    if fruits and age_days >= soonest * SETTING_SHARE:
        return GrowthStage.SETTING
    return GrowthStage.GROWING


def grows_at(crop: Crop, mean_air_c: float) -> bool:
    """Return whether it is warm enough for a crop to grow, and to make use of feed.

    Args:
        crop: The crop.
        mean_air_c: Mean air temperature of the last days [degC], -60 to 60.

    Returns:
        True from 10 degC for tender and very tender crops, from 5 degC for the others.

    Raises:
        ValueError: When the temperature lies outside -60 to 60 degC.

    Source: from memory: growing seasons are counted from 5 degC, for warm-season crops from 10.
    """
    within("mean_air_c", mean_air_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    return mean_air_c >= (TENDER_GROWS_FROM_C if crop.tender else GROWS_FROM_C)


def season_feeding(crop: Crop, stage: GrowthStage) -> SeasonFeeding | None:
    """Return how a crop is fed in a stage.

    Args:
        crop: The crop with its appetite.
        stage: Its stage.

    Returns:
        None when it gets nothing: rooting, finishing, and legumes and roots in every stage.

    Source: common practice.
    """
    return _RULES.get((crop.appetite, stage))


def bale_feeding(feedings: Sequence[SeasonFeeding | None]) -> SeasonFeeding | None:
    """Return how a bale is fed that carries several crops: as the hungriest of them asks.

    Args:
        feedings: What each crop on the bale would get.

    Returns:
        The one with most nitrogen a day; None when none of them is fed. Legumes beside a heavy
        feeder share its feed, since it cannot be kept apart in one bale.

    Source: common practice.
    """
    fed = [each for each in feedings if each is not None]
    return max(fed, key=lambda each: each.nitrogen_per_bale_g / each.every_days, default=None)
