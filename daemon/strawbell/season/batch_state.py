"""Where a whole batch stands at the beginning of a date: its conditioning and what came after.

What comes after conditioning is made of tasks with a key of their own (planting, a support, the
third feeding of the season) and of tasks that carry their date (watering the top). Only the first
kind is remembered.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date

from msgspec import Struct, field
from msgspec.structs import replace

from strawbell.model.brief import State, TaskKey
from strawbell.model.garden import Batch, Planting
from strawbell.model.names import slug
from strawbell.season.freeze_kill import Frozen, killed_on
from strawbell.season.growth import Growth, grown
from strawbell.season.journal_index import Answer, JournalIndex, Walked
from strawbell.season.sequence import DAY, SequenceState, close_day, open_day
from strawbell.season.stage import last_harvest_key, planting_key, planting_meant

OnceDue = Callable[[Batch, "BatchState", date], tuple[TaskKey, ...]]
"""Gives the keys of the once-done tasks that the plan alone, without weather, has due."""


class BatchState(Struct, frozen=True):
    """Conditioning, and by task key when a once-done task was done and how long it was held.

    `frozen` says by the key of its planting what a freeze has killed. What was too young to be
    picked counts as not planted any more; the rest stands until it is cleared. `growth` says by
    the same key how far a planting has come.
    """

    sequence: SequenceState = field(default_factory=SequenceState)
    done: Mapping[TaskKey, date] = field(default_factory=dict)
    held: Mapping[TaskKey, int] = field(default_factory=dict)
    frozen: Mapping[TaskKey, Frozen] = field(default_factory=dict)
    growth: Mapping[TaskKey, Growth] = field(default_factory=dict)


def state_at(batch: Batch, index: JournalIndex, on: date, once_due: OnceDue) -> BatchState:
    """Return where a batch stands at the beginning of a date, walked from its start.

    The last state but one is kept: rows about yesterday may still come.
    """
    state, day = _known(batch, index, on)
    yesterday = on - DAY
    while day < on:
        if day == yesterday:
            index.walked[batch.name] = Walked(batch, day, state)
        state = next_state(state, batch, index, day, once_due)
        day += DAY
    return begin(state, batch, index, on)


def _known(batch: Batch, index: JournalIndex, on: date) -> tuple[BatchState, date]:
    """Return from where a batch has to be walked: its start, or where the last walk ended."""
    walk = index.walked.get(batch.name)
    if walk is None or walk.batch is not batch or walk.on > on:
        return BatchState(), batch.start_on
    if isinstance(walk.state, BatchState):
        return walk.state, walk.on
    return BatchState(), batch.start_on


def begin(state: BatchState, batch: Batch, index: JournalIndex, on: date) -> BatchState:
    """Return the state in which a date begins: what was said before its brief is heard."""
    sequence = open_day(state.sequence, batch, index, on)
    said = [word for word in index.answered_on.get(on, ()) if _is_early(word, index, on)]
    if sequence is state.sequence and not said:
        return state
    state = replace(state, sequence=sequence)
    for word in said:
        if not word.done:
            state = _missed(state, word, batch)
    return state


def next_state(
    state: BatchState, batch: Batch, index: JournalIndex, on: date, once_due: OnceDue
) -> BatchState:
    """Return the state after a past or projected date."""
    state = begin(state, batch, index, on)
    sequence = close_day(state.sequence, batch, index, on)
    state = _once_done(state, batch, index, on, once_due)
    for word in index.answered_on.get(on, ()):
        state = _heard(state, word, batch, index, on)
    growth = grown(batch, state.done, state.growth, index.weather.get(on), on)
    if growth is not state.growth or sequence is not state.sequence:
        # Every day of the season comes through here: one copy, and a plain one.
        state = BatchState(sequence, state.done, state.held, state.frozen, growth)
    killed = killed_on(batch, state.done, index.weather, on)
    return _with_killed(state, killed) if killed else state


def frozen_now(batch: Batch, state: BatchState, planting: Planting) -> Frozen | None:
    """Return the freeze that has killed a planting, None while it lives or was planted again."""
    key = planting_key(batch, planting)
    frozen = state.frozen.get(key)
    if frozen is None or state.done.get(key, frozen.on) > frozen.on:
        return None
    return frozen


def _once_done(
    state: BatchState, batch: Batch, index: JournalIndex, on: date, once_due: OnceDue
) -> BatchState:
    own = index.batch(batch.name)
    told = own.told.get(on)
    if told is None and not own.kept_on(on, batch.start_on):
        planned = {key: on for key in once_due(batch, state, on) if not index.missed_on(key, on)}
        return replace(state, done={**planned, **state.done}) if planned else state
    done: Mapping[TaskKey, date] = state.done
    held: Mapping[TaskKey, int] = state.held
    for key, standing in (told or {}).items():
        if key.on is not None:
            continue
        if standing is State.HELD:
            held = {**held, key: held.get(key, 0) + 1}
        elif standing in (State.DUE, State.DONE) and key not in done:
            if index.is_open(batch.name, key, on):
                continue
            done = {**done, key: on}
    if done is state.done and held is state.held:
        return state
    return BatchState(state.sequence, done, held, state.frozen, state.growth)


def _heard(
    state: BatchState, word: Answer, batch: Batch, index: JournalIndex, on: date
) -> BatchState:
    """Apply what the grower said on a date: done stays done, missed is open again.

    What was said before the brief is about earlier dates: work told again since counts.
    """
    if not _is_about(word, batch) or word.key.on is not None:
        return state
    if word.done:
        done = {word.key: on, **state.done}
        put_in = planting_meant(batch, word.key)
        if put_in is not None and word.key not in state.done:
            # Left out as too late, and put in all the same: it is over when it is picked.
            done.pop(last_harvest_key(batch, put_in), None)
        return replace(state, done=done)
    told = index.batch(batch.name).told.get(on, {}).get(word.key)
    if _is_early(word, index, on) and told in (State.DUE, State.DONE):
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


def _is_early(word: Answer, index: JournalIndex, on: date) -> bool:
    """Return whether a word of a date was written before the brief of that date was told."""
    briefed = index.briefed.get(on)
    return briefed is None or word.at < briefed


def _is_about(word: Answer, batch: Batch) -> bool:
    """Return whether a word is about a batch: it says so itself, or else by its key."""
    if word.batch is not None:
        return word.batch == batch.name
    return word.key.batch == slug(batch.name)
