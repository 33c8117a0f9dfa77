"""The conditioning sequence of a batch, walked day by day through what the journal says.

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
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from itertools import islice

from msgspec.structs import replace

from strawbell.model.brief import Action, Question, State, TaskKey
from strawbell.model.garden import Batch
from strawbell.model.schedule import ScheduleDay, Work
from strawbell.season.journal_index import DayLog
from strawbell.season.local_time import DAY
from strawbell.season.stage import Given, SequenceState, conditioning_key


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
            state = _put_back(state, batch, word.key, before=log.on)
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
    asked = _would_have_been(state, batch, (on - first_untold).days)
    if asked is None or not is_feeding(asked):
        return state
    asked_key = step_key(batch, asked)
    if asked_key in log.answers_since:
        return state
    question = Question(asked_key, batch.name, asked.day, on)
    return replace(state, questions=(*state.questions, question))


def _would_have_been(state: SequenceState, batch: Batch, ahead: int) -> ScheduleDay | None:
    return next(islice(coming(state, batch), ahead, None), None)


def _put_back(state: SequenceState, batch: Batch, key: TaskKey, before: date) -> SequenceState:
    """Return the state in which what was missed is in front again: a feeding, or the soaking."""
    if key == soak_key(batch):
        return _put_soaking_back(state, batch)
    for given in state.given:
        if given.key == key and given.on < before:
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
            state = _put_back(state, batch, word.key, before=log.on)
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
