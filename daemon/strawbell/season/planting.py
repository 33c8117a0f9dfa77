"""The stage of planting: mix on top for seeds, then sowing and setting out.

And which crop waits for which in the same bales, and what waits too long.

Decided 2026-11-28: An early crop that stands past the time of the next is told of as a choice, a
week ahead and then weekly; nothing is pulled unasked.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date, timedelta
from functools import lru_cache

from strawbell.agronomy.bales import potting_mix_l, top_area_m2
from strawbell.agronomy.growing import EDGE_CM, MOST_PLANTS, days_to_harvest, rows_on, support_plan
from strawbell.model.brief import Action, Caution, Crowding, Reason, ReasonCode, Task, TaskKey
from strawbell.model.details import (
    Band,
    Ending,
    HarvestDetail,
    MixDetail,
    PlantDetail,
    TopWaterDetail,
)
from strawbell.model.garden import Bale, Batch, Method, Planting
from strawbell.season.aftercare import emergence_of
from strawbell.season.harvesting import ends_by_freeze, ends_on, is_worth_again, too_late, window_of
from strawbell.season.stage import (
    FIRST_WEEKS_DAYS,
    Day,
    dated_key,
    frozen_now,
    last_harvest_key,
    once_key,
    over_on,
    plant_from,
    planted_on,
    planting_key,
    planting_label,
    simple_task,
    standing_since,
)

TRANSPLANT_WATER_L = 0.5
"""Water that settles one transplant (common practice: a pint) [L]."""
SEED_BED_WATER_MM = 5.0
"""First water of a seed bed, which wets a layer of mix through (common practice) [mm]."""
TOLD_AHEAD_DAYS = 7
"""How long before a late crop is wanted the choice is told: time to harden it off, or to eat up
the early one (design choice) [days]."""
TOLD_EVERY_DAYS = 7
"""And how often again while the early crop stands (design choice) [days]."""


def planting(day: Day) -> tuple[Task, ...]:
    """Return what goes into the bales on a date, the layer of mix first.

    What a freeze would end before it is ripe is left out, which is told once.
    """
    wanted = [each for each in day.batch.plantings if _is_due(day, each)]
    if not wanted:
        return ()
    over = {id(each): why for each in wanted if (why := too_late(day, each)) is not None}
    tasks = [_left_out(day, each, over[id(each)]) for each in wanted if id(each) in over]
    due = [each for each in wanted if id(each) not in over]
    sown = next((each for each in due if each.method is Method.SEED), None)
    if sown is not None and (mix_key := _mix_key(day.batch, sown)) not in day.state.done:
        tasks.append(_mix(day, mix_key))
    return (*tasks, *(_put_in(day, each) for each in due))


def _left_out(day: Day, each: Planting, why: Reason) -> Task:
    """Return the word that a crop is over for the year before it went in.

    It has the key of its last harvest, which makes way for what follows.
    """
    key = last_harvest_key(day.batch, each)
    detail = HarvestDetail(Ending.TOO_LATE)
    return simple_task(day, key, planting=each, reasons=(why,), detail=detail)


def surface_watering(day: Day) -> tuple[Task, ...]:
    """Return watering of the top while a planting is in its first weeks or not up yet."""
    young = [
        (each, (day.on - since).days)
        for each, since in day.standing
        if 0 < (day.on - since).days <= _moist_days(day, each)
    ]
    if not young:
        return ()
    youngest, age_days = min(young, key=lambda each: each[1])
    key = dated_key(day.batch.name, Action.SURFACE_WATER, day.on)
    last = max(FIRST_WEEKS_DAYS, age_days)
    why = Reason(ReasonCode.FIRST_WEEKS, float(age_days), float(last), "day")
    detail = TopWaterDetail(up_in_days=_still_to_come_up(day, youngest, age_days))
    return (simple_task(day, key, reasons=(why,), detail=detail),)


def _mix_key(batch: Batch, sown: Planting) -> TaskKey:
    """Return the key of the layer of mix: one for the first crops, a fresh one later.

    The old layer has gone into the straw with the crop before.
    """
    if predecessor(batch, sown) is None:
        return once_key(batch.name, Action.COVER_WITH_MIX)
    return once_key(batch.name, Action.COVER_WITH_MIX, planting_label(batch, sown))


def _mix(day: Day, key: TaskKey) -> Task:
    layer_cm = day.garden.mix_layer_cm
    litres = potting_mix_l(day.batch.bale, 1, layer_cm)
    detail = MixDetail(layer_cm, round(litres, 1))
    return simple_task(day, key, cautions=(Caution.DUST,), detail=detail)


def _put_in(day: Day, each: Planting) -> Task:
    bale, seed = day.batch.bale, each.method is Method.SEED
    if seed:
        litres = top_area_m2(bale) * SEED_BED_WATER_MM
    else:
        litres = TRANSPLANT_WATER_L * each.plants / day.batch.bales
    per_bale, rows = _layout(each.plants, day.batch.bales, bale)
    plan = support_plan(each.crop, day.on, bale.height_cm, each.method)
    detail = PlantDetail(
        spacing_cm=each.crop.spacing_cm,
        edge_cm=round(EDGE_CM),
        per_bale=per_bale,
        rows=rows,
        again=frozen_now(day.batch, day.state, each) is not None,
        depth_cm=each.crop.depth_cm if seed else None,
        up_in_days=_days_to_come_up(day, each) if seed else None,
        upright_cm=None if plan is None or plan.by != day.on else round(plan.upright_cm),
    )
    return simple_task(
        day,
        planting_key(day.batch, each),
        planting=each,
        water_per_bale_l=round(litres, 1),
        detail=detail,
    )


def _is_due(day: Day, each: Planting) -> bool:
    finished = day.state.sequence.finished_on
    if finished is None or day.on < plant_from(day.batch.schedule, finished):
        return False
    if planting_key(day.batch, each) in day.state.done:
        return False
    if not may_go_in(day, each) or over_on(day.batch, day.state, each) is not None:
        return False
    frozen = frozen_now(day.batch, day.state, each)
    if frozen is not None and not is_worth_again(frozen, day.garden.place.latitude):
        return False
    return each.plant_on is None or day.on >= each.plant_on


def _moist_days(day: Day, each: Planting) -> int:
    """Return how long the top is kept moist: the first weeks, and until the seed is up."""
    if each.method is not Method.SEED:
        return FIRST_WEEKS_DAYS
    up = emergence_of(day, each)
    latest = up.latest if up is not None else None
    return FIRST_WEEKS_DAYS if latest is None else max(FIRST_WEEKS_DAYS, math.ceil(latest))


def _days_to_come_up(day: Day, each: Planting) -> Band | None:
    up = emergence_of(day, each)
    if up is None:
        return None
    latest = None if up.latest is None else math.ceil(up.latest)
    return Band(math.floor(up.soonest), latest)


def _still_to_come_up(day: Day, each: Planting, age_days: int) -> Band | None:
    """Return after how many days from sowing the seed is up, while it may not be."""
    up = _days_to_come_up(day, each) if each.method is Method.SEED else None
    if up is None:
        return None
    latest = FIRST_WEEKS_DAYS if up.high is None else up.high
    return up if age_days <= latest else None


@lru_cache(maxsize=256)
def _layout(plants: int, bales: int, bale: Bale) -> tuple[Band | None, int | None]:
    """Return how many plants stand on one bale, and in how many rows, None where not known."""
    fewest, most = plants // bales, math.ceil(plants / bales)
    if not fewest:
        return None, None
    rows = rows_on(bale, most) if most <= MOST_PLANTS else None
    return Band(fewest, most), rows


def predecessor(batch: Batch, planting: Planting) -> Planting | None:
    """Return the planting whose harvest another waits for: the last of that crop listed before."""
    if planting.follows is None:
        return None
    found = None
    for each in batch.plantings:
        if each is planting:
            break
        if each.crop.name == planting.follows:
            found = each
    return found


def may_go_in(day: Day, planting: Planting) -> bool:
    """Return whether the bales are free for a planting: the crop before it is over, or none is.

    A crop is over when its last harvest was told or recorded on an earlier date. A crop that
    names none of the batch's own never waits: nothing could ever end its waiting.
    """
    before = predecessor(day.batch, planting)
    if before is None:
        return True
    over = over_on(day.batch, day.state, before)
    return over is not None and over < day.on


def crowding(day: Day) -> Iterator[Crowding]:
    """Yield the early crops that would hold a late one past its time, on the days it is told."""
    for late in day.batch.plantings:
        early = predecessor(day.batch, late)
        if early is None or planted_on(day.batch, day.state, late) is not None:
            continue
        if over_on(day.batch, day.state, late) is not None:
            continue
        since = standing_since(day.batch, day.state, early)
        wanted_on = _wanted_on(day, late)
        if since is None or since > day.on or wanted_on is None:
            continue
        told_for = (day.on - wanted_on).days + TOLD_AHEAD_DAYS
        if told_for < 0 or told_for % TOLD_EVERY_DAYS:
            continue
        last_on = ends_on(day, early, since)
        if last_on > max(wanted_on, day.on):
            yield _choice(day, early, late, since, wanted_on, last_on)


def _wanted_on(day: Day, late: Planting) -> date | None:
    """Return when a crop is to go in: as written, else the last day to be ripe before a freeze."""
    if late.plant_on is not None:
        return late.plant_on
    freeze = ends_by_freeze(day.garden, late.crop, day.on)
    if freeze is None:
        return None
    _, latest = days_to_harvest(late.crop, late.method)
    return freeze - timedelta(days=latest + 1)


def _choice(
    day: Day, early: Planting, late: Planting, since: date, wanted_on: date, last_on: date
) -> Crowding:
    soonest, latest = days_to_harvest(late.crop, late.method)
    free_on = last_on + timedelta(days=1)
    return Crowding(
        batch=day.batch.name,
        early=early.crop.name,
        late=late.crop.name,
        late_key=planting_key(day.batch, late),
        wanted_on=wanted_on,
        pick_on=window_of(day, early, since).first,
        over_on=last_on,
        late_pick_on=free_on + timedelta(days=soonest),
        late_pick_latest=free_on + timedelta(days=latest),
        freeze_on=ends_by_freeze(day.garden, late.crop, free_on),
    )
