"""Laying a tarp over bales where rain would take more than the work is worth, and lifting it.

A grower without one is told to cover in the alert of heavy rain, and nothing is reckoned for it.
"""

from __future__ import annotations

from msgspec.structs import replace

from strawbell.agronomy.feeding.feeds import nitrogen_forms
from strawbell.agronomy.loss import gram_lost, tarp_pays
from strawbell.decision.daily_weather import DayConditions, lifts_for_heat
from strawbell.decision.estimates import Estimates
from strawbell.model.brief import Action, Also, Caution, State, Task
from strawbell.model.garden import RainCover
from strawbell.season.stage import Day, dated_key, simple_task

PUTS_IN = frozenset({Action.COVER_WITH_MIX, Action.PLANT, Action.SOW})
LIFTED_FOR = frozenset({Action.FEED, Action.SOAK, Action.WATER})


def with_tarp(
    day: Day,
    tasks: tuple[Task, ...],
    conditions: DayConditions,
    estimates: Estimates,
) -> tuple[Task, ...]:
    """Return the judged tasks of a batch together with laying its tarp, or lifting it."""
    if day.batch.rain_cover is RainCover.NONE:
        return tasks
    lying = day.state.tarped
    wanted = _is_wanted(day, tasks, conditions, estimates, lying=lying)
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
    day: Day,
    tasks: tuple[Task, ...],
    conditions: DayConditions,
    estimates: Estimates,
    *,
    lying: bool,
) -> bool:
    if lifts_for_heat(conditions) or day.standing:
        return False
    if any(task.action in PUTS_IN and task.state is not State.HELD for task in tasks):
        return False
    outlook = estimates.tarp_outlook(day.batch, day.on)
    fed_today = any(task.action is Action.FEED and task.state is State.DUE for task in tasks)
    feedings = [each + int(lying and fed_today) for each in outlook.feedings]
    feed = day.batch.feed
    gram = gram_lost(0.0 if feed is None else nitrogen_forms(feed).organic)
    return tarp_pays(outlook.kept_g, feedings, gram, lying=lying)


def _lifted_for(task: Task) -> Task:
    """Return work that the tarp is lifted for, with the word to lay it again."""
    if task.action not in LIFTED_FOR or task.state is not State.DUE:
        return task
    if task.dose is None and not task.water_per_bale_l:
        return task
    return replace(task, also=(*task.also, Also.UNDER_TARP))
