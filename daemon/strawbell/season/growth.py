"""How far each planting has come: the days that count towards its harvest, one by one.

A day without known weather counts as a day of the seed packet, one of known weather as many as
its warmth brings.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date, timedelta

from msgspec import Struct

from strawbell.agronomy.crops.ripening import days_to_harvest, growing_days
from strawbell.model.brief import TaskKey
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Batch, Planting
from strawbell.season.batch_state import Growth
from strawbell.season.stage import last_harvest_key, planting_key

DAY = timedelta(days=1)
UNKNOWN_DAY = DayWeather()
ALMOST_A_DAY = 1e-6
"""Days add up but for rounding."""


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
