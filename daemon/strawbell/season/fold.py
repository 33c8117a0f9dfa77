"""The season of a batch as a fold over its days: `state = step(state, day_log)`.

What the journal says of each date is read into a day log once; nothing here looks into the journal.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Generic, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.brief import State, TaskKey
from strawbell.model.garden import Batch, Garden
from strawbell.model.names import slug
from strawbell.season.growth import grown, killed_on
from strawbell.season.journal_index import Answer, DayLog, JournalIndex
from strawbell.season.local_time import DAY
from strawbell.season.planned_tasks import once_due
from strawbell.season.sequence import close_day, open_day
from strawbell.season.stage import (
    BatchState,
    Frozen,
    last_harvest_key,
    lies_after,
    planting_key,
    planting_meant,
)

Value = TypeVar("Value")


class Reached(Struct, Generic[Value], frozen=True):
    """What a fold over the days of `batch` came to at the beginning of the date `on`."""

    batch: Batch
    on: date
    value: Value


def state_at(
    garden: Garden,
    batch: Batch,
    index: JournalIndex,
    on: date,
    reached: dict[str, Reached[BatchState]] | None = None,
) -> BatchState:
    """Return where a batch stands at the beginning of a date.

    The days are folded from its start on, or from where `reached` has it; there the last state but
    one is kept: rows about yesterday may still come.
    """
    state, since = BatchState(), batch.start_on
    known = None if reached is None else reached.get(batch.name)
    if known is not None and known.batch is batch and known.on <= on:
        state, since = known.value, known.on
    for log in index.days(batch, since, on):
        if reached is not None and log.on == on - DAY:
            reached[batch.name] = Reached(batch, log.on, state)
        state = step(state, garden, batch, log)
    return begin(state, batch, index.day(batch, on))


def begin(state: BatchState, batch: Batch, log: DayLog) -> BatchState:
    """Return the state in which a date begins: what was said before its brief is heard."""
    sequence = open_day(state.sequence, batch, log)
    said = [word for word in log.answers if log.is_early(word)]
    if sequence is state.sequence and not said:
        return state
    state = replace(state, sequence=sequence)
    for word in said:
        if not word.done:
            state = _missed(state, word, batch)
    return state


def step(state: BatchState, garden: Garden, batch: Batch, log: DayLog) -> BatchState:
    """Return the state after a past or projected date."""
    state = begin(state, batch, log)
    sequence = close_day(state.sequence, batch, log)
    state = _once_done(state, garden, batch, log)
    for word in log.answers:
        state = _heard(state, word, batch, log)
    growth = grown(batch, state.done, state.growth, log.weather.get(log.on), log.on)
    if growth is not state.growth or sequence is not state.sequence:
        # Every day of the season comes through here: one copy, and a plain one.
        state = BatchState(sequence, state.done, state.held, state.frozen, growth, state.tarped)
    killed = killed_on(batch, state.done, log.weather, log.on)
    if killed:
        state = _with_killed(state, killed)
    tarped = lies_after(batch, log, lying=state.tarped)
    return state if tarped is state.tarped else replace(state, tarped=tarped)


def _once_done(state: BatchState, garden: Garden, batch: Batch, log: DayLog) -> BatchState:
    on = log.on
    if log.told is None and not log.is_kept:
        due = once_due(garden, batch, state, on)
        planned = {key: on for key in due if not log.is_missed(key)}
        return replace(state, done={**planned, **state.done}) if planned else state
    done: Mapping[TaskKey, date] = state.done
    held: Mapping[TaskKey, int] = state.held
    for key, standing in (log.told or {}).items():
        if key.on is not None:
            continue
        if standing is State.HELD:
            held = {**held, key: held.get(key, 0) + 1}
        elif standing in (State.DUE, State.DONE) and key not in done:
            if log.is_open(key):
                continue
            done = {**done, key: on}
    if done is state.done and held is state.held:
        return state
    return BatchState(state.sequence, done, held, state.frozen, state.growth, state.tarped)


def _heard(state: BatchState, word: Answer, batch: Batch, log: DayLog) -> BatchState:
    """Apply what the grower said on a date: done stays done, missed is open again.

    What was said before the brief is about earlier dates: work told again since counts.
    """
    if not _is_about(word, batch) or word.key.on is not None:
        return state
    if word.done:
        done = {word.key: log.on, **state.done}
        put_in = planting_meant(batch, word.key)
        if put_in is not None and word.key not in state.done:
            # Left out as too late, and put in all the same: it is over when it is picked.
            done.pop(last_harvest_key(batch, put_in), None)
        return replace(state, done=done)
    if log.is_early(word) and log.state_of(word.key) in (State.DUE, State.DONE):
        return state
    return _missed(state, word, batch)


def _missed(state: BatchState, word: Answer, batch: Batch) -> BatchState:
    """Open what was missed again; clearing that was missed means that the crop lives."""
    if not _is_about(word, batch):
        return state
    done = {key: on for key, on in state.done.items() if key != word.key}
    frozen = state.frozen
    for each in batch.plantings if frozen else ():
        key = planting_key(batch, each)
        if last_harvest_key(batch, each) == word.key and key in frozen:
            done.setdefault(key, frozen[key].since)
            frozen = {other: freeze for other, freeze in frozen.items() if other != key}
    return replace(state, done=done, frozen=frozen)


def _with_killed(state: BatchState, killed: Mapping[TaskKey, Frozen]) -> BatchState:
    known = {
        key: freeze
        for key, freeze in state.frozen.items()
        if state.done.get(key, freeze.on) <= freeze.on
    }
    young = {key for key, freeze in killed.items() if freeze.young}
    done = {key: on for key, on in state.done.items() if key not in young}
    return replace(state, done=done, frozen={**state.frozen, **killed, **known})


def _is_about(word: Answer, batch: Batch) -> bool:
    """Return whether a word is about a batch: it says so itself, or else by its key."""
    if word.batch is not None:
        return word.batch == batch.name
    return word.key.batch == slug(batch.name)
