"""What heat and a killing freeze change in the day of standing crops: shade, the last picking.

Decided 2026-11-25: What comes out today is not covered tonight; the alert of the night still names
it, since the grower may leave it in.
"""

from __future__ import annotations

from msgspec.structs import replace

from strawbell.agronomy.crops.leaf_frost import Danger
from strawbell.agronomy.crops.plant_heat import HeatEffect, HeatFinding, HeatSign, heat_findings
from strawbell.agronomy.feeding.season_feeding import GrowthStage, growth_stage
from strawbell.decision.daily_weather import DailyWeather, DayConditions
from strawbell.decision.frost_watch import risk_of
from strawbell.model.brief import Action, Also, Reason, ReasonCode, Suffering, Task
from strawbell.model.garden import Planting
from strawbell.season.harvesting import harvest_due, is_open, last_harvest
from strawbell.season.local_time import zone_of
from strawbell.season.stage import Day, changed, dated_key, planting_label, simple_task

WATERED = (Action.SURFACE_WATER, Action.WATER)
"""Tasks that advice on heat goes with, the first of them that a day has."""
BLOSSOMS = frozenset({GrowthStage.SETTING, GrowthStage.FINISHING})
"""Stages in which there is blossom to drop."""


def with_heat(day: Day, tasks: tuple[Task, ...], conditions: DayConditions) -> tuple[Task, ...]:
    """Add to the day's watering what heat does to the crops, and what helps."""
    hot_dry = conditions.hot is not None and conditions.hot.reached
    if conditions.hot is None or not any(True for _ in day.standing):
        return tasks
    suffering = _suffering(day, conditions)
    if not suffering and not hot_dry:
        return tasks
    action = next((each for each in WATERED if any(t.action is each for t in tasks)), None)
    also = (*((Also.SHADE,) if suffering else ()), *((Also.WET_EDGES,) if hot_dry else ()))
    harmed = tuple(dict.fromkeys(Suffering(name, found.effect) for name, found in suffering))
    reasons: tuple[Reason, ...] = ()
    if suffering:
        gravest = min((found for _, found in suffering), key=lambda found: found.limit_c)
        limit_c, value_c = round(gravest.limit_c, 1), round(gravest.value_c, 1)
        reasons = (Reason(ReasonCode.HEAT, value_c, limit_c, "degC"),)

    def told(task: Task) -> Task:
        return replace(task, suffering=harmed, also=also, reasons=(*task.reasons, *reasons))

    return tasks if action is None else changed(tasks, {action}, told)


def before_freeze(day: Day, tasks: tuple[Task, ...], daily: DailyWeather) -> tuple[Task, ...]:
    """Pick what a killing freeze of the coming night would take.

    Where even the mildest the plants may get kills them it is the last harvest; where it only may,
    the crop is covered too and stands on.
    """
    for each, since in day.standing:
        if each.crop.kill_at_c is None or not is_open(day, each, since):
            continue
        night = daily.night(day.on)
        risk = risk_of(night, each.crop)
        if risk is None or risk.danger is not Danger.KILLING:
            continue
        coldest_c, limit_c = round(risk.plant_low.coldest_c, 1), round(risk.cover_at_c, 1)
        zone = zone_of(day.garden.place.time_zone)
        at = night.coldest_at.astimezone(zone) if night.coldest_at else None
        why = Reason(ReasonCode.FROST, coldest_c, limit_c, "degC", at)
        surely = risk.plant_low.mildest_c <= each.crop.kill_at_c
        told = last_harvest(day, each) if surely else _picking(day, each)
        planned = harvest_due(day, each, since)
        others = (task for task in tasks if planned is None or task.key != planned.key)
        tasks = (*others, replace(told, reasons=(why,)))
    return tasks


def _suffering(day: Day, conditions: DayConditions) -> list[tuple[str, HeatFinding]]:
    low_c, high_c = conditions.weather.low_c, conditions.weather.high_c
    found = []
    for each, since in day.standing:
        blossoms = growth_stage(each.crop, since, day.on, each.method) in BLOSSOMS
        for sign in heat_findings(each.crop, high_c, low_c) or ():
            if sign.sign is not HeatSign.HOT_DAY or not sign.effect:
                continue
            if sign.effect != HeatEffect.BLOSSOM_DROP or blossoms:
                found.append((each.crop.name, sign))
    return found


def _picking(day: Day, planting: Planting) -> Task:
    key = dated_key(day.batch.name, Action.HARVEST, day.on, planting_label(day.batch, planting))
    return simple_task(day, Action.HARVEST, key, planting=planting)
