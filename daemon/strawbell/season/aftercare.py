"""What growing bales ask for beside feed and harvest: water, looks, thinning, mulch, supports.

And what spent ones do once every crop is over: strings off, straw spread.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from functools import lru_cache

from strawbell.agronomy.bales import (
    SPREAD_DEPTH_CM,
    STRINGS,
    STRINGS_OF_OTHERS,
    spread_area_m2,
)
from strawbell.agronomy.growing import (
    TRUE_LEAVES_DAYS,
    DayRange,
    days_to_emerge_between,
    days_to_harvest,
    expected_emergence,
    support_plan,
    thin_on,
)
from strawbell.agronomy.watering import Canopy, Stage, canopy_at
from strawbell.model.brief import Action, Caution, Task
from strawbell.model.details import Band, LookDetail, Sign, SpreadDetail, SupportDetail, ThinDetail
from strawbell.model.garden import Batch, Crop, Method, Planting
from strawbell.season.harvesting import BED_UNKNOWN_C, BED_WARMER_C, bed_since, mean_air_c
from strawbell.season.stage import (
    FIRST_WEEKS_DAYS,
    BatchState,
    Day,
    dated_key,
    once_key,
    over_on,
    planted_on,
    planting_label,
    simple_task,
)

WET_WEEK_MM = 15.0
"""Rain of a week after which mushrooms come up and slugs are about (common practice)."""
GROWS_FROM_C = 6.0
"""Mean air of a week under which neither grain sprouts nor slugs feed (common practice)."""
SPROUTS_FOR_DAYS = 42
"""How long after planting grain left in the straw still sprouts (common practice)."""
SINKS_AFTER_DAYS = 42
"""From when on a bale has sunk enough to bare roots or to lean (common practice)."""
LOOK_EVERY_DAYS = 7
"""How often growing bales are looked over for sprouts, rodents and sagging (common practice)."""
THIN_WITHIN_DAYS = 90
"""A sowing that has not come up by then is not thinned any more (design choice)."""
WEATHER_DAYS = 7
"""Past days whose mean air speaks for the seed bed (design choice)."""
MOST_LEAF_AREA_M2 = 2.0
"""Ground that the plants of one bale shade at most: past that their neighbours do (design
choice)."""
SQUARE_CM_PER_SQUARE_M = 10_000.0
STAGE_SHARES = ((0.25, Stage.SEEDLING), (0.5, Stage.YOUNG), (0.8, Stage.GROWING))
"""Up to which share of the days to the first harvest a plant is at which stage (design choice)."""


def inspection(day: Day) -> tuple[Task, ...]:
    """Return the weekly look at bales that carry plants, on the weekday the first went in."""
    since = min((planted for _, planted in day.standing), default=None)
    if since is None:
        return ()
    age_days = (day.on - since).days
    if age_days <= 0 or age_days % LOOK_EVERY_DAYS:
        return ()
    key = dated_key(day.batch.name, Action.INSPECT, day.on)
    look = LookDetail(age_days // LOOK_EVERY_DAYS, tuple(_signs(day, age_days)))
    return (simple_task(day, key, detail=look),)


def _signs(day: Day, age_days: int) -> Iterator[Sign]:
    """Yield what a look may find; after a week of unknown weather whatever is possible."""
    air_c, rain_mm = lately_c(day), _rain_lately_mm(day)
    mild = air_c is None or air_c >= GROWS_FROM_C
    wet = rain_mm is None or rain_mm >= WET_WEEK_MM
    if mild and age_days <= SPROUTS_FOR_DAYS:
        yield Sign.SPROUTS
    if mild and wet:
        yield Sign.MUSHROOMS
        yield Sign.SLUGS
    if age_days >= SINKS_AFTER_DAYS:
        yield Sign.SUNK


def _rain_lately_mm(day: Day) -> float | None:
    """Return the rain of the week before, None where some of it is not known [mm]."""
    days = (
        day.log.weather.get(day.on - timedelta(days=back)) for back in range(1, WEATHER_DAYS + 1)
    )
    rains = [None if sky is None else sky.rain_mm for sky in days]
    known = [mm for mm in rains if mm is not None]
    return sum(known) if len(known) == len(rains) else None


def thinning_due(day: Day) -> tuple[Task, ...]:
    """Return the thinning of sowings that have their first true leaves, once each."""
    tasks = []
    for each, since in day.standing:
        if each.method is not Method.SEED or (day.on - since).days > THIN_WITHIN_DAYS:
            continue
        key = once_key(day.batch.name, Action.THIN, planting_label(day.batch, each))
        if key in day.state.done:
            continue
        on = thin_on(each.crop, emerged_on(day, each, since))
        if on is not None and day.on >= on and each.crop.thin_to_cm is not None:
            apart = ThinDetail(each.crop.thin_to_cm)
            tasks.append(simple_task(day, key, planting=each, detail=apart))
    return tuple(tasks)


def mulching(day: Day) -> tuple[Task, ...]:
    """Return the mulch, once a batch, when all that stands has its first weeks behind it.

    A sowing has its true leaves by then, and is thinned: mulch would smother it before.
    """
    key = once_key(day.batch.name, Action.MULCH)
    if day.batch.mulched or key in day.state.done:
        return ()
    inside = tuple(day.standing)
    if not inside or min((day.on - since).days for _, since in inside) <= FIRST_WEEKS_DAYS:
        return ()
    if not all(_stands_over_mulch(day, each, since) for each, since in inside):
        return ()
    return (simple_task(day, key),)


def daily_water(day: Day) -> tuple[Task, ...]:
    """Return the daily water of established plants; the balance says how much, or none."""
    if not any((day.on - since).days > FIRST_WEEKS_DAYS for _, since in day.standing):
        return ()
    return (simple_task(day, dated_key(day.batch.name, Action.WATER, day.on)),)


def emergence_of(day: Day, planting: Planting) -> DayRange | None:
    """Return in how many days a sowing comes up in a bed as warm as now."""
    coolest_c, warmest_c = _bed_c(day)
    return _emergence(planting.crop, coolest_c, warmest_c)


def emerged_on(day: Day, planting: Planting, since: date) -> date | None:
    """Return when a sowing is expected to be up, by the weather since; None when it never is."""
    coolest_c, warmest_c = _bed_c(day)
    bed = bed_since(day.log.weather, since, min((day.on - since).days - 1, THIN_WITHIN_DAYS))
    return _emerged(planting.crop, since, bed, (coolest_c + warmest_c) / 2.0)


def canopy_of(batch: Batch, state: BatchState, on: date) -> Canopy:
    """Return the leaves over one bale of a batch on a date, all that stands in it together."""
    area_m2 = height_m = 0.0
    for each in batch.plantings:
        since, over = planted_on(batch, state, each), over_on(batch, state, each)
        if since is None or since > on or (over is not None and over <= on):
            continue
        room_m2 = each.plants * each.crop.spacing_cm**2 / SQUARE_CM_PER_SQUARE_M
        full_m2 = min(MOST_LEAF_AREA_M2, room_m2 / batch.bales)
        height = each.crop.mature_height_cm / 100.0
        leaves = canopy_at(_stage(each, (on - since).days), full_m2, height)
        area_m2, height_m = area_m2 + leaves.area_m2, max(height_m, leaves.height_m)
    return Canopy(min(area_m2, MOST_LEAF_AREA_M2), height_m)


def _stage(planting: Planting, age_days: int) -> Stage:
    soonest, _ = days_to_harvest(planting.crop, planting.method)
    share = age_days / soonest
    return next((stage for until, stage in STAGE_SHARES if share < until), Stage.FULL)


def _stands_over_mulch(day: Day, each: Planting, since: date) -> bool:
    if each.method is not Method.SEED or not each.crop.emergence:
        return True
    up = emerged_on(day, each, since)
    return up is not None and (day.on - up).days > TRUE_LEAVES_DAYS


def _bed_c(day: Day) -> tuple[float, float]:
    """Return the coolest and the warmest the seed bed may be, to the whole degree."""
    air_c = lately_c(day)
    if air_c is None:
        return BED_UNKNOWN_C
    whole_c = round(air_c)
    return whole_c + BED_WARMER_C[0], whole_c + BED_WARMER_C[1]


def lately_c(day: Day) -> float | None:
    """Return the mean air of the week before, None where no weather is kept [degC]."""
    means = []
    for back in range(1, WEATHER_DAYS + 1):
        air_c = mean_air_c(day.log.weather.get(day.on - timedelta(days=back)))
        if air_c is not None:
            means.append(air_c)
    return sum(means) / len(means) if means else None


@lru_cache(maxsize=256)
def _emergence(crop: Crop, coolest_c: float, warmest_c: float) -> DayRange | None:
    return days_to_emerge_between(crop, coolest_c, warmest_c)


@lru_cache(maxsize=256)
def _emerged(
    crop: Crop, since: date, bed: tuple[tuple[date, float], ...], later_c: float
) -> date | None:
    return expected_emergence(crop, since, dict(bed), later_c)


def supports(day: Day) -> tuple[Task, ...]:
    """Return the supports that have to stand by a date; for stakes, the morning after planting."""
    tasks = []
    for each, since in day.standing:
        key = once_key(day.batch.name, Action.SUPPORT, planting_label(day.batch, each))
        if key in day.state.done:
            continue
        plan = support_plan(each.crop, since, day.batch.bale.height_cm, each.method)
        if plan is None or day.on < plan.by:
            continue
        detail = SupportDetail(each.crop.mature_height_cm, round(plan.upright_cm))
        tasks.append(
            simple_task(
                day,
                key,
                planting=each,
                cautions=(Caution.STAKES,),
                detail=detail,
            )
        )
    return tuple(tasks)


def spreading(day: Day) -> tuple[Task, ...]:
    """Return the spreading of the straw, the morning after the last crop was taken out.

    Bales that nothing was put into, since a freeze would have ended it, may still take something
    else until that freeze.
    """
    batch, state = day.batch, day.state
    key = once_key(batch.name, Action.SPREAD)
    if not batch.plantings or key in state.done:
        return ()
    for each in batch.plantings:
        over = over_on(batch, state, each)
        if over is None or over >= day.on:
            return ()
    freeze = day.garden.first_freeze_on
    grew = any(planted_on(batch, state, each) is not None for each in batch.plantings)
    if not grew and freeze is not None and day.on <= freeze:
        return ()
    least_m2, most_m2 = spread_area_m2(batch.bale, batch.bales)
    detail = SpreadDetail(
        strings=STRINGS.get(batch.bale.kind, STRINGS_OF_OTHERS) * batch.bales,
        depth_cm=SPREAD_DEPTH_CM,
        area_m2=Band(round(least_m2, 1), round(most_m2, 1)),
    )
    cautions = (Caution.DUST, Caution.HERBICIDE)
    return (simple_task(day, key, cautions=cautions, detail=detail),)
