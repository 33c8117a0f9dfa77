"""How far each planting has come, what freezes have killed, and the stage of harvest.

A day of known weather counts as many as its warmth brings, any other as a day of the seed packet.
Picking is told when it begins, again about weekly, and the last of it. What a freeze has killed, or
what does not ripen for long after its days are over, is cleared.

The weather a journal keeps is the air's. Plants under a clear sky are a degree or two colder than
that, and a fleece keeps them two degrees warmer (from memory: light covers, 2 to 4 F): the two
about cancel out, so the air's low itself is held against the crop (design choice). The grower is
asked to look, and the grower's word goes before the reckoning.

The freeze to come is the one the grower has written for the garden; without it nothing ends here.
It is a date of even odds and not a forecast: it keeps work from being begun that can hardly be
finished, and takes nothing out of the bales.

Decided 2026-11-25: A freeze kills by the air's low of the day: clear nights cool plants below it,
covers keep them above it, and the two about cancel. What was too young to pick is planted again
while days lengthen and cleared after the longest day; seed below the surface, potatoes and
strawberries are spared. `record missed` on the clearing means that the crop lives.

Decided 2026-11-29: What is expected to bear less before `first_freeze_on` than it costs to put in
is left out, told once and fed no more, where the grower has written that date; nothing ends
without it. What still waits for the crop before it is not spoken of: it may be meant for spring.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import date, timedelta

from msgspec import Struct

from strawbell.agronomy.cold_and_heat import dies_in_a_freeze
from strawbell.agronomy.growing import (
    SOONEST_SHARE,
    days_to_harvest,
    expected_emergence,
    growing_days,
)
from strawbell.agronomy.loss import POTTED, SOWN, is_planted_for_nothing
from strawbell.model.brief import PLANTS, Action, Reason, ReasonCode, Task, TaskKey
from strawbell.model.details import Ending, HarvestDetail
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Batch, Crop, Garden, Method, Planting
from strawbell.season.local_time import DAY
from strawbell.season.stage import (
    Day,
    Frozen,
    Growth,
    frozen_now,
    last_harvest_key,
    next_number,
    over_on,
    picking_key,
    planting_key,
    planting_label,
    simple_task,
    standing_since,
)

UNKNOWN_DAY = DayWeather()
ALMOST_A_DAY = 1e-6
"""Days add up but for rounding."""

BED_WARMER_C = (0.0, 6.0)
"""How much warmer than the air a conditioned bale is at seed depth, least and most (common
practice: bales are ahead of the soil; no measurement found)."""
BED_UNKNOWN_C = (12.0, 20.0)
"""Seed bed of a conditioned bale where no weather is kept (design choice: spring)."""


FREEZE_C = 0.0
"""No crop is killed by air over this (chilling harms, but does not kill) [degC]."""
REGROWS = frozenset({"potato", "strawberry"})
"""Crops that a freeze sets back and does not kill: a potato comes again from below, and of a
strawberry only the bloom is lost (from memory)."""
LONGEST_DAY = (6, 21)
SHORTEST_DAY = (12, 21)
"""Month and day between which days lengthen or shorten, in the north."""

PICK_EVERY_DAYS = 7
"""How often picking is brought to mind (common practice)."""
PICK_OFTEN_DAYS = 3
PICKED_YOUNG = frozenset({"bean", "pole bean", "pea", "cucumber", "summer squash", "okra"})
"""Crops picked young, every two or three days, which stop bearing where fruit is left to ripen
(common practice)."""
ALMOST_LAST_DAYS = 3
"""Nearer to the last harvest, picking is left to that (design choice)."""
GIVE_UP_AFTER_DAYS = 30
"""How long after its days are over a crop that cold keeps from ripening is given up (design
choice: a cool summer costs a few weeks; after that nights are too cold to make it up)."""
LEAVES_NOTHING_TO_DO = frozenset(
    {
        Action.FEED,
        Action.WATER,
        Action.SURFACE_WATER,
        Action.INSPECT,
        Action.THIN,
        Action.MULCH,
        Action.SUPPORT,
    }
)
"""Work that is idle on the day on which everything comes out of the bales."""

STALE_FREEZE_DAYS = 120
"""So long after its date a freeze is that of an autumn past (design choice, as the check of the
configuration has it) [days]."""


class Window(Struct, frozen=True):
    """From the first picking to the last, as reckoned on a date."""

    first: date
    last: date


def grown(
    batch: Batch,
    done: Mapping[TaskKey, date],
    growth: Mapping[TaskKey, Growth],
    weather: DayWeather | None,
    on: date,
) -> Mapping[TaskKey, Growth]:
    """Return how far the plantings of a batch have come at the end of a date."""
    found: dict[TaskKey, Growth] = {}
    for each in batch.plantings:
        key = planting_key(batch, each)
        since = done.get(key)
        if since is None or last_harvest_key(batch, each) in done:
            continue
        before = growth.get(key)
        if before is None or before.since != since:
            before = Growth(since, float((on - since).days))
        found[key] = _one_day_on(each, before, weather, on)
    return {**growth, **found} if found else growth


def window(planting: Planting, growth: Growth | None, since: date, on: date) -> Window:
    """Return when a planting is picked, as it looks on a date; days to come count as days."""
    if growth is None or growth.since != since:
        growth = Growth(since, float((on - since).days))
    soonest, latest = days_to_harvest(planting.crop, planting.method)
    first = growth.ripe_on or _when(growth, soonest, on)
    all_ripe = growth.all_ripe_on or _when(growth, latest, on)
    return Window(first, all_ripe + (planting.crop.harvest_days - 1) * DAY)


def _one_day_on(planting: Planting, before: Growth, weather: DayWeather | None, on: date) -> Growth:
    known = weather if weather is not None and weather.complete else UNKNOWN_DAY
    days = before.days + growing_days(planting.crop, known.high_c, known.low_c)
    soonest, latest = days_to_harvest(planting.crop, planting.method)
    ripe_on, all_ripe_on = before.ripe_on, before.all_ripe_on
    if ripe_on is None and days >= soonest - ALMOST_A_DAY:
        ripe_on = on + DAY
    if all_ripe_on is None and days >= latest - ALMOST_A_DAY:
        all_ripe_on = on + DAY
    return Growth(before.since, days, ripe_on, all_ripe_on)


def _when(growth: Growth, needed: int, on: date) -> date:
    return on + math.ceil(needed - growth.days - ALMOST_A_DAY) * DAY


def mean_air_c(weather: DayWeather | None) -> float | None:
    """Return the mean air of a day, None where it is not known whole [degC]."""
    if weather is None or not weather.complete:
        return None
    if weather.low_c is None or weather.high_c is None:
        return None
    return (weather.low_c + weather.high_c) / 2.0


def bed_since(
    weather: Mapping[date, DayWeather], since: date, most_days: int
) -> tuple[tuple[date, float], ...]:
    """Return how warm the bed was on the days from a sowing on, where that is known [degC]."""
    warmer_c = sum(BED_WARMER_C) / 2.0
    bed = []
    for ahead in range(most_days + 1):
        on = since + DAY * ahead
        air_c = mean_air_c(weather.get(on))
        if air_c is not None:
            bed.append((on, air_c + warmer_c))
    return tuple(bed)


def killed_on(
    batch: Batch, done: Mapping[TaskKey, date], weather: Mapping[date, DayWeather], on: date
) -> Mapping[TaskKey, Frozen]:
    """Return what the weather of a date has killed of a batch, by the key of its planting."""
    known = weather.get(on)
    if known is None or known.low_c is None or known.low_c > FREEZE_C:
        return {}
    found = {}
    for each in batch.plantings:
        key = planting_key(batch, each)
        since = done.get(key)
        if since is None or since >= on or last_harvest_key(batch, each) in done:
            continue
        if dies_at(each.crop, known.low_c) and _is_up(each, since, on, weather):
            soonest, _ = days_to_harvest(each.crop, each.method)
            young = (on - since).days < soonest * SOONEST_SHARE
            found[key] = Frozen(on, since, young)
    return found


def is_worth_again(frozen: Frozen, latitude: float) -> bool:
    """Return whether a killed planting is planted again: a young one, while days still lengthen."""
    month_and_day = (frozen.on.month, frozen.on.day)
    northern_spring = not LONGEST_DAY <= month_and_day < SHORTEST_DAY
    return frozen.young and northern_spring is (latitude >= 0)


def dies_at(crop: Crop, low_c: float) -> bool:
    """Return whether a night of that low kills a crop that is up."""
    return crop.kill_at_c is not None and low_c <= crop.kill_at_c and crop.name not in REGROWS


def _is_up(planting: Planting, since: date, on: date, weather: Mapping[date, DayWeather]) -> bool:
    """Return whether there is something to kill: seed below the surface is safe."""
    if planting.method is not Method.SEED or not planting.crop.emergence:
        return True
    bed = dict(bed_since(weather, since, (on - since).days))
    up = expected_emergence(planting.crop, since, bed, sum(BED_UNKNOWN_C) / 2.0)
    return up is not None and up <= on


def harvesting(day: Day) -> tuple[Task, ...]:
    """Return the picking that is due on a date, crop by crop."""
    tasks = (harvest_due(day, each, since) for each, since in day.standing)
    return (*(task for task in tasks if task is not None), *_clearing(day))


def without_idle_work(day: Day, tasks: tuple[Task, ...]) -> tuple[Task, ...]:
    """Return the tasks of a date without care for plants that come out on it anyway."""
    ending = {task.key for task in tasks if _comes_out(task)}
    if not ending:
        return tasks
    if any(last_harvest_key(day.batch, each) not in ending for each, _ in day.standing):
        return tasks
    if any(task.action in PLANTS for task in tasks):
        return tasks
    return tuple(task for task in tasks if task.action not in LEAVES_NOTHING_TO_DO)


def _comes_out(task: Task) -> bool:
    detail = task.detail
    return isinstance(detail, HarvestDetail) and detail.ending is not Ending.TOO_LATE


def ends_on(day: Day, planting: Planting, since: date) -> date:
    """Return the date of a planting's last harvest.

    Once there is something to pick it gets its days of picking, however cold it has grown.
    """
    return _last_on(planting, since, window_of(day, planting, since))


def window_of(day: Day, planting: Planting, since: date) -> Window:
    """Return when a planting may be picked, by the warmth of its days so far."""
    growth = day.state.growth.get(planting_key(day.batch, planting))
    return window(planting, growth, since, day.on)


def is_open(day: Day, planting: Planting, since: date) -> bool:
    """Return whether there is something to pick of a planting on a date."""
    return day.on >= window_of(day, planting, since).first


def last_harvest(day: Day, planting: Planting, *, killed: bool = False) -> Task:
    """Return the last harvest of a crop: all of it comes out."""
    key = last_harvest_key(day.batch, planting)
    detail = HarvestDetail(Ending.KILLED if killed else Ending.LAST)
    return simple_task(day, key, planting=planting, detail=detail)


def harvest_due(day: Day, planting: Planting, since: date) -> Task | None:
    """Return the picking of one planting that is due on a date, None when none is."""
    if day.state.frozen and frozen_now(day.batch, day.state, planting) is not None:
        return last_harvest(day, planting, killed=True)
    picked = window_of(day, planting, since)
    if day.on < picked.first:
        given_up = day.on >= _given_up_on(planting, since)
        return last_harvest(day, planting) if given_up else None
    last_on = _last_on(planting, since, picked)
    if day.on >= last_on:
        return last_harvest(day, planting)
    crop = planting_label(day.batch, planting)
    number, last = next_number(day.state, picking_key(day.batch.name, crop, 1))
    often = planting.crop.name in PICKED_YOUNG
    every_days = PICK_OFTEN_DAYS if often else PICK_EVERY_DAYS
    if last is not None and (day.on - last).days < every_days:
        return None
    if last is not None and (last_on - day.on).days < ALMOST_LAST_DAYS:
        return None
    key = picking_key(day.batch.name, crop, number)
    return simple_task(day, key, planting=planting)


def _clearing(day: Day) -> Iterator[Task]:
    """Yield the clearing of what was killed young and is not worth planting again this year."""
    for each in day.batch.plantings if day.state.frozen else ():
        frozen = frozen_now(day.batch, day.state, each)
        if frozen is None or standing_since(day.batch, day.state, each) is not None:
            continue
        if over_on(day.batch, day.state, each) is not None:
            continue
        if not is_worth_again(frozen, day.garden.place.latitude):
            yield last_harvest(day, each, killed=True)


def _last_on(planting: Planting, since: date, picked: Window) -> date:
    given_up = _given_up_on(planting, since)
    if picked.first > given_up:
        return given_up
    latest = picked.first + timedelta(days=planting.crop.harvest_days - 1)
    return min(picked.last, max(given_up, latest))


def _given_up_on(planting: Planting, since: date) -> date:
    _, latest = days_to_harvest(planting.crop, planting.method)
    days = latest + planting.crop.harvest_days + GIVE_UP_AFTER_DAYS
    return since + timedelta(days=days)


def ends_by_freeze(garden: Garden, crop: Crop, on: date) -> date | None:
    """Return the first freeze that ends a crop, None where none is known or it does no harm."""
    freeze = garden.first_freeze_on
    if freeze is None or not dies_in_a_freeze(crop):
        return None
    return freeze if on <= freeze + timedelta(days=STALE_FREEZE_DAYS) else None


def too_late(day: Day, planting: Planting) -> Reason | None:
    """Return why a crop is left out for the year: a freeze takes what would pay for it.

    The reason tells the mean of its days to the first picking beside those that are left.
    """
    freeze, crop = ends_by_freeze(day.garden, planting.crop, day.on), planting.crop
    if freeze is None:
        return None
    soonest, latest = days_to_harvest(crop, planting.method)
    ripe, left = (soonest + latest) / 2.0, (freeze - day.on).days
    cost = SOWN if planting.method is Method.SEED else POTTED
    if not is_planted_for_nothing(ripe, crop.harvest_days, left, cost):
        return None
    return Reason(ReasonCode.SEASON_OVER, float(round(ripe)), float(max(0, left)), "day")
