"""The stage of conditioning: the step that is next in line, and the rest before planting."""

from __future__ import annotations

from strawbell.agronomy.bale.size_and_mass import top_area_m2
from strawbell.agronomy.bale.watering import WASH_IN_MM, first_soak_l
from strawbell.agronomy.feeding.doses import finishing_dose, nitrogen_dose, scaled
from strawbell.agronomy.feeding.dosing import ceiling_g, finishing_share, planned_g
from strawbell.model.brief import Action, Also, Caution, Reason, ReasonCode, State, Task
from strawbell.model.details import SoakDetail
from strawbell.model.feeds import Dose
from strawbell.model.garden import Batch
from strawbell.model.schedule import ScheduleDay, Work
from strawbell.season.sequence import (
    SequenceState,
    action_of,
    front,
    is_feeding,
    soak_key,
    step_key,
)
from strawbell.season.stage import (
    Day,
    feed_cautions,
    over_on,
    planted_on,
    simple_task,
)
from strawbell.season.task_keys import dated_key

ROUNDED_G = 1.0
"""What doses to the tenth of a gram may add up to beyond the limit [g N]."""
LEAST_SHARE = 0.1
"""A dose is never cut below this share: less cannot be scattered evenly (design choice)."""
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
    task = Task(
        key=step_key(batch, step),
        batch=batch.name,
        bales=batch.bales,
        action=action_of(batch, step),
        state=State.DUE,
        day=step.day,
        dose=_within_ceiling(day, step),
        water_per_bale_l=_water_l(batch, step),
        also=(Also.SMALLER_DOSE,) if is_feeding(step) and _over_ceiling_g(day) > 0.0 else (),
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
    return (inspect, _keep_moist(day))


def dose_of(batch: Batch, step: ScheduleDay) -> Dose | None:
    """Return what one feeding of the sequence gives, None on a day of only water."""
    if step.work is Work.FEED:
        nitrogen_g = step.rate * batch.nitrogen_per_full_dose_g
        return nitrogen_dose(batch.feed, nitrogen_g, batch.bales, washing_l(batch))
    if step.work is Work.FINISH and batch.finishing_feed is not None:
        share = finishing_share(batch.bale)
        return finishing_dose(batch.finishing_feed, batch.bales, washing_l(batch), share)
    return None


def _over_ceiling_g(day: Day) -> float:
    """Return by how much the plan, and what was fed beyond it, pass what the straw takes [g N]."""
    batch = day.batch
    planned = planned_g(batch.bale, batch.schedule, batch.nitrogen_per_full_dose_g)
    return planned + day.extra_nitrogen_g - ceiling_g(batch.bale) - ROUNDED_G


def _within_ceiling(day: Day, step: ScheduleDay) -> Dose | None:
    """Return the dose of a step, smaller where what was fed beyond the plan asks for it.

    What is over is taken off all feedings still to come, in equal shares.
    """
    dose, over_g = dose_of(day.batch, step), _over_ceiling_g(day)
    if dose is None or over_g <= 0.0:
        return dose
    sequence = day.state.sequence
    line = (*sequence.again, *day.batch.schedule.days[sequence.position :])
    doses = [each for ahead in line if (each := dose_of(day.batch, ahead)) is not None]
    left_g = sum(each.nitrogen_per_bale_g for each in doses)
    return scaled(dose, max(LEAST_SHARE, 1.0 - over_g / left_g))


def washing_l(batch: Batch) -> float:
    """Return the water that washes a feed in where nothing speaks against it [L per bale]."""
    return WASH_IN_MM * top_area_m2(batch.bale)


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
    feed = batch.feed if step.work is Work.FEED else batch.finishing_feed
    if feed is None:
        return ()
    first = next(each.day for each in batch.schedule.days if is_feeding(each))
    return feed_cautions(feed, first_time=step.day == first)
