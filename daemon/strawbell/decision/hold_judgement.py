"""From what the plan has due to what is told: held, and until when, or due, and why.

Each rule has one signature and looks at one reason to wait; which rules apply to which work is the
table `RULES`. A rule returns the reasons that hold the task, nothing when it may go ahead;
what a rule could not know is collected beside it, and told.

Whether it is warm enough for what goes in is judged by the mean of the coming days, since one cold
night or day does little harm; what is unknown is left out, and too little that is known holds
nothing.

Decided 2026-11-25: During a day only a changed forecast makes a hold. For work told as due the
look-ahead ends where it ended in the morning; otherwise every rain of tomorrow would turn this
morning's feeding into a hold by the afternoon. Taking a hold back looks a whole day ahead again
and needs a margin.

Decided 2026-11-25: Planting is held by the model of a bale's core only when the whole band lies
over the limit, by the count of conditioning days only when even the careful count is under three
quarters.

Decided 2026-11-26: Of several reasons to wait the gravest speaks, for bales, young plants and seed
each (`INSTEAD`): a bale cannot be kept dry before a freeze and moist while it cools, nor young
plants be taken under a roof and put out by day.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace

from strawbell.agronomy.cold_and_heat import nights_from_c, too_cold_for_seed
from strawbell.agronomy.growing import growing_days
from strawbell.agronomy.loss import (
    CHANGE_OF_MIND,
    COVER_FROM,
    MINERAL_G,
    is_fed_for_nothing,
    planting_losses,
)
from strawbell.agronomy.readiness import Reading
from strawbell.agronomy.watering import LEAST_L
from strawbell.decision.daily_weather import (
    UNKNOWN,
    DailyWeather,
    DayConditions,
    LeafFrost,
    Night,
    leaf_frost,
)
from strawbell.decision.estimates import Estimates
from strawbell.decision.weather_tasks import WHY_NO_WATER
from strawbell.model.brief import (
    Action,
    Also,
    Caution,
    Instead,
    Reason,
    ReasonCode,
    State,
    Task,
    Turn,
    TurnsBy,
)
from strawbell.model.garden import Appetite, Crop, Method
from strawbell.season.conditioning import wait_costs_days
from strawbell.season.harvesting import BED_WARMER_C, dies_at, mean_air_c
from strawbell.season.local_time import DAY
from strawbell.season.stage import READING_COUNTS_DAYS, Day, lies, planting_meant
from strawbell.weather.judgement import CLEAR, Finding, Standing, holds_at
from strawbell.weather.thresholds import FREEZE_HOLD_CHANCE_PERCENT

RAIN_HOLDS_DAYS = 2
"""Days one feeding waits for rain at most. By trial on recorded springs a held day saves 1 to 3.5 g
of nitrogen a bale and costs half a day; two wet days in a row are followed by a third."""
FREEZE_HOLDS_DAYS = 1
"""Days one feeding waits for a freeze if the bale does not stand still. By the same trial holding
on every freezing night takes a cold spring from 25 days to 34 and saves no more than 12 g."""
WORKS_WARM_C = 20.0
"""Core from which a bale surely works: nothing but decay keeps one so warm through frosty nights
(design choice). Asked of the lower end of what is known, so that without a probe it is rare."""
STILL_CORE_C = 12.0
"""Core under which next to nothing decays; from 10 to 15 degC the trial came out the same."""
STILL_HIGH_C = 5.0
"""High of a day under which a cold bale stays cold, and no water is given (the trial)."""
LEAST_CONDITIONED_SHARE = 0.75
"""Share of a mild spring's conditioning under which planting waits: two rainy weeks at 3 C have
not rotted anything (common practice: "clearly longer in cold")."""
NIGHTS_TO_LOOK = 7
"""Coming nights that a planting is weighed against: beyond them the error of a low is so wide
(2.8 degC and more) that every night of spring looks a little dangerous."""
CHANCE_WITHIN, READING_WITHIN_C = 1e-4, 0.1
"""How finely it is looked for what would turn a decision [1, degC]."""
DAYS_TO_LOOK = 10
"""How many days are searched for the next fit one: as far as forecasts reach."""
DAYS_TO_COME = 7
"""Coming nights and days whose mean is judged (design choice: a young plant is over the shock of
being moved after about a week)."""
FEWEST_KNOWN = 3
"""Fewer known ones than this say nothing (design choice)."""
KEEP_HOLD_C = 0.5
"""How much warmer it must be before a hold that was told is taken back the same day [degC]."""


class Case(Struct, frozen=True):
    """One task before the judge: its batch on the date, and the conditions it would be done in."""

    day: Day
    task: Task
    daily: DailyWeather
    conditions: DayConditions
    estimates: Estimates


Rule = Callable[[Case], Finding]
"""One reason to wait."""


def rain(case: Case) -> Finding:
    """Hold what heavy rain would wash out, for two days at most, and nothing under a tarp."""
    found = case.conditions.rain
    if found.reached and lies(case.day, case.conditions.on):
        return _said(found, ReasonCode.UNDER_TARP)
    if found.reached and case.task.held_days >= RAIN_HOLDS_DAYS:
        return _said(found, ReasonCode.RAIN_POSSIBLE)
    return found


def freezing(case: Case) -> Finding:
    """Hold a feeding for a day before a freeze, and longer only while the bale stands still.

    A bale that surely works warm takes the feed up at once and is fed in the warm hours; one that
    stands cold while the days are too cold for anything to live loses nothing by waiting. What
    lies between waits its day and is fed then: dry frost takes no feed, and weeks of it would put
    all feedings into the rain after it.
    """
    found = case.conditions.freezing
    if not found.reached:
        return found
    core = case.estimates.of(case.day.batch).core_on(case.conditions.on)
    if core is not None and core.low_c >= WORKS_WARM_C:
        return _said(found, ReasonCode.WARM_HOURS)
    if case.task.held_days < FREEZE_HOLDS_DAYS:
        return found
    high_c = case.daily.on(case.conditions.on + DAY).weather.high_c
    still = core is not None and core.expected_c < STILL_CORE_C
    if still and high_c is not None and high_c < STILL_HIGH_C:
        return found
    return _said(found, ReasonCode.WARM_HOURS)


def frozen_day(case: Case) -> Finding:
    """Hold water only on a day that stays too cold for it: else it is given at noon."""
    if case.task.water_per_bale_l == 0.0:
        return CLEAR
    found = case.conditions.freezing
    high_c = case.conditions.weather.high_c
    if not found.reached or (high_c is not None and high_c < STILL_HIGH_C):
        return found
    return _said(found, ReasonCode.WARM_HOURS)


def _said(found: Finding, code: ReasonCode) -> Finding:
    """Return a finding that holds nothing any more, with its numbers as a word beside the task."""
    return Finding(Standing.CLEAR, tuple(replace(why, code=code) for why in found.reasons))


def frost(case: Case) -> Finding:
    """Hold the planting of a tender crop while a later day costs less; tell of nights to cover.

    Planting today, tomorrow and so on are options; each costs what would have grown in the days
    that it is late, and what the nights after it are expected to take, covered where that pays. A
    hold that was told today is given up only where that saves more than a change of mind costs.
    """
    if case.daily.trusted is None:
        return UNKNOWN
    planting = planting_meant(case.day.batch, case.task.key)
    if planting is None or not planting.crop.tender:
        return CLEAR
    nights = _known_nights(case, planting.crop)
    if not nights:
        return CLEAR
    worth = [_grows(case.daily.on(night.on), planting.crop) for night, _ in nights]
    chances = [each.chance for _, each in nights]
    now, later = _losses(chances, worth)
    gravest = max((each for _, each in nights), key=lambda each: each.chance)
    why = gravest.reason()
    if now > later - (CHANGE_OF_MIND if _told_for_frost(case) else 0.0):
        at = chances.index(max(chances))
        turn = _turn_under(
            lambda chance: _is_later([*chances[:at], chance, *chances[at + 1 :]], worth)
        )
        why = replace(why, loss_if_done=now, loss_if_waited=later, turn=turn)
        return Finding(Standing.REACHED, (why,))
    if gravest.chance < COVER_FROM:
        return CLEAR
    return Finding(Standing.CLEAR, (replace(why, code=ReasonCode.FROST_LATER),))


def _losses(chances: Sequence[float], worth: Sequence[float]) -> tuple[float, float]:
    """Return what planting now is expected to lose, and the least that a later day would."""
    now, *later = planting_losses(chances, worth)
    return now, min(later)


def _is_later(chances: Sequence[float], worth: Sequence[float]) -> bool:
    """Return whether a planting that was told as held still waits."""
    now, later = _losses(chances, worth)
    return now > later - CHANGE_OF_MIND


def _turn_under(holds: Callable[[float], bool]) -> Turn | None:
    """Return the chance under which nothing is held any more, None where none is small enough."""
    if holds(0.0):
        return None
    return Turn(TurnsBy.CHANCE_UNDER, round(turning_point(holds, 0.0, 1.0, CHANCE_WITHIN), 3))


def turning_point(holds: Callable[[float], bool], free: float, held: float, within: float) -> float:
    """Return where a rule turns between a value that frees and one that holds, by halving."""
    while abs(held - free) > within:
        middle = (free + held) / 2.0
        if holds(middle):
            held = middle
        else:
            free = middle
    return free


def _with_turn(case: Case, why: Reason) -> Reason:
    """Return the only reason that holds a task with what would bring it back today."""
    rules, batch = case.day.garden.rules, case.day.batch
    if why.code is ReasonCode.HEAVY_RAIN:
        limit = rules.rain_hold_chance_percent
        return replace(why, turn=_turn_under(lambda each: holds_at(each, limit, told=True)))
    if why.code is ReasonCode.FREEZE:

        def is_cold(reading_c: float) -> bool:
            core_c = case.estimates.core_if_read_c(batch, reading_c)
            return core_c is None or core_c < WORKS_WARM_C

        if not is_cold(rules.self_heating_c):
            over_c = turning_point(is_cold, rules.self_heating_c, WORKS_WARM_C, READING_WITHIN_C)
            return replace(why, turn=Turn(TurnsBy.READING_OVER, round(over_c, 1)))
        limit = FREEZE_HOLD_CHANCE_PERCENT
        return replace(why, turn=_turn_under(lambda each: holds_at(each, limit, told=True)))
    if why.code is ReasonCode.NOT_READY:
        return replace(why, turn=Turn(TurnsBy.READING_UNDER, rules.plant_below_c))
    if why.code is ReasonCode.CHILLY_NIGHTS and why.threshold is not None:
        return replace(why, turn=Turn(TurnsBy.NIGHTS_OVER, why.threshold + KEEP_HOLD_C))
    return why


def _known_nights(case: Case, crop: Crop) -> list[tuple[Night, LeafFrost]]:
    """Return the coming nights one after the other, up to the first that is unknown."""
    found = []
    for night in case.daily.nights(case.conditions.on, NIGHTS_TO_LOOK):
        known = leaf_frost(night, crop, crop.kill_at_c)
        if known is None:
            break
        found.append((night, known))
    return found


def _grows(conditions: DayConditions, crop: Crop) -> float:
    """Return what a day is expected to grow, in days of the season; unknown is a whole one."""
    low_c, high_c = conditions.weather.low_c, conditions.weather.high_c
    if not conditions.weather.complete or low_c is None or high_c is None:
        return 1.0
    return growing_days(crop, high_c, low_c)


def chill(case: Case) -> Finding:
    """Hold what goes in while nights would set it back, or while its seed would rot.

    It does no harm at once, as a frost does: what was told as due is not called back that day.
    """
    planting = planting_meant(case.day.batch, case.task.key)
    if planting is None:
        return CLEAR
    told = _told(case)
    if told is State.DUE:
        return CLEAR
    rule = cold_bed if planting.method is Method.SEED else chilly_nights
    return rule(case.daily, planting.crop, case.conditions.on, told_hold=told is State.HELD)


def chilly_nights(daily: DailyWeather, crop: Crop, on: date, *, told_hold: bool = False) -> Finding:
    """Judge whether the nights from a date on are still too cold to set a crop out."""
    limit_c = nights_from_c(crop)
    if limit_c is None or daily.trusted is None:
        return CLEAR
    lows = (daily.night(on + timedelta(days=ahead)).air.low_c for ahead in range(DAYS_TO_COME))
    usual_c = _mean([low_c for low_c in lows if low_c is not None])
    if usual_c is None or usual_c >= limit_c + (KEEP_HOLD_C if told_hold else 0.0):
        return CLEAR
    why = Reason(ReasonCode.CHILLY_NIGHTS, round(usual_c, 1), round(limit_c, 1), "degC")
    return Finding(Standing.REACHED, (why,))


def cold_bed(daily: DailyWeather, crop: Crop, on: date, *, told_hold: bool = False) -> Finding:
    """Judge whether the bed is surely too cold for seed on the days after a date.

    A conditioned bale is warmer than the air; the most it may be is reckoned with.
    """
    if crop.germination_min_c is None or daily.trusted is None:
        return CLEAR
    days = (daily.on(on + timedelta(days=ahead)).weather for ahead in range(1, DAYS_TO_COME + 1))
    air_c = _mean([mean_c for day in days if (mean_c := mean_air_c(day)) is not None])
    if air_c is None:
        return CLEAR
    bed_c = air_c + BED_WARMER_C[1]
    if not too_cold_for_seed(crop, bed_c - (KEEP_HOLD_C if told_hold else 0.0)):
        return CLEAR
    limit_c = round(crop.germination_min_c, 1)
    return Finding(
        Standing.REACHED, (Reason(ReasonCode.COLD_BED, round(bed_c, 1), limit_c, "degC"),)
    )


def _mean(known: Sequence[float]) -> float | None:
    return sum(known) / len(known) if len(known) >= FEWEST_KNOWN else None


def killing_ahead(case: Case) -> Finding:
    """Hold a feeding of the season while a coming night may well kill all that it is for.

    A feed that was told as due is only wasted by it: it is not called back that day.
    """
    dose = case.task.dose
    if case.task.day is not None or case.daily.trusted is None or _told(case) is State.DUE:
        return CLEAR
    fed = [each.crop for each, _ in case.day.standing if each.crop.appetite is not Appetite.LIGHT]
    limits_c = [each.kill_at_c for each in fed if each.kill_at_c is not None]
    if not fed or len(limits_c) < len(fed) or not all(map(dies_at, fed, limits_c)):
        return CLEAR
    limit_c, grams = min(limits_c), dose.nitrogen_per_bale_g if dose else 0.0
    nights = case.daily.nights(case.conditions.on, NIGHTS_TO_LOOK)
    for days, night in enumerate(nights, start=1):
        chance, low_c = night.leaf_chance(limit_c), night.air.low_c
        if chance is None or low_c is None:
            return CLEAR
        if is_fed_for_nothing(chance, days, MINERAL_G * grams):
            values = round(low_c, 1), round(limit_c, 1), "degC", night.coldest_at, chance
            return Finding(Standing.REACHED, (Reason(ReasonCode.KILLING_AHEAD, *values),))
    return CLEAR


def hot_inside(case: Case) -> Finding:
    """Hold planting while the core is over what roots stand, by a reading or surely by the model.

    A model without a reading has a wide band; only when all of it lies over the limit is
    planting held for it.
    """
    limit_c = case.day.garden.rules.plant_below_c
    reading = last_reading(case.day, case.conditions.moment)
    if reading is not None:
        if reading.temperature_c <= limit_c:
            return CLEAR
        return Finding(
            Standing.REACHED, (_read(case.day, ReasonCode.TOO_HOT_INSIDE, reading, limit_c),)
        )
    core = case.estimates.of(case.day.batch).core_on(case.conditions.on)
    if core is not None and core.low_c > limit_c:
        why = Reason(ReasonCode.NOT_READY, round(core.expected_c, 1), limit_c, "degC")
        return Finding(Standing.REACHED, (why,))
    if core is not None and core.expected_c > limit_c:
        why = Reason(ReasonCode.FEEL_FIRST, round(core.expected_c, 1), limit_c, "degC")
        return Finding(Standing.UNKNOWN, (why,))
    return CLEAR


def self_heating(case: Case) -> Finding:
    """Hold a feeding while the last reading lies in the range of self-heating: feed feeds heat."""
    why = smoulders(case.day, case.conditions.moment)
    return CLEAR if why is None else Finding(Standing.REACHED, (why,))


def smoulders(day: Day, moment: datetime) -> Reason | None:
    """Return that the last reading lies in the range of self-heating, None where it does not."""
    limit_c, reading = day.garden.rules.self_heating_c, last_reading(day, moment)
    if reading is None or reading.temperature_c < limit_c:
        return None
    return _read(day, ReasonCode.SELF_HEATING, reading, limit_c)


def last_reading(day: Day, moment: datetime) -> Reading | None:
    """Return the last reading of a core that speaks for it at a moment, None without one."""
    readings = day.log.readings
    if not readings or moment - readings[-1].at > timedelta(days=READING_COUNTS_DAYS):
        return None
    return readings[-1]


def _read(day: Day, code: ReasonCode, reading: Reading, limit_c: float) -> Reason:
    at = reading.at.astimezone(day.garden.place.zone)
    return Reason(code, reading.temperature_c, limit_c, "degC", at)


def short_of_conditioning(case: Case) -> Finding:
    """Hold planting while, in a cold spring, the bale has surely not had its days yet."""
    progress = case.estimates.of(case.day.batch).progress
    if progress is None or progress.done.high >= progress.needed * LEAST_CONDITIONED_SHARE:
        return CLEAR
    days_on = (case.conditions.on - case.daily.today).days
    if progress.to_go.low <= days_on:
        return CLEAR
    why = Reason(
        ReasonCode.SHORT_OF_DAYS, round(progress.done.high, 1), round(progress.needed, 1), "day"
    )
    return Finding(Standing.REACHED, (why,))


def _told(case: Case) -> State | None:
    """Return as what the task was told already on its date."""
    return case.day.log.state_of(case.task.key) if case.conditions.on == case.day.on else None


def _told_for_frost(case: Case) -> bool:
    """Return whether the task was told on its date as held for a frost."""
    reasons = case.day.log.reasons_of(case.task.key)
    return _told(case) is State.HELD and ReasonCode.FROST in reasons


RULES: Mapping[Action, tuple[Rule, ...]] = {
    Action.FEED: (rain, freezing, killing_ahead, self_heating),
    Action.SOAK: (frozen_day,),
    Action.WATER: (frozen_day,),
    Action.SURFACE_WATER: (frozen_day,),
    Action.COVER_WITH_MIX: (frozen_day, hot_inside, short_of_conditioning),
    Action.PLANT: (frozen_day, frost, chill, hot_inside, short_of_conditioning),
    Action.SOW: (frozen_day, frost, chill, hot_inside, short_of_conditioning),
}
"""Which reasons to wait apply to which work."""


class Thing(StrEnum):
    """What is cared for while work waits."""

    BALES = "bales"
    DRY_BALES = "dry-bales"
    """Never soaked: they are not moist, and the first soaking goes on in rain."""
    YOUNG_PLANTS = "young-plants"
    SEED = "seed"


INSTEAD: Mapping[Thing, Mapping[ReasonCode, tuple[Instead, ...]]] = {
    Thing.BALES: {
        ReasonCode.SELF_HEATING: (Instead.LET_COOL,),
        ReasonCode.FREEZE: (Instead.NO_WATER_BEFORE_FREEZE, Instead.DRAIN_HOSE),
        ReasonCode.HEAVY_RAIN: (Instead.LEAVE_TO_RAIN,),
        ReasonCode.TOO_HOT_INSIDE: (Instead.LET_COOL,),
        ReasonCode.NOT_READY: (Instead.LET_COOL,),
        ReasonCode.SHORT_OF_DAYS: (Instead.GIVE_TIME,),
    },
    Thing.DRY_BALES: {
        ReasonCode.FREEZE: (Instead.SOAK_AFTER_FREEZE, Instead.DRAIN_HOSE),
    },
    Thing.YOUNG_PLANTS: {
        ReasonCode.FROST: (Instead.SHELTER_SEEDLINGS,),
        ReasonCode.CHILLY_NIGHTS: (Instead.HARDEN_OFF,),
    },
    Thing.SEED: {
        ReasonCode.COLD_BED: (Instead.KEEP_SEED_DRY,),
        ReasonCode.FROST: (Instead.KEEP_SEED_DRY,),
    },
}
"""What is told of each thing, by the reason its work is held for, the gravest reason first.

A reason that is not here asks for nothing."""
PUT_IN: Mapping[Action, Thing] = {Action.PLANT: Thing.YOUNG_PLANTS, Action.SOW: Thing.SEED}
"""What work puts into the bales, and so has to be kept until it goes on."""


def judge(case: Case) -> Task:
    """Return the task as it is told: due, or held with its reasons and the next fit day."""
    task = case.task
    if task.state is State.HELD:
        return task
    findings = [rule(case) for rule in RULES.get(task.action, ())]
    holding = _reasons(findings, Standing.REACHED)
    if not holding and task.dose is not None and task.dose.is_nothing:
        return task
    if not holding:
        beside = (*_reasons(findings, Standing.CLEAR), *_unknowns(case, findings))
        return replace(task, reasons=(*task.reasons, *beside)) if beside else task
    costs = _wait_costs_days(case)
    holding = tuple(replace(why, wait_costs_days=costs) for why in holding)
    if len(holding) == 1 and case.conditions.on == case.daily.today:
        holding = (_with_turn(case, *holding),)
    else:
        holding = tuple(replace(why, turn=None) for why in holding)
    instead = instead_of(task.action, holding, soaked=case.day.state.sequence.soaked)
    limit = case.day.garden.rules.ask_after_held_days
    if task.held_days >= limit:
        goes_in = task.action in PUT_IN
        # Plants wait for weeks where spring is late: what they wait for is told, and no count.
        days = None if goes_in else float(task.held_days)
        holding = (*holding, Reason(ReasonCode.HELD_LONG, days, float(limit), "day"))
        instead = (*instead, Instead.DECIDE_PLANTING if goes_in else Instead.DECIDE_YOURSELF)
    return replace(
        task,
        state=State.HELD,
        held_until=_next_fit_day(case),
        reasons=(*task.reasons, *holding),
        instead=instead,
        also=(),
        cautions=tuple(each for each in task.cautions if each is Caution.AMMONIUM_NITRATE),
    )


def instead_of(action: Action, holding: Iterable[Reason], *, soaked: bool) -> tuple[Instead, ...]:
    """Return what to do instead of held work: for each thing what its gravest reason asks."""
    held_for = {why.code for why in holding}
    things = [Thing.BALES if soaked else Thing.DRY_BALES]
    if action in PUT_IN:
        things.append(PUT_IN[action])
    return tuple(line for thing in things for line in _of_the_gravest(INSTEAD[thing], held_for))


def _of_the_gravest(
    lines: Mapping[ReasonCode, tuple[Instead, ...]], held_for: set[ReasonCode]
) -> tuple[Instead, ...]:
    return next((lines[code] for code in lines if code in held_for), ())


def mix_with_its_seed(tasks: tuple[Task, ...]) -> tuple[Task, ...]:
    """Hold the layer of mix while every sowing of the batch is held: laid early it dries out."""
    sown = [task for task in tasks if task.action is Action.SOW]
    if not sown or any(task.state is not State.HELD for task in sown):
        return tasks
    until, reasons = sown[0].held_until, sown[0].reasons
    return tuple(
        replace(task, state=State.HELD, held_until=until, reasons=reasons)
        if task.action is Action.COVER_WITH_MIX and task.state is State.DUE
        else task
        for task in tasks
    )


def water_with_its_feed(tasks: tuple[Task, ...]) -> tuple[Task, ...]:
    """Count what washes a feed in as water of the day, so that bales are watered once.

    It is mostly no less than the day asks for, and more would wash the dose out below. Only what
    is missing of the day's water stays a task.
    """
    feed = next((task for task in tasks if _is_due(task, Action.FEED)), None)
    water = next((task for task in tasks if _is_due(task, Action.WATER) and not task.day), None)
    if feed is None or feed.dose is None or feed.pour_l is None:
        return tasks
    if water is None or water.water_per_bale_l is None:
        return tasks
    missing_l = round(water.water_per_bale_l - feed.pour_l, 1)
    if missing_l >= LEAST_L:
        less = replace(water, water_per_bale_l=missing_l)
        return tuple(less if task is water else task for task in tasks)
    hot = any(why.code is ReasonCode.HOT_DRY for why in water.reasons)
    helps = (also for also in water.also if also not in WHY_NO_WATER.values())
    both = replace(
        feed,
        reasons=(*feed.reasons, *water.reasons),
        suffering=(*feed.suffering, *water.suffering),
        also=(*feed.also, *helps, *((Also.AGAIN_IF_DRY,) if hot else ())),
    )
    return tuple(both if task is feed else task for task in tasks if task is not water)


def _is_due(task: Task, action: Action) -> bool:
    return task.action is action and task.state is State.DUE


def _wait_costs_days(case: Case) -> int | None:
    """Return how much later the bale is ready for one more day of waiting, None past that."""
    if case.task.action is not Action.FEED or case.task.day is None:
        return None
    return wait_costs_days(case.day.state.sequence, case.day.batch)


def _next_fit_day(case: Case) -> date:
    """Return the first later date on which no rule is known to hold the task."""
    for ahead in range(1, DAYS_TO_LOOK + 1):
        on = case.conditions.on + timedelta(days=ahead)
        waited = replace(case.task, held_days=case.task.held_days + ahead)
        later = replace(case, conditions=case.daily.on(on), task=waited)
        if not any(rule(later).reached for rule in RULES[case.task.action]):
            return on
    return case.conditions.on + timedelta(days=DAYS_TO_LOOK)


def _reasons(findings: list[Finding], standing: Standing) -> tuple[Reason, ...]:
    return tuple(why for each in findings if each.standing is standing for why in each.reasons)


def _unknowns(case: Case, findings: list[Finding]) -> tuple[Reason, ...]:
    """Return what has to be said about a due task that could not be judged."""
    if not any(each.standing is Standing.UNKNOWN for each in findings):
        return ()
    return case.daily.trouble() or _reasons(findings, Standing.UNKNOWN)
