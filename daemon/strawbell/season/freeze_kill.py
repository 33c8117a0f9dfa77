"""Which crops the freezes of past nights have killed, and whether they are worth planting again.

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

from collections.abc import Mapping
from datetime import date

from strawbell.agronomy.crops.emergence import expected_emergence
from strawbell.agronomy.crops.ripening import SOONEST_SHARE, days_to_harvest
from strawbell.model.brief import TaskKey
from strawbell.model.crops import Crop
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Batch, Method, Planting
from strawbell.season.batch_state import Frozen
from strawbell.season.seed_bed import BED_UNKNOWN_C, bed_since
from strawbell.season.stage import last_harvest_key, planting_key

FREEZE_C = 0.0
"""No crop is killed by air over this (chilling harms, but does not kill) [degC]."""
REGROWS = frozenset({"potato", "strawberry"})
"""Crops that a freeze sets back and does not kill: a potato comes again from below, and of a
strawberry only the bloom is lost (from memory)."""
LONGEST_DAY = (6, 21)
SHORTEST_DAY = (12, 21)
"""Month and day between which days lengthen or shorten, in the north."""


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
