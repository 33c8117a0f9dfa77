"""Schedules as data: how bales are conditioned, and how plants are fed afterwards.

Of feeding after planting no source with a measurement in bales was found; its figures are common
practice: a soluble feed every week or two, tomatoes and squash the most, leafy crops less, peas,
beans and roots none. What was fed in conditioning carries plants through their first weeks. A
label's own rate goes before these figures, and pale lower leaves ask for a feed sooner.

References:
[1] University of California ANR Publication 8559, "Gardening with straw bales" (2016), Table 1
    (feed on alternate days) and Table 2 (water on days 1 to 3, then feed).
[2] Washington State University Extension, Fact Sheet FS109E, "Straw bale gardening", as restated
    by K-State Research and Extension, Rawlins County: full rate on days 4 to 6, half rate on days
    7 to 9, nothing on day 10, planting from day 11 at or under 99 F; 1/2 US cup of 46-0-0 or
    1 US cup of 21-0-0 per bale and full dose.
[3] Common practice of bale growers: weekly to fortnightly soluble feed, heavy feeders weekly,
    legumes none.
[4] From memory: a soluble feed of 20 % N at a tablespoon (15 g) a US gallon, a gallon a bale,
    brings 3 g N a bale.

Decided 2026-11-25: The last day of soak-first is of water only, as UC and WSU have it; Georgia and
South Carolina give a balanced feed there.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from enum import StrEnum

from msgspec import Struct

from strawbell.agronomy.growing import days_to_harvest
from strawbell.model.garden import Appetite, Crop, Method, Schedule, ScheduleDay, Work

FULL = 1.0
HALF = 0.5


def _water(*days: int) -> tuple[ScheduleDay, ...]:
    return tuple(ScheduleDay(day, Work.WATER) for day in days)


def _feed(rate: float, *days: int) -> tuple[ScheduleDay, ...]:
    return tuple(ScheduleDay(day, Work.FEED, rate) for day in days)


def _in_order(*groups: tuple[ScheduleDay, ...]) -> tuple[ScheduleDay, ...]:
    return tuple(sorted((day for group in groups for day in group), key=lambda day: day.day))


ALTERNATE_DAYS = Schedule(
    name="alternate-days",
    summary="Feed on every other day from the first, water between, a balanced feed at the end.",
    days=_in_order(
        _feed(FULL, 1, 3, 5),
        _feed(HALF, 7, 8, 9),
        (ScheduleDay(10, Work.FINISH, FULL),),
        _water(2, 4, 6, 11),
    ),
    plant_from_day=12,
    sources=(
        "UC ANR Publication 8559 (2016), Table 1, for the alternation on days 1 to 7",
        "common practice for days 8 to 12",
    ),
)
SOAK_FIRST = Schedule(
    name="soak-first",
    summary="Water for three days, then feed daily, full for three days and half for three.",
    days=_in_order(
        _water(1, 2, 3, 10),
        _feed(FULL, 4, 5, 6),
        _feed(HALF, 7, 8, 9),
    ),
    plant_from_day=11,
    sources=(
        "UC ANR Publication 8559 (2016), Table 2; day 10 is water only",
        "WSU Extension FS109E, as restated by K-State Research and Extension",
    ),
)

SCHEDULES: Mapping[str, Schedule] = {each.name: each for each in (ALTERNATE_DAYS, SOAK_FIRST)}
"""The built-in schedules by name.

Sources disagree about day 10 of the soak-first sequence: UC and WSU give water only, Georgia and
South Carolina a balanced feed. The two that describe the whole table are followed; a grower who
wants the balanced feed writes a schedule of their own.
"""

LONGEST_DAYS = 60
"""Longest schedule taken from a grower [days]: Montana State counts six weeks in the cold."""


class Fault(StrEnum):
    """Why a schedule cannot work; worded in the table "fault" of the catalogue."""

    NO_DAYS = "no-days"
    TOO_LONG = "too-long"
    GAPS = "gaps"
    """Its days are not 1, 2, 3 and so on."""
    RATE_OF_WATER = "rate-of-water"
    RATE = "rate"
    """Not over 0 and at most 1."""
    NO_NITROGEN = "no-nitrogen"
    PLANTED_WHILE_FED = "planted-while-fed"
    PLANTED_WITHIN = "planted-within"
    """Before its last day."""


class ScheduleFault(Struct, frozen=True):
    """A fault, with the day it is about and the rate found there, where it is about one."""

    fault: Fault
    day: int | None = None
    rate: float | None = None


def validate_schedule(schedule: Schedule) -> tuple[ScheduleFault, ...]:
    """Return what is wrong with a grower's own schedule.

    Args:
        schedule: Days from 1 without gaps, each with a rate [share of a full dose, 0 to 1], and the
            day of planting.

    Returns:
        Empty when the schedule can be used.

    Source: common practice; see the module for what is published.
    """
    return tuple(fault for check in _CHECKS for fault in check(schedule))


def _check_days(schedule: Schedule) -> Iterator[ScheduleFault]:
    numbers = [day.day for day in schedule.days]
    if not numbers:
        yield ScheduleFault(Fault.NO_DAYS)
    elif len(numbers) > LONGEST_DAYS:
        yield ScheduleFault(Fault.TOO_LONG)
    elif numbers != list(range(1, len(numbers) + 1)):
        yield ScheduleFault(Fault.GAPS)


def _check_rates(schedule: Schedule) -> Iterator[ScheduleFault]:
    for day in schedule.days:
        if day.work is Work.WATER and day.rate != 0:
            yield ScheduleFault(Fault.RATE_OF_WATER, day.day, day.rate)
        elif day.work is not Work.WATER and not 0 < day.rate <= 1:
            yield ScheduleFault(Fault.RATE, day.day, day.rate)


def _check_feedings(schedule: Schedule) -> Iterator[ScheduleFault]:
    feedings = [day.day for day in schedule.days if day.work is not Work.WATER]
    if not any(day.work is Work.FEED for day in schedule.days):
        yield ScheduleFault(Fault.NO_NITROGEN)
    elif schedule.plant_from_day <= max(feedings):
        yield ScheduleFault(Fault.PLANTED_WHILE_FED, max(feedings))
    elif schedule.plant_from_day <= len(schedule.days):
        yield ScheduleFault(Fault.PLANTED_WITHIN, len(schedule.days))


_CHECKS = (_check_days, _check_rates, _check_feedings)


def start_for(plant_on: date, schedule: Schedule) -> date:
    """Return the first day of soaking for a wanted planting date.

    Args:
        plant_on: Local date of planting.
        schedule: The sequence, with its day of planting.

    Returns:
        `plant_on` counted back by `plant_from_day - 1` days.
    """
    return plant_on - timedelta(days=schedule.plant_from_day - 1)


ROOTING_DAYS = 21
"""Days after planting in which the feed of conditioning suffices (common practice)."""
FOLLOWER_ROOTING_DAYS = 7
"""The same for a transplant after another crop, which has used that feed up: as soon as it has
rooted (common practice: about a week)."""
LAST_FEED_BEFORE_END_DAYS = 14
"""A crop is fed no more this long before it is done (common practice)."""
SEASON_NITROGEN_G = 3.0
"""Nitrogen of one feeding for a bale [4] [g]."""
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


# All of them common practice [3] at the strength of [4]; a stage that is not listed gets none.
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
