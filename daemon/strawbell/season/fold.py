"""The season of a batch as a fold over its days: `state = step(state, day_log)`.

The journal is read into day logs once, and the fold is told of it by them alone. What the plan then
has due for a batch on a date every stage of `STAGES` says: a new part of the season is one function
and one line there.

How far the batches were followed is kept in a checkpoint beside the index of the journal, so that
nothing older is read for a morning. It holds no more than the rows it came of, and is made anew
from them on any doubt: another build of the program, a batch that was changed.

Decided 2026-11-29: The index is kept whole, and not a season cut off: what an earlier season still
says (a thermometer that reads low, work told before) stays in it, and reading a thousand days of it
costs less than indexing ten.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from functools import cache
from typing import Any, Generic, TypeVar

import msgspec
from msgspec import Struct, field
from msgspec.structs import replace

from strawbell.model.brief import Action, State, Task, TaskKey
from strawbell.model.garden import Batch, Garden, Place, slug
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.aftercare import (
    daily_water,
    inspection,
    mulching,
    spreading,
    supports,
    thinning_due,
)
from strawbell.season.bale_course import Course, mornings
from strawbell.season.conditioning import close_day, conditioning, open_day, resting
from strawbell.season.feedings import season_feeding_due
from strawbell.season.harvesting import grown, harvesting, killed_on, without_idle_work
from strawbell.season.journal_index import Answer, DayLog, JournalIndex
from strawbell.season.local_time import DAY
from strawbell.season.planting import planting, surface_watering
from strawbell.season.stage import (
    BatchState,
    Day,
    Frozen,
    Stage,
    last_harvest_key,
    lies_after,
    over_on,
    planted_on,
    planting_key,
    planting_meant,
)

FAST = 1
"""Level of zlib: a tenth of the size for a sixth of the time of the usual level."""

STAGES: tuple[Stage, ...] = (
    conditioning,
    resting,
    season_feeding_due,
    planting,
    surface_watering,
    daily_water,
    harvesting,
    inspection,
    thinning_due,
    supports,
    mulching,
    spreading,
)
"""The stages of a batch's life, in the order their tasks are told."""

ONCE = frozenset(
    {
        Action.FEED,
        Action.COVER_WITH_MIX,
        Action.PLANT,
        Action.SOW,
        Action.THIN,
        Action.MULCH,
        Action.SUPPORT,
        Action.HARVEST,
        Action.SPREAD,
    }
)
"""Actions whose tasks have a key of their own after conditioning; the state of a batch remembers
the dates they were done."""


def candidates(day: Day) -> tuple[Task, ...]:
    """Return everything the plan has due on a date for a batch that has begun, in its order."""
    return without_idle_work(day, tuple(task for stage in STAGES for task in stage(day)))


def once_due(garden: Garden, batch: Batch, state: BatchState, on: date) -> tuple[TaskKey, ...]:
    """Return the keys of the once-done tasks that the plan alone, without weather, has due."""
    if state.sequence.finished_on is None:
        return ()
    tasks = candidates(Day(garden, batch, state, DayLog(on)))
    return tuple(task.key for task in tasks if task.action in ONCE)


Value = TypeVar("Value")


class Reached(Struct, Generic[Value], frozen=True):
    """What a fold over the days of `batch` came to at the beginning of the date `on`."""

    batch: Batch
    on: date
    value: Value


Stood = tuple[tuple[date | None, date | None], ...]
"""Since and until when each planting stood: with others a bale is followed anew."""


class FoldCache(Struct):
    """How far the state and the bale of each batch were followed; it decides nothing.

    Whoever keeps it beside an index has it forget what new rows may change.
    """

    states: dict[str, Reached[BatchState]] = field(default_factory=dict)
    courses: dict[str, Reached[tuple[Stood, Course]]] = field(default_factory=dict)

    def forget(self, entries: Iterable[JournalEntry], index: JournalIndex) -> None:
        """Forget what new rows, which the index has taken, may change.

        A state rests on rows of earlier dates, and on the grower's words, about whatever date.
        """
        if not self.states and not self.courses:
            return
        for entry in entries:
            if entry.kind in (EntryKind.DONE, EntryKind.MISSED):
                self.states.clear()
                self.courses.clear()
                return
            # The figures of work told again take the place of those of the earlier day.
            again = entry.batch if index.is_told_again(entry) else None
            _drop(self.states, entry.local_date, again)
            _drop(self.courses, entry.local_date, again)


def state_at(
    garden: Garden, batch: Batch, index: JournalIndex, on: date, folds: FoldCache | None = None
) -> BatchState:
    """Return where a batch stands at the beginning of a date.

    The days are folded from its start on, or from where `folds` has it; there the last state but
    one is kept: rows about yesterday may still come.
    """
    reached = (folds or FoldCache()).states
    state, since = BatchState(), batch.start_on
    known = reached.get(batch.name)
    if known is not None and known.batch is batch and known.on <= on:
        state, since = known.value, known.on
    for log in index.days(batch, since, on):
        if log.on == on - DAY:
            reached[batch.name] = Reached(batch, log.on, state)
        state = step(state, garden, batch, log)
    return begin(state, batch, index.day(batch, on))


def past_days(
    garden: Garden, batch: Batch, index: JournalIndex, today: date, folds: FoldCache
) -> Iterator[Day]:
    """Yield a batch on each date from its first soaking to yesterday; `folds` keeps where it got.

    So that its state of today is not folded anew.
    """
    state = BatchState()
    for log in index.days(batch, batch.start_on, today):
        folds.states[batch.name] = Reached(batch, log.on, state)
        yield Day(garden, batch, begin(state, batch, log), log)
        state = step(state, garden, batch, log)


def course_at(
    batch: Batch,
    state: BatchState,
    index: JournalIndex,
    on: date,
    place: Place,
    folds: FoldCache | None = None,
) -> Course:
    """Return a bale of a batch at the beginning of a date, followed from its first soaking.

    Where it was on the day before is kept in `folds`.
    """
    reached = (folds or FoldCache()).courses
    stood, since = _stood(batch, state), None
    known = reached.get(batch.name)
    if known is not None and known.batch is batch and known.on <= on and known.value[0] == stood:
        since = known.on, known.value[1]
    for day, course in mornings(batch, state, index, on, place, since=since):
        if day == on - DAY:
            reached[batch.name] = Reached(batch, day, (stood, course))
    return course


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


def _stood(batch: Batch, state: BatchState) -> Stood:
    return tuple(
        (planted_on(batch, state, each), over_on(batch, state, each)) for each in batch.plantings
    )


def _drop(kept: dict[str, Reached[Value]], on: date, again: str | None) -> None:
    for name in [name for name, each in kept.items() if on < each.on or name == again]:
        del kept[name]


class _Checkpoint(Struct):
    """A checkpoint: by batch what it was when it was followed, and how far that is."""

    build: str
    index: JournalIndex
    batches: dict[str, bytes]
    states: dict[str, tuple[date, BatchState]]
    courses: dict[str, tuple[date, tuple[Stood, Course]]]


@cache
def _decoder() -> msgspec.msgpack.Decoder[_Checkpoint]:
    """Return what reads checkpoints; to make it costs as much as to read a few."""
    return msgspec.msgpack.Decoder(_Checkpoint)


def packed(index: JournalIndex, folds: FoldCache, garden: Garden, build: str) -> bytes | None:
    """Return the index of a garden as bytes; `build` names the program that made it.

    None where a row holds what cannot be put into bytes: a morning is worth more than quick starts.
    """
    states = {name: (each.on, each.value) for name, each in folds.states.items()}
    courses = {name: (each.on, each.value) for name, each in folds.courses.items()}
    laid = _Checkpoint(build, index, _batches(garden), states, courses)
    said = in_bytes(laid)
    return None if said is None else zlib.compress(said, FAST)


def in_bytes(value: object) -> bytes | None:
    """Return values as bytes, None where one cannot be put into bytes.

    Values that came about in the same way give the same bytes within a process.
    """
    try:
        return msgspec.msgpack.encode(value, enc_hook=_plain)
    except (TypeError, ValueError, OverflowError):
        return None


def unpacked(content: bytes, garden: Garden, build: str) -> tuple[JournalIndex, FoldCache] | None:
    """Return the index of a checkpoint, None where it is not sure to be the same."""
    try:
        laid = _decoder().decode(zlib.decompress(content))
    except (msgspec.DecodeError, zlib.error, ValueError):
        return None
    if laid.build != build:
        return None
    folds, now = FoldCache(), _batches(garden)
    for batch in garden.batches:
        if batch.name not in now or laid.batches.get(batch.name) != now[batch.name]:
            continue
        if batch.name in laid.states:
            folds.states[batch.name] = Reached(batch, *laid.states[batch.name])
        if batch.name in laid.courses:
            folds.courses[batch.name] = Reached(batch, *laid.courses[batch.name])
    return laid.index, folds


def _batches(garden: Garden) -> dict[str, bytes]:
    """Return a digest of all that a batch was followed with beside the journal."""
    said = {batch.name: in_bytes((garden.place, batch)) for batch in garden.batches}
    return {name: hashlib.sha256(each).digest() for name, each in said.items() if each is not None}


def _plain(value: Any) -> Any:
    """Return the plain form of what is only read through, such as the data of a stored row."""
    if isinstance(value, Mapping):
        return dict(value)
    raise TypeError(f"value cannot be put into bytes: {type(value).__name__}")
