"""How far each planting has come, how warm its bed was, and what the freezes have killed.

A day without known weather counts as a day of the seed packet, one of known weather as many as
its warmth brings.

The weather a journal keeps is the air's. Plants under a clear sky are a degree or two colder than
that, and a fleece keeps them two degrees warmer (from memory: light covers, 2 to 4 F): the two
about cancel out, so the air's low itself is held against the crop (design choice). The grower is
asked to look, and the grower's word goes before the reckoning.

Decided 2026-11-25: A freeze kills by the air's low of the day: clear nights cool plants below it,
covers keep them above it, and the two about cancel. What was too young to pick is planted again
while days lengthen and cleared after the longest day; seed below the surface, potatoes and
strawberries are spared. `record missed` on the clearing means that the crop lives.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date

from msgspec import Struct

from strawbell.agronomy.crops.emergence import expected_emergence
from strawbell.agronomy.crops.ripening import SOONEST_SHARE, days_to_harvest, growing_days
from strawbell.model.brief import TaskKey
from strawbell.model.crops import Crop
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Batch, Method, Planting
from strawbell.season.local_time import DAY
from strawbell.season.stage import Frozen, Growth, last_harvest_key, planting_key

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
