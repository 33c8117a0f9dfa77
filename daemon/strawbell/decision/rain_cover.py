"""Laying a tarp over bales in conditioning before rain takes nitrogen, and lifting it in time.

A grower without one is told to cover in the alert of heavy rain, and nothing is reckoned for it.
"""

from __future__ import annotations

from msgspec.structs import replace

from strawbell.decision.daily_weather import DayConditions, counted_rain_mm, lifts_for_heat
from strawbell.decision.estimates import Estimates
from strawbell.model.brief import Action, Also, Caution, State, Task
from strawbell.model.garden import RainCover
from strawbell.season.journal_index import JournalIndex
from strawbell.season.rain_cover import is_wanted, lies
from strawbell.season.stage import Day, simple_task
from strawbell.season.task_keys import dated_key

RAIN_COVER_MM = 7.0
"""Rain of a day for which bales are covered after the standing cover has come off [mm]: in the
trial on recorded springs less was not worth the walk."""
UNBOUND_G_PER_KG = 0.5
"""Nitrogen that rain may still take for which that is worth a walk [g per kg of bale] (design
choice: a fifth of a full dose)."""
PUTS_IN = frozenset({Action.COVER_WITH_MIX, Action.PLANT, Action.SOW})
LIFTED_FOR = frozenset({Action.FEED, Action.SOAK, Action.WATER})


def with_tarp(
    day: Day,
    tasks: tuple[Task, ...],
    conditions: DayConditions,
    index: JournalIndex,
    estimates: Estimates,
) -> tuple[Task, ...]:
    """Return the judged tasks of a batch together with laying its tarp, or lifting it."""
    if day.batch.rain_cover is RainCover.NONE:
        return tasks
    lying = lies(day.batch, day.state, index, day.on)
    wanted = _is_wanted(day, tasks, conditions, estimates)
    if lying and wanted:
        return tuple(map(_lifted_for, tasks))
    if wanted:
        key = dated_key(day.batch.name, Action.LAY_TARP, day.on)
        return (*tasks, simple_task(day, Action.LAY_TARP, key, cautions=(Caution.TARP,)))
    if lying:
        key = dated_key(day.batch.name, Action.LIFT_TARP, day.on)
        return (simple_task(day, Action.LIFT_TARP, key), *tasks)
    return tasks


def _is_wanted(
    day: Day, tasks: tuple[Task, ...], conditions: DayConditions, estimates: Estimates
) -> bool:
    if lifts_for_heat(conditions) or day.standing:
        return False
    if any(task.action in PUTS_IN and task.state is not State.HELD for task in tasks):
        return False
    if is_wanted(day.batch, day.state, day.on):
        return True
    if not day.state.sequence.given or counted_rain_mm(conditions) < RAIN_COVER_MM:
        return False
    unbound_g = estimates.unbound_g(day.batch, day.on)
    return unbound_g is not None and unbound_g >= UNBOUND_G_PER_KG * day.batch.bale.dry_mass_kg


def _lifted_for(task: Task) -> Task:
    """Return work that the tarp is lifted for, with the word to lay it again."""
    if task.action not in LIFTED_FOR or task.state is not State.DUE:
        return task
    if task.dose is None and not task.water_per_bale_l:
        return task
    return replace(task, also=(*task.also, Also.UNDER_TARP))
