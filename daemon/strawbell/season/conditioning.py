"""A batch before it is planted: what comes before the first soaking, the conditioning, the rest.

A wet bale is not moved again and sprayed straw is not mended, so all that bales need before the
water is told before it, once and in time. Then the sequence is walked day by day through what the
journal says.

A feeding stands first in line until it counts as given. One that was held takes the next day of
water for itself, so that what follows stays where it was; only where no such day is left the
sequence moves, by whole days and in its order. The rules, in the order they are asked for a past
date:

1. The grower's own word of that date is believed.
2. A feeding told as due counts as given, one told as held does not.
3. Where the journal was not kept yet, the plan's own day counts as done as planned.
4. A feeding that could not be told (the daemon was down) waits until the grower answers; so does
   one that was told on a condition which nobody could judge (no forecast).
   Water waits for nothing and nobody, except the first soaking: on dry bales no feed works, so
   day 1 stays in front like a feeding until it was told as due or recorded as done.
5. `record missed` puts a feeding, or the first soaking, back to the front: from the same day when
   that day's brief is not told yet, else from the next.

Decided 2026-11-25: A hold told after a due feeding counts as a hold; the next morning says that it
may have been given, and `record done` moves on. Feeding once too little costs a day, twice too
much salts roots.

Decided 2026-11-25: Water of a conditioning day that falls on a freeze is held but does not stop
the sequence; only feedings do, and the first soaking: it stays day 1 until told as due or
recorded, since feed on dry bales does nothing. A missed first soaking is told again when said so
the same day.

Decided 2026-11-28: A step before the first soaking is told on the first morning from its date on
that has not told it, and then not again: the days between say only when the next one comes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, timedelta
from itertools import islice

from msgspec.structs import replace

from strawbell.agronomy.bales import bed_area_m2
from strawbell.agronomy.doses import ceiling_g, dose_of, feed_of, planned_g, scaled
from strawbell.agronomy.watering import first_soak_l
from strawbell.model.brief import (
    Action,
    Also,
    Caution,
    Preparation,
    Question,
    Reason,
    ReasonCode,
    State,
    Step,
    Task,
    TaskKey,
)
from strawbell.model.details import SoakDetail
from strawbell.model.feeds import Dose, Material
from strawbell.model.garden import Batch, Garden, ScheduleDay, Work
from strawbell.season.journal_index import DayLog
from strawbell.season.local_time import DAY
from strawbell.season.stage import (
    BatchState,
    Day,
    Given,
    SequenceState,
    conditioning_key,
    dated_key,
    feed_cautions,
    over_on,
    planted_on,
    simple_task,
)

STEPS: Mapping[Step, int] = {
    Step.STRAW: 21,
    Step.BEAN_TEST: 21,
    Step.PLACE: 21,
    Step.GROUND: 7,
    Step.SET_OUT: 7,
    Step.READ_BEANS: 2,
}
"""How many days before the first soaking each step is told, in order: beans in suspect straw take
two to three weeks to three leaves (Oregon State University Extension's test); a week for the
delivery and the ground, two days for a last look (common practice) [days]."""
BEANS_READ_AFTER_DAYS = 14
"""Beans sown later have not three leaves yet: the test says nothing (source as above) [days]."""
OF_ANOTHER_SEASON_DAYS = 120
"""What was told so long before a first soaking was told for the bales of another season (design
choice) [days]."""
ROUNDED_G = 1.0
"""What doses to the tenth of a gram may add up to beyond the limit [g N]."""
LEAST_SHARE = 0.1
"""A dose is never cut below this share: less cannot be scattered evenly (design choice)."""
SOURING = frozenset({Material.AMMONIUM_SULFATE, Material.AMMONIUM_NITRATE})
"""Feeds after which straw is limed, never with them, since lime drives off their ammonia: 1 US cup
of dolomitic lime a bale at the end (Alabama Cooperative Extension)."""
FIRST_SOAK_CAUTIONS = (Caution.WET_WEIGHT, Caution.DUST, Caution.HERBICIDE)
"""What has to be known before a bale is wet, since afterwards nobody moves it."""


Told = Mapping[tuple[str, Step], date]
"""By batch and step before its first soaking, when that was told last."""


def preparing(garden: Garden, told: Told, on: date) -> tuple[Preparation, ...]:
    """Return the bales that begin after a date, soonest first, and what of it is told that day."""
    starts: dict[date, list[Batch]] = {}
    for batch in garden.batches:
        if batch.start_on > on:
            starts.setdefault(batch.start_on, []).append(batch)
    return tuple(_prepare(each, told, on) for _, each in sorted(starts.items()))


def steps_kept(prepared: Iterable[Preparation]) -> list[dict[str, object]]:
    """Return what was told, as the row of a brief keeps it."""
    return [{"batches": list(each.batches), "steps": list(each.steps)} for each in prepared]


def _prepare(batches: list[Batch], told: Told, on: date) -> Preparation:
    start_on = batches[0].start_on
    dates = {step: start_on - timedelta(days=days) for step, days in STEPS.items()}
    sown_on = _beans_sown_on(batches, told, max(on, dates[Step.BEAN_TEST]))
    if (dates[Step.READ_BEANS] - sown_on).days < BEANS_READ_AFTER_DAYS:
        del dates[Step.READ_BEANS]
    next_on = min((when for when in dates.values() if when > on), default=None)
    return Preparation(
        batches=tuple(each.name for each in batches),
        bales=sum(each.bales for each in batches),
        start_on=start_on,
        straws=tuple(dict.fromkeys(each.bale.straw for each in batches)),
        dry_kg=sum(each.bales * each.bale.dry_mass_kg for each in batches),
        bed_m2=sum(bed_area_m2(each.bale, each.bales) for each in batches),
        steps=tuple(
            step
            for step, when in dates.items()
            if when <= on and not _was_told(batches, told, step, on)
        ),
        next_on=next_on,
        next_steps=tuple(step for step, when in dates.items() if when == next_on),
        weathered=any(each.bale.weathered for each in batches),
    )


def _was_told(batches: list[Batch], told: Told, step: Step, on: date) -> bool:
    """Return whether mornings before a date told a step for all the bales."""
    dates = [_told_on(told, each, step) for each in batches]
    return all(when is not None and when < on for when in dates)


def _beans_sown_on(batches: list[Batch], told: Told, otherwise: date) -> date:
    """Return when the bean test was told for the last of the bales, or else will be."""
    return max(_told_on(told, each, Step.BEAN_TEST) or otherwise for each in batches)


def _told_on(told: Told, batch: Batch, step: Step) -> date | None:
    """Return when a step was told for these bales, None where only for those of another season."""
    when = told.get((batch.name, step))
    too_old = batch.start_on - timedelta(days=OF_ANOTHER_SEASON_DAYS)
    return None if when is None or when < too_old else when


def is_feeding(step: ScheduleDay) -> bool:
    """Return whether a day of the schedule is one of feed, not only of water."""
    return step.work is not Work.WATER


def stops(step: ScheduleDay) -> bool:
    """Return whether what follows waits for a step: a feeding, or the first soaking.

    Water of any later day is passed over when it is held: the bales are wet already.
    """
    return step.day == 1 or is_feeding(step)


def step_key(batch: Batch, step: ScheduleDay) -> TaskKey:
    """Return the task key of a day of the schedule."""
    return conditioning_key(batch.name, step.day, action_of(batch, step))


def action_of(batch: Batch, step: ScheduleDay) -> Action:
    """Return what a day asks for; water before the first feeding is soaking."""
    if is_feeding(step):
        return Action.FEED
    first_feeding = next((day.day for day in batch.schedule.days if is_feeding(day)), 0)
    return Action.SOAK if step.day < first_feeding else Action.WATER


def front(state: SequenceState, batch: Batch) -> ScheduleDay | None:
    """Return the day of the schedule that is next in line, None when all are done."""
    if state.again:
        return state.again[0]
    days = batch.schedule.days
    return days[state.position] if state.position < len(days) else None


def coming(state: SequenceState, batch: Batch) -> Iterator[ScheduleDay]:
    """Yield what is still in line, one step a day from the next day on, if nothing more is held."""
    yield from state.again
    behind, fed = state.behind, False
    for step in batch.schedule.days[state.position :]:
        if fed and behind and not is_feeding(step):
            behind -= 1
            continue
        fed = is_feeding(step)
        yield step


def planned_steps(
    batch: Batch, state: BatchState, today: date
) -> Iterator[tuple[date, ScheduleDay]]:
    """Yield the steps of the sequence that are still to come, each with its earliest date."""
    first = max(today, batch.start_on)
    for ahead, step in enumerate(coming(state.sequence, batch)):
        yield first + DAY * ahead, step


def wait_costs_days(state: SequenceState, batch: Batch) -> int:
    """Return by how many days the sequence moves when the feeding in front waits one more."""
    left = sum(not is_feeding(step) for step in batch.schedule.days[state.position :])
    return 0 if left > state.behind and not state.again else 1


def open_day(state: SequenceState, batch: Batch, log: DayLog) -> SequenceState:
    """Return the state in which a date begins: missed feedings are back in front.

    A feeding that the grower already recorded as done, ahead of its turn, is passed over.
    """
    for word in log.answers:
        if not word.done and log.is_early(word):
            state = _put_back(state, batch, word.key)
    return _pass_over_done(state, batch)


def close_day(state: SequenceState, batch: Batch, log: DayLog) -> SequenceState:
    """Return the state after a past date: the step in front is done, or waits."""
    step = front(state, batch)
    if step is None:
        return _late_words(state, batch, log)
    key, on = step_key(batch, step), log.on
    if stops(step) and is_missed(state, batch, log, key):
        state = replace(state, held_days=0)
    elif log.is_done(key):
        state = _done(state, batch, step, key, on)
    elif (told := log.state_of(key)) is not None:
        if told is State.HELD and stops(step):
            doubtful = key in log.taken_back
            waited = 1 if is_feeding(step) and not state.again else 0
            state = replace(
                state,
                held_days=state.held_days + 1,
                taken_back=doubtful,
                behind=state.behind + waited,
            )
        elif stops(step) and log.is_open(key):
            waited = 1 if is_feeding(step) and not state.again else 0
            state = replace(state, unanswered=True, behind=state.behind + waited)
            if is_feeding(step) and key in log.conditional:
                asked = Question(key, batch.name, step.day, on, is_told=True)
                state = replace(state, questions=(asked,))
        else:
            state = _done(state, batch, step, key, on)
    elif not log.is_kept:
        state = _done(state, batch, step, key, on)
    else:
        state = _not_told(state, batch, log, step)
    soaked_on = log.state_of(soak_key(batch))
    if soaked_on is State.DUE or log.is_done(soak_key(batch)):
        state = replace(state, soaked=True)
    elif soaked_on is State.HELD:
        state = replace(state, soaked=False)
    return _late_words(state, batch, log)


def is_missed(state: SequenceState, batch: Batch, log: DayLog, key: TaskKey) -> bool:
    """Return whether the grower's word of a date is that the step in front was missed that day.

    The same word written before the day's brief, about a step that has been in line since an
    earlier date, means that earlier date: the step is then due, not missed.
    """
    word = log.answer(key)
    if word is None or word.done:
        return False
    if not log.is_early(word):
        return True
    return not state.again and (state.waits_since or batch.start_on) >= log.on


def soak_key(batch: Batch) -> TaskKey:
    """Return the key of the first soaking, which goes before a first feeding of the same day."""
    return conditioning_key(batch.name, 1, Action.SOAK)


def _done(
    state: SequenceState, batch: Batch, step: ScheduleDay, key: TaskKey, on: date
) -> SequenceState:
    given = (*state.given, Given(on, key, step)) if is_feeding(step) else state.given
    again, position, behind = state.again, state.position, state.behind
    if again:
        again = again[1:]
    else:
        position += 1
        while is_feeding(step) and behind and _is_water(batch, position):
            position, behind = position + 1, behind - 1
    over = not again and position >= len(batch.schedule.days)
    return SequenceState(
        again=again,
        position=position,
        given=given,
        soaked=True,
        finished_on=on if over else None,
        waits_since=on + DAY,
        behind=behind,
        said=state.said,
    )


def _is_water(batch: Batch, position: int) -> bool:
    days = batch.schedule.days
    return position < len(days) and not is_feeding(days[position])


def _not_told(state: SequenceState, batch: Batch, log: DayLog, step: ScheduleDay) -> SequenceState:
    """Return the state after a date on which the step in front could not be told."""
    key, on = step_key(batch, step), log.on
    if not stops(step) and not state.questions:
        return _done(state, batch, step, key, on)
    if log.briefed_at is not None:
        return state
    if not state.questions:
        word = log.answers_since.get(key)
        if word is not None:
            return _done(state, batch, step, key, on) if word.done else state
    first_untold = state.questions[0].on if state.questions else on
    asked = next(islice(coming(state, batch), (on - first_untold).days, None), None)
    if asked is None or not is_feeding(asked):
        return state
    asked_key = step_key(batch, asked)
    if asked_key in log.answers_since:
        return state
    question = Question(asked_key, batch.name, asked.day, on)
    return replace(state, questions=(*state.questions, question))


def _put_back(state: SequenceState, batch: Batch, key: TaskKey) -> SequenceState:
    """Return the state in which what was missed is in front again: a feeding, or the soaking."""
    if key == soak_key(batch):
        return _put_soaking_back(state, batch)
    for given in state.given:
        if given.key == key:
            return replace(
                state,
                again=(given.step, *state.again),
                given=tuple(each for each in state.given if each is not given),
                held_days=0,
                finished_on=None,
            )
    return state


def _put_soaking_back(state: SequenceState, batch: Batch) -> SequenceState:
    """Return the state of bales that were not soaked after all, which no feed may follow.

    Where day 1 is itself the soaking it goes to the front; else it goes with the feeding of day 1.
    """
    dry = replace(state, soaked=False)
    first = batch.schedule.days[0]
    if is_feeding(first) or first in state.again or state.position == 0:
        return dry
    return replace(dry, again=(first, *state.again), held_days=0, finished_on=None)


def _late_words(state: SequenceState, batch: Batch, log: DayLog) -> SequenceState:
    """Put back what was missed by a word after the date's brief, and keep what was said."""
    said = state.said
    for word in log.answers:
        if not word.done and not log.is_early(word):
            state = _put_back(state, batch, word.key)
        if word.key.day is not None and (
            word.key not in said or said[word.key].number < word.number
        ):
            said = {**said, word.key: word}
    if said is not state.said:
        state = replace(state, said=said)
    if log.briefed_at is not None and state.questions and state.questions[-1].on < log.on:
        # Asked, and not answered by the next day: what was never told was not done.
        state = replace(state, questions=())
    return state


def _pass_over_done(state: SequenceState, batch: Batch) -> SequenceState:
    while (step := front(state, batch)) is not None and stops(step):
        word = state.said.get(step_key(batch, step))
        if word is None or not word.done:
            return state
        state = _done(state, batch, step, word.key, word.on)
    return state


def conditioning(day: Day) -> tuple[Task, ...]:
    """Return the step of the sequence that is next in line."""
    batch, sequence = day.batch, day.state.sequence
    step = front(sequence, batch)
    if step is None:
        return ()
    if sequence.questions:
        return _waiting(day, step)
    over_g = _over_ceiling_g(day) if is_feeding(step) else 0.0
    key = step_key(batch, step)
    task = simple_task(
        day,
        key,
        dose=_within_ceiling(day, step, over_g),
        water_per_bale_l=_water_l(batch, step),
        reasons=_history(sequence),
        also=(Also.SMALLER_DOSE,) if over_g > 0.0 else (),
        cautions=_cautions(batch, step),
        detail=SoakDetail(sequence.soaked) if key.action is Action.SOAK else None,
    )
    task = replace(task, held_days=sequence.held_days)
    if sequence.soaked or key.action is Action.SOAK:
        return (task,)
    # Dry bales are soaked before they are fed, and instead of a day's water.
    soaking = simple_task(
        day,
        soak_key(batch),
        water_per_bale_l=first_soak_l(batch.bale),
        cautions=FIRST_SOAK_CAUTIONS,
        detail=SoakDetail(again=False),
    )
    soaking = replace(soaking, day=step.day)
    return (soaking, task) if is_feeding(step) else (soaking,)


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
    key, limed = dated_key(batch.name, Action.INSPECT, day.on), (Also.LIME,) if _limed(day) else ()
    inspect = simple_task(day, key, also=limed, cautions=(Caution.HOT_BALE,))
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
    return simple_task(day, key)


def _waiting(day: Day, step: ScheduleDay) -> tuple[Task, ...]:
    """Return the feeding the grower is asked about, held, and water meanwhile."""
    is_told = day.state.sequence.questions[0].is_told
    why = Reason(ReasonCode.UNANSWERED if is_told else ReasonCode.NOT_TOLD)
    dose = dose_of(day.batch, step)
    asked = simple_task(day, step_key(day.batch, step), dose=dose, reasons=(why,))
    return (replace(asked, state=State.HELD), _keep_moist(day))


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
