"""Where a whole batch stands at the beginning of a date: its conditioning and what came after.

What comes after conditioning is made of tasks with a key of their own (planting, a support, the
third feeding of the season) and of tasks that carry their date (watering the top). Only the first
kind is remembered.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date

from strawbell.model.brief import State
from strawbell.model.garden import Batch
from strawbell.planning.keys import is_dated, slug
from strawbell.planning.record import Answer, Record
from strawbell.planning.sequence import DAY, SequenceState, close_day, open_day

OnceDue = Callable[[Batch, "BatchState", date], tuple[str, ...]]
"""Gives the keys of the once-done tasks that the plan alone, without weather, has due."""


@dataclass(frozen=True, slots=True)
class BatchState:
    """Conditioning, and by task key when a once-done task was done and how long it was held."""

    sequence: SequenceState = field(default_factory=SequenceState)
    done: Mapping[str, date] = field(default_factory=dict)
    held: Mapping[str, int] = field(default_factory=dict)


def state_at(batch: Batch, record: Record, on: date, once_due: OnceDue) -> BatchState:
    """Return where a batch stands at the beginning of a date, walked from its start."""
    state = BatchState()
    day = batch.start_on
    while day < on:
        state = next_state(state, batch, record, day, once_due)
        day += DAY
    return begin(state, batch, record, on)


def begin(state: BatchState, batch: Batch, record: Record, on: date) -> BatchState:
    """Return the state in which a date begins."""
    sequence = open_day(state.sequence, batch, record, on)
    if sequence is state.sequence:
        return state
    return BatchState(sequence, state.done, state.held)


def next_state(
    state: BatchState, batch: Batch, record: Record, on: date, once_due: OnceDue
) -> BatchState:
    """Return the state after a past or projected date."""
    state = begin(state, batch, record, on)
    sequence = close_day(state.sequence, batch, record, on)
    done, held = _once_done(state, batch, record, on, once_due)
    return BatchState(sequence, done, held)


def _once_done(
    state: BatchState, batch: Batch, record: Record, on: date, once_due: OnceDue
) -> tuple[Mapping[str, date], Mapping[str, int]]:
    own = record.batch(batch.name)
    told = own.told.get(on)
    if told is None and not own.kept_on(on, batch.start_on):
        planned = {key: on for key in once_due(batch, state, on) if not record.missed_on(key, on)}
        if planned:
            return _with_words({**planned, **state.done}, batch, record, on), state.held
        return _with_words(state.done, batch, record, on), state.held
    done: Mapping[str, date] = state.done
    held: Mapping[str, int] = state.held
    for key, standing in (told or {}).items():
        if is_dated(key):
            continue
        if standing is State.HELD:
            held = {**held, key: held.get(key, 0) + 1}
        elif standing in (State.DUE, State.DONE) and key not in done:
            done = {**done, key: on}
    return _with_words(done, batch, record, on), held


def _with_words(
    known: Mapping[str, date], batch: Batch, record: Record, on: date
) -> Mapping[str, date]:
    """Apply what the grower said on a date: done stays done, missed is open again."""
    words = record.answered_on.get(on, ())
    if not words:
        return known
    done = dict(known)
    for word in words:
        if not _is_about(word, batch) or is_dated(word.key):
            continue
        if word.done:
            done.setdefault(word.key, on)
        else:
            done.pop(word.key, None)
    return done


def _is_about(word: Answer, batch: Batch) -> bool:
    """Return whether a word is about a batch: it says so itself, or else by its key."""
    if word.batch is not None:
        return word.batch == batch.name
    return word.key.startswith(f"{slug(batch.name)}-")
