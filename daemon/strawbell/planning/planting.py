"""The stage of planting: mix on top for seeds, then sowing and setting out."""

from __future__ import annotations

from strawbell.model.brief import Action, Caution, Task
from strawbell.model.garden import Method, Planting
from strawbell.planning.keys import dated_key, once_key
from strawbell.planning.stage import (
    FIRST_WEEKS_DAYS,
    Day,
    planted_on,
    planting_action,
    planting_key,
    ready_by_plan,
    simple_task,
)


def planting(day: Day) -> tuple[Task, ...]:
    """Return what goes into the bales on a date, the layer of mix first."""
    due = [each for each in day.batch.plantings if _is_due(day, each)]
    if not due:
        return ()
    tasks = []
    mix_key = once_key(day.batch.name, Action.COVER_WITH_MIX)
    if mix_key not in day.state.done and any(each.method is Method.SEED for each in due):
        mix = simple_task(day, Action.COVER_WITH_MIX, mix_key, cautions=(Caution.DUST,))
        tasks.append(mix)
    for each in due:
        key = planting_key(day.batch, each)
        tasks.append(simple_task(day, planting_action(each), key, planting=each))
    return tuple(tasks)


def surface_watering(day: Day) -> tuple[Task, ...]:
    """Return watering of the top surface while a planting is in its first weeks."""
    young = [each for each in day.batch.plantings if _is_young(day, each)]
    if not young:
        return ()
    key = dated_key(day.batch.name, Action.SURFACE_WATER, day.on)
    return (simple_task(day, Action.SURFACE_WATER, key),)


def _is_due(day: Day, each: Planting) -> bool:
    ready = ready_by_plan(day.batch, day.state)
    if ready is None or day.on < ready or planting_key(day.batch, each) in day.state.done:
        return False
    if each.follows is not None:
        return False
    return each.plant_on is None or day.on >= each.plant_on


def _is_young(day: Day, each: Planting) -> bool:
    since = planted_on(day.batch, day.state, each)
    return since is not None and 0 < (day.on - since).days <= FIRST_WEEKS_DAYS
