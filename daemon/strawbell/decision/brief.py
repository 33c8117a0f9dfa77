"""The heart: from (garden, journal, forecast or none, now) to the day's brief.

The daemon, the commands, the rehearsal and the tests all call `brief`; none of them decides
anything itself. The days ahead are the same decision made again on each later morning, as if
what it tells had been told: so a projection can never disagree with the decision it projects.

Decided 2026-11-25: A supposed time later than now (`--at`) takes the days between as told;
otherwise asking about next week would look like a downtime.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from msgspec import Struct
from msgspec.structs import replace

from strawbell.decision.alerts import Lookout, alerts
from strawbell.decision.daily_weather import DailyWeather, DayConditions, daily_weather_of
from strawbell.decision.estimates import Estimates, outlook_of
from strawbell.decision.hold_judgement import Case, judge, mix_with_its_seed, water_with_its_feed
from strawbell.decision.rain_cover import with_tarp
from strawbell.decision.weather_tasks import with_weather
from strawbell.model.brief import Brief, DayAhead, Question, Reason, ReasonCode, State, Task
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.batch_state import BatchState, begin, next_state, state_at
from strawbell.season.feedings_given import day_of
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import local_date, zone_of
from strawbell.season.planned_tasks import candidates, once_due
from strawbell.season.preparing import preparing, steps_kept
from strawbell.season.sequence import is_missed
from strawbell.season.succession import crowding
from strawbell.weather.chance import garden_site

DAYS_AHEAD = 7
"""How many days are projected: as far as an hourly forecast is worth showing."""
DAY = timedelta(days=1)


class Morning(Struct, frozen=True):
    """One decided date: its sky, where each batch stands, and its tasks."""

    on: date
    conditions: DayConditions
    states: tuple[tuple[Batch, BatchState], ...]
    tasks: tuple[Task, ...]


def brief(
    garden: Garden,
    journal: Journal | JournalIndex,
    forecast: Forecast | None,
    now: datetime,
    *,
    whole: bool = True,
) -> Brief:
    """Decide the day: what is due, what waits and why, what to look out for, what lies ahead.

    `journal` are the garden's rows, oldest first, or the index of them; `forecast` may be None;
    `now` is aware and any zone. Nothing else goes in, so the same arguments give the same brief.
    One that is not `whole` has today's tasks and alerts and nothing else, for a watch of the
    weather that mostly finds nothing.
    """
    index = JournalIndex.of(journal)
    zone = zone_of(garden.place.time_zone)
    site = garden_site(index.readings())
    daily = daily_weather_of(garden, forecast, now, index.briefed.get(local_date(now, zone)), site)
    estimates = Estimates(garden, index, daily, now)
    mornings = decide(garden, index, daily, now, estimates)
    today = next(mornings)
    lookout = Lookout(garden, today.states, index, daily, today.conditions, estimates, now, zone)
    ahead = [next(mornings) for _ in range(DAYS_AHEAD if whole else 0)]
    shown = today.states if whole else ()
    return Brief(
        garden=garden.name,
        on=today.on,
        as_of=now.astimezone(zone),
        forecast=daily.use,
        weather=today.conditions.weather,
        tasks=today.tasks,
        alerts=alerts(lookout),
        ahead=tuple(DayAhead(each.on, each.conditions.weather, each.tasks) for each in ahead),
        questions=_questions(today.states),
        outlooks=tuple(outlook_of(batch, estimates) for batch, _ in shown),
        not_told=_not_told(garden, index, today.on),
        preparing=preparing(garden, index, today.on),
        crowding=tuple(
            each
            for batch, state in shown
            for each in crowding(day_of(garden, batch, state, today.on, index))
        ),
    )


def decide(
    garden: Garden,
    index: JournalIndex,
    daily: DailyWeather,
    now: datetime,
    estimates: Estimates | None = None,
) -> Iterator[Morning]:
    """Yield today and every later date, each decided as if the one before had been told.

    The estimates are those of today; a later date reads its own out of them.
    """
    once = once_due(garden)
    estimates = estimates or Estimates(garden, index, daily, now)
    on = daily.today
    states = tuple(
        (batch, state_at(batch, index, on, once))
        for batch in garden.batches
        if batch.start_on <= on
    )
    estimates.begin(states)
    while True:
        morning = _morning(garden, index, daily, estimates, on, states)
        yield morning
        index = index.with_told(on, now, morning.tasks)
        later = on + DAY
        states = tuple(
            (batch, begin(next_state(state, batch, index, on, once), batch, index, later))
            for batch, state in states
        )
        new = tuple((each, BatchState()) for each in garden.batches if each.start_on == later)
        states, on = states + new, later


def _morning(
    garden: Garden,
    index: JournalIndex,
    daily: DailyWeather,
    estimates: Estimates,
    on: date,
    states: tuple[tuple[Batch, BatchState], ...],
) -> Morning:
    tasks: list[Task] = []
    for batch, state in states:
        told = index.batch(batch.name).told.get(on, {}) if on == daily.today else {}
        day = day_of(garden, batch, state, on, index)
        judged = []
        for task in with_weather(day, candidates(day), daily, daily.on(on), index, estimates):
            conditions = daily.on(on, told_hold=told.get(task.key) is State.HELD)
            judged.append(
                judge(Case(garden, batch, state, task, index, daily, conditions, estimates))
            )
        together = mix_with_its_seed(tuple(judged))
        if index.away_on(on) is None:
            # A feeding that waits for who is away brings no water; whoever waters gives it all.
            together = water_with_its_feed(together)
        together = with_tarp(day, together, daily.on(on), index, estimates)
        tasks += (_answered(task, batch, state, index, on) for task in together)
    return Morning(on, daily.on(on), states, tuple(tasks))


def _answered(task: Task, batch: Batch, state: BatchState, index: JournalIndex, on: date) -> Task:
    """Return the task with the grower's own word of that date, which is believed."""
    if index.done_on(task.key, on):
        return replace(task, state=State.DONE, held_until=None, instead=())
    if not index.missed_on(task.key, on):
        return task
    again = replace(task, reasons=(*task.reasons, Reason(ReasonCode.MISSED)))
    if is_missed(state.sequence, batch, index, on, task.key):
        return replace(again, state=State.MISSED, held_until=None)
    if task.day is not None:
        return task
    # Outside the sequence a word before the day's brief is about that day, unless it was told.
    told = index.batch(batch.name).told
    before = any(task.key in keys for when, keys in told.items() if when < on)
    return again if before else replace(again, state=State.MISSED, held_until=None)


def _questions(states: tuple[tuple[Batch, BatchState], ...]) -> tuple[Question, ...]:
    return tuple(each for _, state in states for each in state.sequence.questions)


def _not_told(garden: Garden, index: JournalIndex, today: date) -> tuple[date, ...]:
    """Return the dates of the running season that nothing could be told on."""
    starts = [batch.start_on for batch in garden.batches if batch.start_on <= today]
    if not starts:
        return ()
    return tuple(on for on in index.not_told(today) if on >= min(starts))


def suppose_told(
    garden: Garden, journal: Journal, forecast: Forecast | None, now: datetime, then: datetime
) -> Journal:
    """Return the journal as it will be at a later moment, if every morning until it is told.

    For asking about a day to come: without it the days between would look like a downtime, or,
    where no journal is kept yet, like days on which nothing was held.
    """
    index = JournalIndex.of(journal)
    zone = zone_of(garden.place.time_zone)
    on, last = now.astimezone(zone).date(), then.astimezone(zone).date()
    if last <= on:
        return journal
    supposed = JournalIndex.of(journal)
    daily = DailyWeather(garden, forecast, now, site=garden_site(index.readings()))
    for morning in decide(garden, index, daily, now):
        if morning.on >= last:
            return journal
        rows = tuple(_supposed(garden, supposed, morning, now))
        supposed.take(rows)
        journal = (*journal, *rows)
    return journal


def _supposed(
    garden: Garden, index: JournalIndex, morning: Morning, now: datetime
) -> Iterator[JournalEntry]:
    if morning.on in index.briefed:
        return
    data = {"preparing": steps_kept(preparing(garden, index, morning.on))}
    yield JournalEntry(now, garden.name, morning.on, EntryKind.BRIEF, data=data)
    for task in morning.tasks:
        yield JournalEntry(
            now,
            garden.name,
            morning.on,
            EntryKind.TOLD,
            task.batch,
            task.key.text(),
            task.state.value,
        )
