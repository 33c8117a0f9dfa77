"""What one policy did with a batch in a season, whichever policy it was.

A course is read out of a journal. An empty journal gives the plain calendar: the plan's own days
count as done as planned, whatever the weather.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Any

from msgspec import Struct

from strawbell.agronomy.bale.size_and_mass import top_area_m2
from strawbell.agronomy.bale.surface import Watering
from strawbell.agronomy.bale.surface_outlook import watered_at
from strawbell.decision.telling import NIGHT
from strawbell.model.brief import Action, AlertCode, AlertKey, State, TaskKey
from strawbell.model.garden import Batch, Garden, Planting
from strawbell.model.journal import EntryKind, Journal
from strawbell.model.names import slug
from strawbell.rehearsal.truth import Truth
from strawbell.season.bale_course import Course as BaleCourse
from strawbell.season.bale_course import mornings
from strawbell.season.conditioning import is_feeding, step_key
from strawbell.season.feedings import FeedingGiven, feedings_given
from strawbell.season.fold import begin, candidates, step
from strawbell.season.journal_index import ALERT_TOLD, DayLog, JournalIndex, task_of
from strawbell.season.local_time import DAY
from strawbell.season.stage import BatchState, Day, dated_key, planted_on

WETS = frozenset(
    {Action.SOAK, Action.WATER, Action.SURFACE_WATER, Action.FEED, Action.PLANT, Action.SOW}
)
"""Actions that bring water onto the top of a bale."""
FILLS = frozenset({Action.SOAK, Action.WATER, Action.SURFACE_WATER})
"""Of these, the ones that fill the top up where no amount is said."""

Walk = list[tuple[date, BatchState, BatchState]]
"""Each date of a batch with its state in the morning and in the night after."""
Work = list[tuple[date, datetime, Action, float | None, int]]
"""Work done: date, from when, what, litres a bale, times a day."""


class Fed(Struct, frozen=True):
    """A feeding: when it was told, and what it gave."""

    at: datetime
    feeding: FeedingGiven


class Course(Struct, frozen=True):
    """One batch under one policy, from its start through a date."""

    batch: Batch
    last: date
    fed: tuple[Fed, ...]
    bales: tuple[BaleCourse, ...]
    """One bale on each morning from the start on, through the weather that came."""
    finished_on: date | None
    planted: tuple[tuple[Planting, date], ...]
    """When each planting went in first."""
    waterings: tuple[Watering, ...]
    covered: frozenset[date]
    """Nights by the date they begin on, that the grower was told to cover for or warned of."""
    walk: Walk


def course_of(
    truth: Truth, batch: Batch, journal: Journal, index: JournalIndex, last: date
) -> Course:
    """Return what a journal, and its index, say was done; both empty: the plain calendar."""
    garden = truth.garden
    walk = list(walk_of(garden, batch, index, last))
    log = index.day(batch, last + DAY)
    state = begin(walk[-1][2], batch, log)
    told_at = told_moments(journal)
    told = _told_work(batch, journal, index, truth)
    work = list(told if journal else planned_work(truth, walk, batch))
    return Course(
        batch=batch,
        last=last,
        fed=tuple(_fed(truth, batch, state, log, told_at)),
        bales=tuple(_bales(truth, batch, state, index, last)),
        finished_on=state.sequence.finished_on,
        planted=tuple(_planted(batch, walk)),
        waterings=tuple(_waterings(batch, work)),
        covered=frozenset(on for on, told in dict(_covered(batch, journal)).items() if told),
        walk=walk,
    )


def walk_of(
    garden: Garden, batch: Batch, index: JournalIndex, last: date
) -> Iterator[tuple[date, BatchState, BatchState]]:
    """Yield each date of a batch with its state in the morning and in the night after."""
    before = BatchState()
    for log in index.days(batch, batch.start_on, last + DAY):
        after = step(before, garden, batch, log)
        yield log.on, begin(before, batch, log), after
        before = after


def told_moments(journal: Journal) -> Mapping[tuple[date, TaskKey], datetime]:
    """Return when a task was last told as due on a date: after rain that may be the afternoon."""
    return {
        (entry.local_date, key): entry.at
        for entry in journal
        if entry.kind in (EntryKind.TOLD, EntryKind.TAKEN_BACK)
        and entry.state == State.DUE
        and (key := task_of(entry)) is not None
    }


def feeding_keys(batch: Batch) -> frozenset[TaskKey]:
    """Return the keys of the feedings of a batch's conditioning."""
    return frozenset(step_key(batch, step) for step in batch.schedule.days if is_feeding(step))


def _fed(
    truth: Truth,
    batch: Batch,
    state: BatchState,
    log: DayLog,
    told_at: Mapping[tuple[date, TaskKey], datetime],
) -> Iterator[Fed]:
    for given in feedings_given(batch, state, log):
        if given.step is not None:
            at = told_at.get((given.on, given.key)) or truth.morning(given.on)
            yield Fed(at, given)


def _bales(
    truth: Truth, batch: Batch, state: BatchState, index: JournalIndex, last: date
) -> Iterator[BaleCourse]:
    came = {on: truth.day(on) for on in _dates(batch.start_on, last)}
    for _, course in mornings(batch, state, index, last + DAY, truth.garden.place, came):
        yield course


def _dates(first: date, last: date) -> Iterator[date]:
    return map(date.fromordinal, range(first.toordinal(), last.toordinal() + 1))


def _planted(batch: Batch, walk: Walk) -> Iterator[tuple[Planting, date]]:
    """Yield when each planting went in first; after a killing frost it may go in again."""
    for each in batch.plantings:
        dates = (planted_on(batch, after, each) for _, _, after in walk)
        first = min((on for on in dates if on is not None), default=None)
        if first is not None:
            yield each, first


def _covered(batch: Batch, journal: Journal) -> Iterator[tuple[date, bool]]:
    """Yield the nights of which a cover was told or a warning given on their date, or taken back.

    A warning may be of tomorrow's night: it is told again by its own date, or it has passed.
    """
    frost = AlertKey(AlertCode.FROST, slug(batch.name)).text()
    for entry in journal:
        on = entry.local_date
        if entry.task == frost:
            stands = entry.state == ALERT_TOLD
            if not stands or entry.data.get(NIGHT) in (None, on.isoformat()):
                yield on, stands
        elif entry.task == dated_key(batch.name, Action.PROTECT, on).text():
            yield on, entry.state == State.DUE


def planned_work(
    truth: Truth, walk: Walk, batch: Batch
) -> Iterator[tuple[date, datetime, Action, float | None, int]]:
    """Yield what the plan has due, date by date: when, what, litres a bale, times a day."""
    for on, before, _ in walk:
        for task in candidates(Day(truth.garden, batch, before, DayLog(on))):
            litres = task.water_per_bale_l
            yield on, truth.morning(on), task.action, litres, task.times_a_day


def _told_work(
    batch: Batch, journal: Journal, index: JournalIndex, truth: Truth
) -> Iterator[tuple[date, datetime, Action, float | None, int]]:
    """Yield what the briefs of a journal had due, and what was released later in the day."""
    told = index.batch(batch.name).told
    for entry in journal:
        if entry.kind is EntryKind.BRIEF and isinstance(tasks := entry.data.get("tasks"), list):
            on = entry.local_date
            standing_then = {key.text(): state for key, state in told.get(on, {}).items()}
            for task in tasks:
                is_due = standing_then.get(task["key"]) is State.DUE
                key = TaskKey.parse(task["key"], [batch.name])
                if is_due and key is not None and index.day(batch, on).is_open(key):
                    continue
                if task["batch"] == batch.name and is_due:
                    yield _work_of(task, on, truth.morning(on))


def _work_of(
    task: Mapping[str, Any], on: date, at: datetime
) -> tuple[date, datetime, Action, float | None, int]:
    return on, at, Action(task["action"]), task["water_per_bale_l"], int(task["times_a_day"])


def _waterings(batch: Batch, work: Work) -> Iterator[Watering]:
    """Yield each watering [mm over the top]."""
    area_m2 = top_area_m2(batch.bale)
    for _, at, action, litres, times in work:
        if action not in WETS or (litres is None and action not in FILLS):
            continue
        for moment in watered_at(at, times):
            yield Watering(moment, None if litres is None else litres / area_m2)


def standing_crops(truth: Truth, course: Course) -> Iterator[tuple[date, tuple[Planting, ...]]]:
    """Yield each date with what stands in the bales in the night after it."""
    for on, _, after in course.walk:
        day = Day(truth.garden, course.batch, after, DayLog(on))
        yield on, tuple(each for each, _ in day.standing)
