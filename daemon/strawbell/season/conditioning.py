"""The stage of conditioning: the step that is next in line, and the rest before planting."""

from __future__ import annotations

from msgspec.structs import replace

from strawbell.agronomy.bale.watering import first_soak_l
from strawbell.agronomy.feeding.doses import scaled
from strawbell.agronomy.feeding.dosing import ceiling_g, dose_of, feed_of, planned_g
from strawbell.model.brief import Action, Also, Caution, Reason, ReasonCode, State, Task
from strawbell.model.details import SoakDetail
from strawbell.model.feeds import Dose, Material
from strawbell.model.garden import Batch
from strawbell.model.schedule import ScheduleDay
from strawbell.season.sequence import (
    action_of,
    front,
    is_feeding,
    soak_key,
    step_key,
)
from strawbell.season.stage import (
    Day,
    SequenceState,
    dated_key,
    feed_cautions,
    over_on,
    planted_on,
    simple_task,
)

ROUNDED_G = 1.0
"""What doses to the tenth of a gram may add up to beyond the limit [g N]."""
LEAST_SHARE = 0.1
"""A dose is never cut below this share: less cannot be scattered evenly (design choice)."""
SOURING = frozenset({Material.AMMONIUM_SULFATE, Material.AMMONIUM_NITRATE})
"""Feeds after which straw is limed, never with them, since lime drives off their ammonia: 1 US cup
of dolomitic lime a bale at the end (Alabama Cooperative Extension)."""
FIRST_SOAK_CAUTIONS = (Caution.WET_WEIGHT, Caution.DUST, Caution.HERBICIDE)
"""What has to be known before a bale is wet, since afterwards nobody moves it."""


def conditioning(day: Day) -> tuple[Task, ...]:
    """Return the step of the sequence that is next in line."""
    batch, sequence = day.batch, day.state.sequence
    step = front(sequence, batch)
    if step is None:
        return ()
    if sequence.questions:
        return _waiting(day, step)
    over_g = _over_ceiling_g(day) if is_feeding(step) else 0.0
    task = Task(
        key=step_key(batch, step),
        batch=batch.name,
        bales=batch.bales,
        action=action_of(batch, step),
        state=State.DUE,
        day=step.day,
        dose=_within_ceiling(day, step, over_g),
        water_per_bale_l=_water_l(batch, step),
        also=(Also.SMALLER_DOSE,) if over_g > 0.0 else (),
        held_days=sequence.held_days,
        reasons=_history(sequence),
        cautions=_cautions(batch, step),
        detail=_soaking(batch, step, sequence),
    )
    if sequence.soaked or action_of(batch, step) is Action.SOAK:
        return (task,)
    # Dry bales are soaked before they are fed, and instead of a day's water.
    soaking = _first_soaking(batch, step)
    return (soaking, task) if is_feeding(step) else (soaking,)


def _soaking(batch: Batch, step: ScheduleDay, sequence: SequenceState) -> SoakDetail | None:
    return SoakDetail(sequence.soaked) if action_of(batch, step) is Action.SOAK else None


def _history(sequence: SequenceState) -> tuple[Reason, ...]:
    """Return what the grower has to know of a step that is told again."""
    if sequence.again:
        return (Reason(ReasonCode.MISSED),)
    if sequence.unanswered:
        return (Reason(ReasonCode.UNANSWERED),)
    return (Reason(ReasonCode.TAKEN_BACK),) if sequence.taken_back else ()


def resting(day: Day) -> tuple[Task, ...]:
    """Return inspection and watering between the last step and the first planting."""
    batch, state = day.batch, day.state
    if front(state.sequence, batch) is not None:
        return ()
    if any(
        planted_on(batch, state, each) or over_on(batch, state, each) for each in batch.plantings
    ):
        return ()
    inspect_key = dated_key(batch.name, Action.INSPECT, day.on)
    inspect = simple_task(day, Action.INSPECT, inspect_key, cautions=(Caution.HOT_BALE,))
    if _limed(day):
        inspect = replace(inspect, also=(Also.LIME,))
    return (inspect, _keep_moist(day))


def _limed(day: Day) -> bool:
    """Return whether the bales are limed today: once, a day after a sequence that sours them."""
    finished = day.state.sequence.finished_on
    feeds = (feed_of(day.batch, step) for step in day.batch.schedule.days)
    sour = any(feed is not None and feed.material in SOURING for feed in feeds)
    return sour and finished is not None and (day.on - finished).days == 1


def _over_ceiling_g(day: Day) -> float:
    """Return by how much the plan, and what was fed beyond it, pass what the straw takes [g N]."""
    batch = day.batch
    return planned_g(batch) + day.log.extra_nitrogen_g - ceiling_g(batch.bale) - ROUNDED_G


def _within_ceiling(day: Day, step: ScheduleDay, over_g: float) -> Dose | None:
    """Return the dose of a step, smaller where what was fed beyond the plan asks for it.

    What is over is taken off all feedings still to come, in equal shares.
    """
    dose = dose_of(day.batch, step)
    if dose is None or over_g <= 0.0:
        return dose
    sequence = day.state.sequence
    line = (*sequence.again, *day.batch.schedule.days[sequence.position :])
    doses = [each for ahead in line if (each := dose_of(day.batch, ahead)) is not None]
    left_g = sum(each.nitrogen_per_bale_g for each in doses)
    return scaled(dose, max(LEAST_SHARE, 1.0 - over_g / left_g))


def _keep_moist(day: Day) -> Task:
    key = dated_key(day.batch.name, Action.WATER, day.on)
    return simple_task(day, Action.WATER, key)


def _waiting(day: Day, step: ScheduleDay) -> tuple[Task, ...]:
    """Return the feeding the grower is asked about, held, and water meanwhile."""
    batch = day.batch
    is_told = day.state.sequence.questions[0].is_told
    asked = Task(
        key=step_key(batch, step),
        batch=batch.name,
        bales=batch.bales,
        action=action_of(batch, step),
        state=State.HELD,
        day=step.day,
        dose=dose_of(batch, step),
        reasons=(Reason(ReasonCode.UNANSWERED if is_told else ReasonCode.NOT_TOLD),),
    )
    return (asked, _keep_moist(day))


def _first_soaking(batch: Batch, step: ScheduleDay) -> Task:
    return Task(
        key=soak_key(batch),
        batch=batch.name,
        bales=batch.bales,
        action=Action.SOAK,
        state=State.DUE,
        day=step.day,
        water_per_bale_l=first_soak_l(batch.bale),
        cautions=FIRST_SOAK_CAUTIONS,
        detail=SoakDetail(again=False),
    )


def _water_l(batch: Batch, step: ScheduleDay) -> float | None:
    """Return the water of a day as far as the plan alone knows it; the balance says the rest."""
    if is_feeding(step):
        dose = dose_of(batch, step)
        return dose.water_per_bale_l if dose else None
    return first_soak_l(batch.bale) if step.day == 1 else None


def _cautions(batch: Batch, step: ScheduleDay) -> tuple[Caution, ...]:
    if not is_feeding(step):
        return FIRST_SOAK_CAUTIONS if step.day == 1 else ()
    feed = feed_of(batch, step)
    if feed is None:
        return ()
    first = next(each.day for each in batch.schedule.days if feed_of(batch, each) == feed)
    return feed_cautions(feed, first_time=step.day == first)
