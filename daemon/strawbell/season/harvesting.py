"""The stage of harvest: when picking begins, again about weekly, and the last of it.

Days of known weather count by their warmth, all others as days. What a freeze has killed, or what
does not ripen for long after its days are over, is cleared.

The freeze is the one the grower has written for the garden; without it nothing ends here. It is a
date of even odds and not a forecast: it keeps work from being begun that can hardly be finished,
and takes nothing out of the bales.

Decided 2026-11-29: What is expected to bear less before `first_freeze_on` than it costs to put in
is left out, told once and fed no more, where the grower has written that date; nothing ends
without it. What still waits for the crop before it is not spoken of: it may be meant for spring.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from strawbell.agronomy.crops.leaf_frost import dies_in_a_freeze
from strawbell.agronomy.crops.ripening import days_to_harvest
from strawbell.agronomy.loss import POTTED, SOWN, is_planted_for_nothing
from strawbell.model.brief import Action, Reason, ReasonCode, Task
from strawbell.model.crops import Crop
from strawbell.model.details import Ending, HarvestDetail
from strawbell.model.garden import Garden, Method, Planting
from strawbell.season.growth import Window, is_worth_again, window
from strawbell.season.stage import (
    Day,
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
    if any(task.action in (Action.PLANT, Action.SOW) for task in tasks):
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
    return simple_task(day, Action.HARVEST, key, planting=planting, detail=detail)


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
    return simple_task(day, Action.HARVEST, key, planting=planting)


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
