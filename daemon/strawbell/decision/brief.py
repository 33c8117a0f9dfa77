"""The heart: from (garden, journal, forecast or none, now) to the day's brief.

The daemon, the commands, the rehearsal and the tests all call `brief`; none of them decides
anything itself. The days ahead are the same decision made again on each later morning, as if
what it tells had been told: so a projection can never disagree with the decision it projects.

Decided 2026-11-25: A supposed time later than now (`--at`) takes the days between as told;
otherwise asking about next week would look like a downtime.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from msgspec import Struct
from msgspec.structs import replace

from strawbell.decision.alerts import Lookout, alerts
from strawbell.decision.daily_weather import DailyWeather, DayConditions, SharedWeather
from strawbell.decision.estimates import Estimates, outlook_of
from strawbell.decision.hold_judgement import Case, judge, mix_with_its_seed, water_with_its_feed
from strawbell.decision.weather_tasks import with_sown_bed, with_tarp, with_weather
from strawbell.model.brief import Brief, DayAhead, Reason, ReasonCode, State, Task
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.conditioning import is_missed, preparing, steps_kept
from strawbell.season.fold import FoldCache, begin, candidates, state_at, step
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import DAY
from strawbell.season.planting import crowding
from strawbell.season.stage import BatchState, Day
from strawbell.weather.chance import garden_site

DAYS_AHEAD = 7
"""How many days are projected: as far as an hourly forecast is worth showing."""


class Morning(Struct, frozen=True):
    """One decided date: its conditions, where each batch stands, and its tasks."""

    on: date
    conditions: DayConditions
    days: tuple[Day, ...]
    tasks: tuple[Task, ...]


def brief(
    garden: Garden,
    journal: Journal | JournalIndex,
    forecast: Forecast | None,
    now: datetime,
    *,
    whole: bool = True,
    folds: FoldCache | None = None,
    shared: SharedWeather | None = None,
) -> Brief:
    """Decide the day: what is due, what waits and why, what to look out for, what lies ahead.

    `journal` are the garden's rows, oldest first, or the index of them; `forecast` may be None;
    `now` is aware and any zone. Nothing else goes in, so the same arguments give the same brief:
    `folds` and `shared` only save work done before. One that is not `whole` has today's tasks and
    alerts and nothing else, for a watch of the weather that mostly finds nothing.
    """
    index = JournalIndex.of(journal)
    zone = garden.place.zone
    site = garden_site(index.readings())
    decided = index.briefed.get(now.astimezone(zone).date())
    daily = (shared or SharedWeather()).of(garden, forecast, now, decided, site)
    estimates = Estimates(garden, index, daily, folds)
    mornings = decide(estimates)
    today = next(mornings)
    lookout = Lookout(garden, today.days, index.alerts, daily, estimates, today.tasks)
    ahead = [next(mornings) for _ in range(DAYS_AHEAD if whole else 0)]
    shown = today.days if whole else ()
    return Brief(
        garden=garden.name,
        on=today.on,
        as_of=now.astimezone(zone),
        forecast=daily.use,
        weather=today.conditions.weather,
        tasks=today.tasks,
        alerts=alerts(lookout),
        ahead=tuple(DayAhead(each.on, each.conditions.weather, each.tasks) for each in ahead),
        questions=tuple(each for day in today.days for each in day.state.sequence.questions),
        outlooks=tuple(outlook_of(day.batch, estimates) for day in shown),
        not_told=_not_told(garden, index, today.on),
        preparing=preparing(garden, index.prepared, today.on),
        crowding=tuple(each for day in shown for each in crowding(day)),
    )


def decide(estimates: Estimates) -> Iterator[Morning]:
    """Yield today and every later date, each decided as if the one before had been told.

    The estimates are those of today; a later date reads its own out of them.
    """
    garden, index, on = estimates.garden, estimates.index, estimates.daily.today
    days = tuple(
        Day(
            garden,
            batch,
            state_at(garden, batch, index, on, estimates.folds),
            index.day(batch, on),
        )
        for batch in garden.batches
        if batch.start_on <= on
    )
    estimates.begin(days)
    while True:
        morning = _morning(estimates, on, days)
        yield morning
        on += DAY
        new = (each for each in garden.batches if each.start_on == on)
        days = (
            *(_day_after(day, morning.tasks, estimates) for day in days),
            *(Day(garden, each, BatchState(), index.day(each, on)) for each in new),
        )


def _day_after(day: Day, tasks: tuple[Task, ...], estimates: Estimates) -> Day:
    """Return the next day of a batch, if what was decided for this one is told and done."""
    batch, index, now = day.batch, estimates.index, estimates.daily.now
    own = tuple(task for task in tasks if task.batch == batch.name)
    told, log = day.log.as_told(own, now), index.day(batch, day.on + DAY)
    log = replace(log, told_before=told.told or {}, is_kept=log.is_kept or told.is_kept)
    state = begin(step(day.state, day.garden, batch, told), batch, log)
    return Day(day.garden, batch, state, log)


def _morning(estimates: Estimates, on: date, days: tuple[Day, ...]) -> Morning:
    daily = estimates.daily
    tasks: list[Task] = []
    for day in days:
        judged = []
        for task in with_weather(day, candidates(day), daily, estimates):
            held = on == daily.today and day.log.state_of(task.key) is State.HELD
            judged.append(judge(Case(day, task, daily, daily.on(on, told_hold=held), estimates)))
        together = mix_with_its_seed(tuple(judged))
        if on == daily.today:
            together = with_sown_bed(day, together, estimates)
        if not day.log.is_away:
            # A feeding that waits for who is away brings no water; whoever waters gives it all.
            together = water_with_its_feed(together)
        tasks += (
            _answered(task, day) for task in with_tarp(day, together, daily.on(on), estimates)
        )
    return Morning(on, daily.on(on), days, tuple(tasks))


def _answered(task: Task, day: Day) -> Task:
    """Return the task with the grower's own word of that date, which is believed."""
    log = day.log
    if log.is_done(task.key):
        return replace(task, state=State.DONE, held_until=None, instead=())
    if not log.is_missed(task.key):
        return task
    again = replace(task, reasons=(*task.reasons, Reason(ReasonCode.MISSED)))
    if is_missed(day.state.sequence, day.batch, log, task.key):
        return replace(again, state=State.MISSED, held_until=None)
    if task.day is not None:
        return task
    # Outside the sequence a word before the day's brief is about that day, unless it was told.
    return again if task.key in log.again else replace(again, state=State.MISSED, held_until=None)


def _not_told(garden: Garden, index: JournalIndex, today: date) -> tuple[date, ...]:
    """Return the dates of the running season since the last brief that nothing was told on.

    They are told once: a day without power in April is no news in June.
    """
    starts = [batch.start_on for batch in garden.batches if batch.start_on <= today]
    if not starts:
        return ()
    last = max((on for on in index.briefed if on < today), default=today)
    return tuple(on for on in index.not_told(today) if on >= min(starts) and on > last)


def suppose_told(
    garden: Garden, journal: Journal, forecast: Forecast | None, now: datetime, then: datetime
) -> Journal:
    """Return the journal as it will be at a later moment, if every morning until it is told.

    For asking about a day to come: without it the days between would look like a downtime, or,
    where no journal is kept yet, like days on which nothing was held.
    """
    index = JournalIndex.of(journal)
    zone = garden.place.zone
    on, last = now.astimezone(zone).date(), then.astimezone(zone).date()
    if last <= on:
        return journal
    supposed = JournalIndex.of(journal)
    daily = DailyWeather(garden, forecast, now, site=garden_site(index.readings()))
    for morning in decide(Estimates(garden, index, daily)):
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
    data = {"preparing": steps_kept(preparing(garden, index.prepared, morning.on))}
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
