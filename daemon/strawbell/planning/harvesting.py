"""The stage of harvest: when picking begins, again about weekly, and the last of it.

Days of known weather count by degree days where a crop has them, all others as days. What a
freeze has killed, or what does not ripen for long after its days are over, is cleared.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from functools import lru_cache

from strawbell.agronomy.harvest import (
    SOONEST_SHARE,
    HarvestWindow,
    days_to_harvest,
    harvest_window,
)
from strawbell.model.brief import Action, Task
from strawbell.model.crops import Crop
from strawbell.model.garden import Method, Planting
from strawbell.planning.batch_state import frozen_now
from strawbell.planning.keys import once_key
from strawbell.planning.killing import is_worth_again
from strawbell.planning.stage import (
    Day,
    last_harvest_key,
    next_number,
    over_on,
    planting_label,
    simple_task,
    standing,
    standing_since,
)

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

Daily = tuple[tuple[date, float | None, float | None], ...]
"""Highest and lowest temperature of past days [degC]."""


def harvesting(day: Day) -> tuple[Task, ...]:
    """Return the picking that is due on a date, crop by crop."""
    tasks = (harvest_due(day, each, since) for each, since in standing(day))
    return (*(task for task in tasks if task is not None), *_clearing(day))


def without_idle_work(day: Day, tasks: tuple[Task, ...]) -> tuple[Task, ...]:
    """Return the tasks of a date without care for plants that come out on it anyway."""
    ending = {task.key for task in tasks if "last_harvest" in task.figures}
    if not ending:
        return tasks
    if any(last_harvest_key(day.batch, each) not in ending for each, _ in standing(day)):
        return tasks
    if any(task.action in (Action.PLANT, Action.SOW) for task in tasks):
        return tasks
    return tuple(task for task in tasks if task.action not in LEAVES_NOTHING_TO_DO)


def ends_on(day: Day, planting: Planting, since: date) -> date | None:
    """Return the date of a planting's last harvest, None where that is too far off to reckon.

    Once there is something to pick it gets its days of picking, however cold it has grown.
    """
    window = window_of(day, planting, since)
    return None if window is None else _last_on(planting, since, window)


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
            if since <= on < day.on and known.complete
        )
    return _window(planting.crop, since, planting.method, daily)


def is_open(day: Day, planting: Planting, since: date) -> bool:
    """Return whether there is something to pick of a planting on a date."""
    window = window_of(day, planting, since)
    return window is not None and day.on >= window.first


def last_harvest(day: Day, planting: Planting, *, killed: bool = False) -> Task:
    """Return the last harvest of a crop: all of it comes out."""
    key = last_harvest_key(day.batch, planting)
    figures = {"last_harvest": 1.0, **({"killed": 1.0} if killed else {})}
    return simple_task(day, Action.HARVEST, key, planting=planting, figures=figures)


def harvest_due(day: Day, planting: Planting, since: date) -> Task | None:
    """Return the picking of one planting that is due on a date, None when none is."""
    if day.state.frozen and frozen_now(day.batch, day.state, planting) is not None:
        return last_harvest(day, planting, killed=True)
    window = window_of(day, planting, since)
    if window is None or day.on < window.first:
        given_up = day.on >= _given_up_on(planting, since)
        return last_harvest(day, planting) if given_up else None
    last_on = _last_on(planting, since, window)
    if day.on >= last_on:
        return last_harvest(day, planting)
    key = once_key(day.batch.name, Action.HARVEST, planting_label(day.batch, planting))
    number, last = next_number(day.state, key)
    often = planting.crop.name in PICKED_YOUNG
    every_days = PICK_OFTEN_DAYS if often else PICK_EVERY_DAYS
    if last is not None and (day.on - last).days < every_days:
        return None
    if last is not None and (last_on - day.on).days < ALMOST_LAST_DAYS:
        return None
    return simple_task(day, Action.HARVEST, f"{key}-{number}", planting=planting)


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


def _last_on(planting: Planting, since: date, window: HarvestWindow) -> date:
    given_up = _given_up_on(planting, since)
    if window.first > given_up:
        return given_up
    latest = window.first + timedelta(days=planting.crop.harvest_days - 1)
    return min(window.last, max(given_up, latest))


def _given_up_on(planting: Planting, since: date) -> date:
    _, latest = days_to_harvest(planting.crop, planting.method)
    days = latest + planting.crop.harvest_days + GIVE_UP_AFTER_DAYS
    return since + timedelta(days=days)


@lru_cache(maxsize=256)
def _window(crop: Crop, since: date, method: Method, daily: Daily) -> HarvestWindow | None:
    known = {on: (high_c, low_c) for on, high_c, low_c in daily}
    return harvest_window(crop, since, known, method=method)
