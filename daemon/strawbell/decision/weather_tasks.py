"""Work that the weather asks for, beside the plan: water, shade, the last picking, covers, a tarp.

A grower without a tarp is told to cover in the alert of heavy rain, and nothing is reckoned for it.

Decided 2026-11-26: The water that washes a feed in counts as water of the day: it is no less than
the common gallon, and more would wash the dose out below. What grown plants take beyond it stays a
task.

Decided 2026-11-25: A young top is never left to rain. On recorded springs rain that failed or came
late left it dry for longer than a plain calendar does; the grower is asked to look before
watering.

Decided 2026-11-29: What comes out today is not covered tonight, and the night is not warned of for
it: to clear the tomatoes and to cover them is no advice. Who writes that they were left in is
warned of the night again. It was named all the same before.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import time

from msgspec.structs import replace

from strawbell.agronomy.bales import top_area_m2
from strawbell.agronomy.cold_and_heat import HeatEffect
from strawbell.agronomy.doses import scaled
from strawbell.agronomy.feeds import nitrogen_forms
from strawbell.agronomy.loss import gram_lost, tarp_pays
from strawbell.agronomy.schedules import GrowthStage, growth_stage
from strawbell.agronomy.surface import SurfaceOutlook
from strawbell.agronomy.watering import LEAST_L, Lack, Refill, refill, room_l, wash_in
from strawbell.decision.daily_weather import (
    DailyWeather,
    DayConditions,
    to_cover,
)
from strawbell.decision.estimates import Estimates
from strawbell.model.brief import (
    PUTS_IN,
    Action,
    Also,
    Caution,
    Reason,
    ReasonCode,
    State,
    Suffering,
    Task,
    TaskKey,
)
from strawbell.model.details import Band, DryTopDetail, SpreadDetail, TopWaterDetail
from strawbell.model.feeds import Dose
from strawbell.model.garden import Crop, Planting, RainCover
from strawbell.season.conditioning import front
from strawbell.season.harvesting import harvest_due, is_open, last_harvest, without_idle_work
from strawbell.season.local_time import DAY
from strawbell.season.stage import (
    FIRST_WEEKS_DAYS,
    Day,
    changed,
    dated_key,
    last_harvest_key,
    planting_label,
    simple_task,
)

WATERING = frozenset({Action.WATER, Action.SOAK})
THE_TOP = frozenset({Action.SURFACE_WATER})
TWICE = 2
"""Waterings of the top on a hot dry day in the first weeks (common practice)."""
WATERED = (Action.SURFACE_WATER, Action.WATER)
"""Tasks that advice on heat goes with, the first of them that a day has."""
BLOSSOMS = frozenset({GrowthStage.SETTING, GrowthStage.FINISHING})
"""Stages in which there is blossom to drop."""
LIFTED_FOR = frozenset({Action.FEED, Action.SOAK, Action.WATER})


def with_weather(
    day: Day, tasks: tuple[Task, ...], daily: DailyWeather, estimates: Estimates
) -> tuple[Task, ...]:
    """Return the plan's tasks of a batch together with what the weather asks for."""
    conditions, is_today = daily.on(day.on), day.on == daily.today
    rain_mm = 0.0 if day.state.tarped else conditions.counted_rain_mm
    if is_today or not day.standing:
        # What plants will have taken by a later day is not worth walking a week for.
        tasks = _by_lack(day, tasks, rain_mm, estimates)
    tasks = _rain_for_the_top(day, tasks, conditions)
    surface = estimates.of(day.batch).surface if is_today else None
    if conditions.hot.reached:
        tasks = _hot(day, tasks, conditions, estimates, dry_top(day, surface))
    elif surface is not None and has_young(day):
        # A young top is watered as often as it dries, on a day that is not hot too.
        times = surface.times_a_day
        tasks = changed(tasks, THE_TOP, lambda task: replace(task, times_a_day=times))
    if is_today:
        tasks = _through_the_top(day, tasks, rain_mm, estimates)
    tasks = with_heat(day, tasks, conditions)
    tasks = without_idle_work(day, before_freeze(day, tasks, daily))
    return (*_uncover(day, daily), *tasks, *_protect(day, tasks, daily))


def _by_lack(
    day: Day, tasks: tuple[Task, ...], rain_mm: float, estimates: Estimates
) -> tuple[Task, ...]:
    """Give bales what they lack, wash feed in, and leave to rain what rain will do.

    `rain_mm` is the rain that is counted on and that reaches them. Water of a date that is not
    needed is left out; a day of the sequence is told all the same, with the reason why nothing is
    given.
    """
    held_l = estimates.held_l(day.batch, day.on)
    if held_l is None:
        return tasks
    tasks = tuple(_spent(day, task, estimates) for task in tasks)
    told = (_lacking(day, task, held_l, rain_mm) for task in tasks)
    return tuple(task for task in told if task is not None)


def _lacking(day: Day, task: Task, held_l: float, rain_mm: float) -> Task | None:
    """Return a task with its water, None for one of a date that asks for none."""
    bale = day.batch.bale
    if task.action is Action.FEED and task.dose is not None:
        if task.dose.form.is_poured:
            coming_l = min(rain_mm * top_area_m2(bale), held_l + room_l(bale, held_l))
            return _poured(task, task.dose, room_l(bale, held_l + coming_l))
        return _given(task, wash_in(bale, held_l, rain_mm), _WHY_NOT_WASHED)
    if task.water_per_bale_l is not None or task.action not in WATERING:
        return task
    water = refill(bale, held_l, rain_mm, again=task.action is Action.SOAK)
    if task.day is None and water.litres <= 0.0:
        return None
    return _given(task, water, WHY_NO_WATER)


def _given(task: Task, water: Refill, why_none: Mapping[Lack, Also]) -> Task:
    """Return a task with the water that its bale gets, or why it gets none."""
    litres = round(water.litres, 1)
    also = (*task.also, why_none[water.why]) if litres <= 0.0 else task.also
    return replace(task, water_per_bale_l=litres, also=also)


def _spent(day: Day, task: Task, estimates: Estimates) -> Task:
    """Return the spreading of straw with the nitrogen that the bales still carry."""
    if not isinstance(task.detail, SpreadDetail):
        return task
    per_bale = estimates.spent_g(day.batch, day.on)
    if per_bale is None:
        return task
    low_g, high_g = (round(end * day.batch.bales) for end in (per_bale.low, per_bale.high))
    return replace(task, detail=replace(task.detail, nitrogen_g=Band(low_g, high_g)))


def _poured(task: Task, dose: Dose, room: float) -> Task | None:
    """Return a feed in its water as far as the bale has room for it [L], as strong as it was.

    One without a rate goes into less water; where rain fills the bale, or has, it gets none, since
    all would run through; a feeding of the season then waits for the next day.
    """
    if dose.water_per_bale_l <= room:
        return task
    share = room / dose.water_per_bale_l if room >= LEAST_L else 0.0
    less = scaled(dose, share if dose.rate or not share else 1.0, share)
    litres = round(less.water_per_bale_l, 1)
    if less.is_nothing and task.day is None:
        return None
    if less.is_nothing:
        why = (*task.also, Also.FULL)
        return replace(task, dose=less, water_per_bale_l=0.0, also=why, cautions=())
    return replace(task, dose=less, water_per_bale_l=litres, also=(*task.also, Also.LITTLE_ROOM))


WHY_NO_WATER: Mapping[Lack, Also] = {
    Lack.ENOUGH: Also.MOIST_ENOUGH,
    Lack.RAIN: Also.RAIN_WATERS,
    Lack.FULL: Also.FULL,
}
"""What is said where a bale is given no water."""
_WHY_NOT_WASHED: Mapping[Lack, Also] = {
    Lack.RAIN: Also.RAIN_WASHES_IN,
    Lack.FULL: Also.TOO_FULL_TO_WASH_IN,
}


def _rain_for_the_top(
    day: Day, tasks: tuple[Task, ...], conditions: DayConditions
) -> tuple[Task, ...]:
    """Ask to look before a young top is watered on a day of likely rain.

    It is never left to the rain: on recorded springs, rain that failed or came in the evening left
    it dry for more hours than a plain calendar does (see the judge).
    """
    if conditions.counted_rain_mm < day.garden.rules.dry_day_mm:
        return tasks
    return changed(tasks, THE_TOP, lambda task: replace(task, also=(*task.also, Also.LOOK_FIRST)))


def _through_the_top(
    day: Day, tasks: tuple[Task, ...], rain_mm: float, estimates: Estimates
) -> tuple[Task, ...]:
    """Give a bale under a young top what it lacks with the water of the top.

    A top alone is a litre or two; the straw below would dry for three weeks unseen, and its
    feeding with it.
    """
    held_l = estimates.held_l(day.batch, day.on)
    if held_l is None:
        return tasks
    lacking_l = refill(day.batch.bale, held_l, rain_mm).litres
    if lacking_l <= 0.0 or any(task.action in WATERING for task in tasks):
        return tasks

    def filled(task: Task) -> Task:
        each_l = round(lacking_l / task.times_a_day, 1)
        return replace(task, water_per_bale_l=max(task.water_per_bale_l or 0.0, each_l))

    return changed(tasks, THE_TOP, filled)


def _hot(
    day: Day,
    tasks: tuple[Task, ...],
    conditions: DayConditions,
    estimates: Estimates,
    top: DryTopDetail | None,
) -> tuple[Task, ...]:
    """Water bales in conditioning, plants and the top on a hot dry day.

    The simple rule, twice for young plants, stays where nothing is computed of the `top`.
    """
    reasons = conditions.hot.reasons
    if front(day.state.sequence, day.batch) is not None:
        return _hot_in_conditioning(day, tasks, conditions, estimates)
    if not staying(day, tasks):
        return tasks
    young = has_young(day)
    if not young and any(task.action is Action.WATER for task in tasks):
        return changed(
            tasks, {Action.WATER}, lambda task: replace(task, reasons=(*task.reasons, *reasons))
        )
    surface = [task for task in tasks if task.action is Action.SURFACE_WATER]
    if not surface:
        key = dated_key(day.batch.name, Action.SURFACE_WATER, day.on)
        surface = [simple_task(day, key, detail=TopWaterDetail())]
    told = replace(
        surface[0],
        times_a_day=TWICE if young else 1,
        reasons=(*reasons, *surface[0].reasons),
    )
    if top is not None:
        known = told.detail if isinstance(told.detail, TopWaterDetail) else TopWaterDetail()
        told = replace(
            told,
            water_per_bale_l=top.water_per_bale_l,
            times_a_day=top.times_a_day,
            detail=replace(known, dry_at=top.dry_at),
        )
    return (*(task for task in tasks if task.action is not Action.SURFACE_WATER), told)


def dry_top(day: Day, surface: SurfaceOutlook | None) -> DryTopDetail | None:
    """Return how much water a top needs, how often, and when on a date it would be dry.

    Never less often than the simple rule says for plants in their first weeks.
    """
    if surface is None:
        return None
    zone = day.garden.place.zone
    local = None if surface.dry_at is None else surface.dry_at.astimezone(zone)
    return DryTopDetail(
        water_per_bale_l=round(surface.litres_per_bale, 1),
        times_a_day=max(surface.times_a_day, TWICE if has_young(day) else 1),
        dry_at=time(local.hour, local.minute) if local and local.date() == day.on else None,
    )


def has_young(day: Day) -> bool:
    """Return whether something in the bales is in its first weeks."""
    return any((day.on - since).days <= FIRST_WEEKS_DAYS for _, since in day.standing)


def _hot_in_conditioning(
    day: Day, tasks: tuple[Task, ...], conditions: DayConditions, estimates: Estimates
) -> tuple[Task, ...]:
    """Give bales in conditioning what they lack on a hot day, beside a feeding too."""
    why = conditions.hot.reasons
    if any(task.action in WATERING for task in tasks):
        return changed(tasks, WATERING, lambda task: replace(task, reasons=(*task.reasons, *why)))
    held_l = estimates.held_l(day.batch, day.on)
    if held_l is None:
        return tasks
    key = dated_key(day.batch.name, Action.WATER, day.on)
    water = refill(day.batch.bale, held_l, conditions.counted_rain_mm)
    return (*tasks, _given(simple_task(day, key, reasons=why), water, WHY_NO_WATER))


def with_heat(day: Day, tasks: tuple[Task, ...], conditions: DayConditions) -> tuple[Task, ...]:
    """Add to the day's watering what heat does to the crops, and what helps."""
    hot_dry = conditions.hot.reached
    if not conditions.is_trusted or not day.standing:
        return tasks
    high_c = conditions.weather.high_c
    suffering = [] if high_c is None else _suffering(day, high_c)
    if not suffering and not hot_dry:
        return tasks
    action = next((each for each in WATERED if any(t.action is each for t in tasks)), None)
    also = (*((Also.SHADE,) if suffering else ()), *((Also.WET_EDGES,) if hot_dry else ()))
    harmed = tuple(dict.fromkeys(Suffering(crop.name, crop.heat_effect) for crop, _ in suffering))
    reasons: tuple[Reason, ...] = ()
    if suffering and high_c is not None:
        limit_c = round(min(limit_c for _, limit_c in suffering), 1)
        reasons = (Reason(ReasonCode.HEAT, round(high_c, 1), limit_c, "degC"),)

    def told(task: Task) -> Task:
        said, why = (*task.also, *also), (*task.reasons, *reasons)
        return replace(task, suffering=harmed, also=said, reasons=why)

    return tasks if action is None else changed(tasks, {action}, told)


def _suffering(day: Day, high_c: float) -> list[tuple[Crop, float]]:
    """Return what a day so hot does something to, with the limit of heat of each [degC]."""
    found = []
    for each, since in day.standing:
        effect, limit_c = each.crop.heat_effect, each.crop.heat_limit_c
        if not effect or limit_c is None or high_c < limit_c:
            continue
        blossoms = growth_stage(each.crop, since, day.on, each.method) in BLOSSOMS
        if effect != HeatEffect.BLOSSOM_DROP or blossoms:
            found.append((each.crop, limit_c))
    return found


def before_freeze(day: Day, tasks: tuple[Task, ...], daily: DailyWeather) -> tuple[Task, ...]:
    """Pick what a killing freeze of the coming night would take.

    Where even the mildest the plants may get kills them it is the last harvest; where it only may,
    the crop is covered too and stands on. The night is judged as the one that it is covered for,
    with how much colder the garden is than forecast.
    """
    for each, since in day.standing:
        if each.crop.kill_at_c is None or not is_open(day, each, since):
            continue
        night = daily.night(day.on)
        band = night.leaf_band()
        if band is None:
            continue
        coldest_c, mildest_c = band
        if coldest_c > each.crop.kill_at_c:
            continue
        limit_c = round(each.crop.cover_at_c, 1)
        why = Reason(ReasonCode.FROST, round(coldest_c, 1), limit_c, "degC", night.coldest_at)
        surely = mildest_c <= each.crop.kill_at_c
        told = last_harvest(day, each) if surely else _picking(day, each)
        planned = harvest_due(day, each, since)
        others = (task for task in tasks if planned is None or task.key != planned.key)
        tasks = (*others, replace(told, reasons=(why,)))
    return tasks


def _picking(day: Day, planting: Planting) -> Task:
    key = dated_key(day.batch.name, Action.HARVEST, day.on, planting_label(day.batch, planting))
    return simple_task(day, key, planting=planting)


def _protect(day: Day, tasks: tuple[Task, ...], daily: DailyWeather) -> tuple[Task, ...]:
    """Cover tonight what the night would hurt, but for what comes out today."""
    crops = tuple(each.crop for each in staying(day, tasks))
    if not crops:
        return ()
    frost, names = to_cover(daily.night(day.on), crops)
    if frost is None:
        return ()
    key = dated_key(day.batch.name, Action.PROTECT, day.on)
    cautions, why = (Caution.FROST_COVER,), (frost.reason(),)
    task = simple_task(day, key, cautions=cautions, reasons=why)
    return (replace(task, crops=names),)


def staying(day: Day, tasks: tuple[Task, ...]) -> tuple[Planting, ...]:
    """Return what stands in the bales and does not come out today.

    What comes out is what the day was told, or is about to be. A last harvest that the weather asks
    for since then was told to nobody, and one that is not done leaves its crop in.
    """
    log = day.log
    about_to_be = {task.key: task.state for task in tasks}
    told = about_to_be if log.briefed_at is None else log.told or {}

    def comes_out(key: TaskKey) -> bool:
        return log.is_done(key) or (told.get(key) is State.DUE and not log.is_missed(key))

    return tuple(
        each for each, _ in day.standing if not comes_out(last_harvest_key(day.batch, each))
    )


def _uncover(day: Day, daily: DailyWeather) -> tuple[Task, ...]:
    """Take covers off in the morning after a night they were told for."""
    protect = dated_key(day.batch.name, Action.PROTECT, day.on - DAY)
    if day.log.told_before.get(protect) is not State.DUE:
        return ()
    covered = day.log.crops_of(protect)
    if not covered:
        # A day ahead: its evening is only supposed to be told, from the same forecast.
        night = daily.night(day.on - DAY)
        _, covered = to_cover(night, tuple(each.crop for each, _ in day.standing))
    task = simple_task(day, dated_key(day.batch.name, Action.UNCOVER, day.on))
    return (replace(task, crops=covered),)


def with_sown_bed(day: Day, tasks: tuple[Task, ...], estimates: Estimates) -> tuple[Task, ...]:
    """Tell a sowing whose bed would dry before the evening to be watered again in the afternoon.

    A seed bed is a few millimetres deep, and wet only when it is sown.
    """
    if not any(task.action is Action.SOW and task.state is State.DUE for task in tasks):
        return tasks
    bed = estimates.sown(day.batch)
    if bed is None or bed.times_a_day < TWICE:
        return tasks

    def again(task: Task) -> Task:
        due = task.state is State.DUE
        return replace(task, also=(*task.also, Also.WATER_AGAIN)) if due else task

    return changed(tasks, {Action.SOW}, again)


def with_tarp(
    day: Day, tasks: tuple[Task, ...], conditions: DayConditions, estimates: Estimates
) -> tuple[Task, ...]:
    """Return the judged tasks of a batch together with laying its tarp, or lifting it."""
    if day.batch.rain_cover is RainCover.NONE:
        return tasks
    lying, wanted = day.state.tarped, _is_wanted(day, tasks, conditions, estimates)
    if lying and wanted:
        return tuple(map(_lifted_for, tasks))
    if wanted:
        key = dated_key(day.batch.name, Action.LAY_TARP, day.on)
        return (*tasks, simple_task(day, key, cautions=(Caution.TARP,)))
    if lying:
        key = dated_key(day.batch.name, Action.LIFT_TARP, day.on)
        return (simple_task(day, key), *tasks)
    return tasks


def _is_wanted(
    day: Day, tasks: tuple[Task, ...], conditions: DayConditions, estimates: Estimates
) -> bool:
    """Return whether a tarp pays: never on a hot dry day, over plants or over what goes in."""
    if conditions.hot.reached or day.standing:
        return False
    if any(task.action in PUTS_IN and task.state is not State.HELD for task in tasks):
        return False
    outlook, lying = estimates.tarp_outlook(day.batch, day.on), day.state.tarped
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
