"""The stage of harvest: when picking begins, again about weekly, and the last of it.

Days of known weather count by degree days where a crop has them, all others as days.
"""

from __future__ import annotations

from datetime import date
from functools import lru_cache

from strawbell.agronomy.harvest import HarvestWindow, days_to_harvest, harvest_window
from strawbell.model.brief import Action, Task
from strawbell.model.crops import Crop
from strawbell.model.garden import Method, Planting
from strawbell.planning.keys import once_key
from strawbell.planning.stage import (
    Day,
    last_harvest_key,
    next_number,
    planting_label,
    simple_task,
    standing,
)

PICK_EVERY_DAYS = 7
"""How often picking is brought to mind (common practice; beans and cucumbers want it oftener)."""
SOONEST_SHARE = 0.5
"""No weather brings a crop to harvest in less than this share of its fewest days; before it
nothing is reckoned (design choice: 30 degC all day and night would take a third)."""

Daily = tuple[tuple[date, float | None, float | None], ...]
"""Highest and lowest temperature of past days [degC]."""


def harvesting(day: Day) -> tuple[Task, ...]:
    """Return the picking that is due on a date, crop by crop."""
    tasks = (_due(day, each, since) for each, since in standing(day))
    return tuple(task for task in tasks if task is not None)


def window_of(day: Day, planting: Planting, since: date) -> HarvestWindow | None:
    """Return when a planting may be picked, None where that is too far off to reckon."""
    soonest, _ = days_to_harvest(planting.crop, planting.method)
    if (day.on - since).days < soonest * SOONEST_SHARE:
        return None
    daily: Daily = ()
    if planting.crop.degree_days_to_maturity is not None:
        daily = tuple(
            (on, known.high_c, known.low_c)
            for on, known in day.weather.items()
            if on >= since and known.complete
        )
    return _window(planting.crop, since, planting.method, daily)


def is_open(day: Day, planting: Planting, since: date) -> bool:
    """Return whether there is something to pick of a planting on a date."""
    window = window_of(day, planting, since)
    return window is not None and day.on >= window.first


def last_harvest(day: Day, planting: Planting) -> Task:
    """Return the last harvest of a crop: all of it comes out."""
    key = last_harvest_key(day.batch, planting)
    figures = {"last_harvest": 1.0}
    return simple_task(day, Action.HARVEST, key, planting=planting, figures=figures)


def _due(day: Day, planting: Planting, since: date) -> Task | None:
    window = window_of(day, planting, since)
    if window is None or day.on < window.first:
        return None
    if day.on >= window.last:
        return last_harvest(day, planting)
    key = once_key(day.batch.name, Action.HARVEST, planting_label(day.batch, planting))
    number, last = next_number(day.state, key)
    if last is not None and (day.on - last).days < PICK_EVERY_DAYS:
        return None
    return simple_task(day, Action.HARVEST, f"{key}-{number}", planting=planting)


@lru_cache(maxsize=256)
def _window(crop: Crop, since: date, method: Method, daily: Daily) -> HarvestWindow | None:
    known = {on: (high_c, low_c) for on, high_c, low_c in daily}
    return harvest_window(crop, since, known, method=method)
