"""Every batch day by day: what was told and done, and what is projected to the season's end.

Decided 2026-11-25: A past day of the season shows what that morning was told, not what the plan
alone had due.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from msgspec.structs import replace

from strawbell.decision.brief import Morning, decide
from strawbell.decision.daily_weather import DailyWeather
from strawbell.model.brief import Action, State, Task
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import Journal
from strawbell.model.season import SeasonDay
from strawbell.season.conditioning import is_missed
from strawbell.season.fold import begin, candidates, step
from strawbell.season.journal_index import DayLog, JournalIndex, figure
from strawbell.season.local_time import DAY
from strawbell.season.stage import BatchState, Day, once_key
from strawbell.weather.chance import garden_site

LONGEST_SEASON_DAYS = 400
"""A season is projected no further than this from its start [days]: no vegetable takes longer."""
EMPTY_DAYS = 14
"""How long ready bales with nothing to plant stay in the projection (design choice) [days]."""
MOST_HELD_DAYS = 30
"""By how much frost and rain may put off conditioning and still be in the projection [days]."""


def season(
    garden: Garden, journal: Journal | JournalIndex, forecast: Forecast | None, now: datetime
) -> tuple[SeasonDay, ...]:
    """Return the season of a garden from its first soaking to its last task.

    Past days show what was told and became of it; today and later days are decided as `brief`
    decides them, so the two can never disagree.
    """
    index = JournalIndex.of(journal)
    daily = DailyWeather(garden, forecast, now, site=garden_site(index.readings()))
    past = tuple(_past(garden, index, daily))
    last = last_day(garden, daily.today)
    ahead = []
    for morning in decide(garden, index, daily, now):
        if morning.on > last or _is_over(garden, morning):
            break
        ahead.append(
            SeasonDay(
                morning.on, morning.tasks, morning.conditions.weather, morning.on > daily.today
            )
        )
    return tuple(day for day in (*past, *ahead) if day.tasks)


def last_day(garden: Garden, today: date) -> date:
    """Return the latest date any batch of the garden is projected to.

    Planted bales end earlier, when the projection has their straw spread.
    """
    return max((_last_day(batch, today) for batch in garden.batches), default=today)


def _last_day(batch: Batch, today: date) -> date:
    longest = batch.start_on + timedelta(days=LONGEST_SEASON_DAYS)
    if batch.plantings:
        return longest
    ready = batch.start_on + timedelta(days=batch.schedule.plant_from_day - 1)
    # Holds move a season on; days without any task are left out of it again.
    last = ready + timedelta(days=EMPTY_DAYS + MOST_HELD_DAYS)
    return min(max(last, today), longest)


def _is_over(garden: Garden, morning: Morning) -> bool:
    """Return whether the straw of every planted batch is spread, and no bales stand empty."""
    if len(morning.days) < len(garden.batches):
        return False
    return all(
        once_key(day.batch.name, Action.SPREAD) in day.state.done
        if day.batch.plantings
        else morning.on > _last_day(day.batch, day.batch.start_on)
        for day in morning.days
    )


def _past(garden: Garden, index: JournalIndex, daily: DailyWeather) -> Iterator[SeasonDay]:
    states: dict[str, BatchState] = {}
    on = min((batch.start_on for batch in garden.batches), default=daily.today)
    while on < daily.today:
        tasks: list[Task] = []
        for batch in garden.batches:
            if batch.start_on > on:
                continue
            log = index.day(batch, on)
            state = begin(states.get(batch.name, BatchState()), batch, log)
            day = Day(garden, batch, state, log)
            tasks += (_as_it_went(task, day) for task in _asked(day))
            states[batch.name] = step(state, garden, batch, log)
        weather = index.weather.get(on) or daily.on(on).weather
        yield SeasonDay(on, tuple(tasks), weather, projected=False)
        on += DAY


def _asked(day: Day) -> Iterator[Task]:
    """Yield what was asked of the grower on a past date.

    Where that morning was told it is what was told, weather and all; else the plan's own work.
    """
    log, batch, planned = day.log, day.batch, candidates(day)
    if log.told is None and not (log.briefed_at is not None and log.is_kept):
        yield from planned
        return
    told = log.told or {}
    for task in planned:
        if task.key in told or log.answer(task.key) is not None:
            yield _as_told(task, log)
    known = {task.key for task in planned}
    for key in told:
        action = log.amounts.get(key, {}).get("action")
        if key not in known and action in set(Action):
            bare = Task(key, batch.name, batch.bales, Action(str(action)), State.DUE)
            yield _as_told(bare, log)


def _as_told(task: Task, log: DayLog) -> Task:
    """Return work with the crops and the water that were told, where these were kept."""
    kept = log.amounts.get(task.key, {})
    litres, times = figure(kept, "water_per_bale_l"), kept.get("times_a_day")
    return replace(
        task,
        crops=log.crops_of(task.key) or task.crops,
        water_per_bale_l=task.water_per_bale_l if litres is None else litres,
        times_a_day=times if isinstance(times, int) else task.times_a_day,
    )


def _as_it_went(task: Task, day: Day) -> Task:
    if day.log.is_done(task.key):
        return replace(task, state=State.DONE)
    if is_missed(day.state.sequence, day.batch, day.log, task.key):
        return replace(task, state=State.MISSED)
    held = State.HELD in (day.log.state_of(task.key), task.state)
    return replace(task, state=State.HELD if held else State.DONE)
