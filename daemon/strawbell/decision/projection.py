"""The season to its end: every batch day by day and in its phases, and what is still to be bought.

Decided 2026-11-25: A past day of the season shows what that morning was told, not what the plan
alone had due.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import date, datetime, timedelta

from msgspec.structs import replace

from strawbell.agronomy.doses import dose_of
from strawbell.agronomy.supplies import FeedItem, Item, MixItem, WaterItem, needs
from strawbell.decision.brief import Morning, decide
from strawbell.decision.daily_weather import DailyWeather
from strawbell.decision.estimates import Estimates
from strawbell.model.brief import Action, Also, Brief, State, Task, TaskKey
from strawbell.model.details import MixDetail
from strawbell.model.feeds import Dose, Need, Supply
from strawbell.model.forecast import DayWeather, Forecast
from strawbell.model.garden import Batch, Garden, Planting
from strawbell.model.journal import Journal
from strawbell.model.season import (
    BatchCourse,
    BatchSummary,
    CropSummary,
    Phase,
    PhaseKind,
    SeasonDay,
    SeasonSeen,
    Summary,
)
from strawbell.season.conditioning import is_missed
from strawbell.season.feedings import feedings_given
from strawbell.season.fold import FoldCache, candidates, past_days, state_at
from strawbell.season.journal_index import DayLog, JournalIndex, figure
from strawbell.season.local_time import DAY
from strawbell.season.season_summary import summarise
from strawbell.season.stage import (
    Day,
    is_picking,
    last_harvest_key,
    once_key,
    planting_key,
    planting_label,
)
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
    folds = FoldCache()
    past = tuple(_past(garden, index, daily, folds))
    last = last_day(garden, daily.today)
    ahead = []
    for morning in decide(Estimates(garden, index, daily, folds)):
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


def _past(
    garden: Garden, index: JournalIndex, daily: DailyWeather, folds: FoldCache
) -> Iterator[SeasonDay]:
    tasks: dict[date, list[Task]] = {}
    for batch in garden.batches:
        for day in past_days(garden, batch, index, daily.today, folds):
            asked = (_as_it_went(task, day) for task in _asked(day))
            tasks.setdefault(day.on, []).extend(asked)
    for on, found in sorted(tasks.items()):
        weather = index.weather.get(on) or daily.on(on).weather
        yield SeasonDay(on, tuple(found), weather, projected=False)


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


Dated = tuple[tuple[date, Task], ...]
"""The tasks of one batch with their dates, oldest first."""


def season_seen(
    garden: Garden, journal: Journal, forecast: Forecast | None, now: datetime, brief: Brief
) -> SeasonSeen:
    """Return a season as it is shown at `now`; `brief` is the one of that moment.

    The weather of a past day is as it came where that is kept, else as its own morning expected it;
    from today on it is the forecast.
    """
    index = JournalIndex.of(journal)
    found = summarise(garden, journal, index, brief.on)
    days = season(garden, index, forecast, now)
    weather = {on: each for on, each in index.weather.items() if on < brief.on}
    weather[brief.on] = brief.weather
    weather |= {day.on: day.weather for day in brief.ahead}
    first = found.first or brief.on
    known = {on: each for on, each in weather.items() if on >= first and each != DayWeather()}
    return SeasonSeen(garden, brief.on, courses(garden, days, found, brief.on), found, known)


def courses(
    garden: Garden, days: Iterable[SeasonDay], found: Summary, today: date
) -> tuple[BatchCourse, ...]:
    """Return the course of every batch, as it went and as `days` of the season project it."""
    tasks: dict[str, list[tuple[date, Task]]] = {}
    for day in days:
        for task in day.tasks:
            tasks.setdefault(task.batch, []).append((day.on, task))
    went = {each.batch: each for each in found.batches}
    return tuple(
        _course(batch, tuple(tasks.get(batch.name, ())), went.get(batch.name), today)
        for batch in garden.batches
        if batch.name in tasks or batch.name in went
    )


def _course(batch: Batch, tasks: Dated, went: BatchSummary | None, today: date) -> BatchCourse:
    last_known = max((on for on, _ in tasks), default=max(today, batch.start_on))
    spread_key = once_key(batch.name, Action.SPREAD)
    spread_on = (went.spread_on if went else None) or _first(tasks, {spread_key})
    ends_on = spread_on or max(last_known, batch.start_on)
    return BatchCourse(
        batch=batch.name,
        bales=batch.bales,
        start_on=batch.start_on,
        ends_on=ends_on,
        phases=tuple(_phases(batch, tasks, went, today, ends_on)),
        planned_feedings=tuple(
            on
            for on, task in tasks
            if on >= today and task.action is Action.FEED and task.state is State.DUE
        ),
        spread_on=spread_on,
    )


def _phases(
    batch: Batch, tasks: Dated, went: BatchSummary | None, today: date, ends_on: date
) -> Iterator[Phase]:
    planned = max((on for on, task in tasks if task.day is not None), default=batch.start_on)
    conditioned = (went.conditioned_on if went else None) or planned
    yield Phase(PhaseKind.CONDITIONING, batch.start_on, conditioned, projected=conditioned >= today)
    crops = {crop.label: crop for crop in went.crops} if went else {}
    by_crop = [
        tuple(_crop_phases(batch, planting, tasks, crops, today, ends_on))
        for planting in batch.plantings
    ]
    by_crop.sort(key=lambda phases: phases[0].first if phases else ends_on)
    growing = [phase for phases in by_crop for phase in phases]
    first = min((phase.first for phase in growing), default=ends_on + DAY)
    if first > conditioned + DAY:
        yield Phase(
            PhaseKind.WAITING, conditioned + DAY, first - DAY, projected=first - DAY >= today
        )
    yield from growing


def _crop_phases(
    batch: Batch,
    planting: Planting,
    tasks: Dated,
    crops: Mapping[str, CropSummary],
    today: date,
    ends_on: date,
) -> Iterator[Phase]:
    label = planting_label(batch, planting)
    went = crops.get(label) or CropSummary(label, planting.crop.name)
    since = went.planted_on or _first(tasks, {planting_key(batch, planting)})
    if since is None:
        return
    ending = last_harvest_key(batch, planting)
    over = went.over_on or _first(tasks, {ending}) or ends_on
    over = max(over, since)
    ahead = went.over_on is None
    told = _first(tasks, {task.key for _, task in tasks if is_picking(batch, planting, task.key)})
    known = [on for on in (told, went.first_harvest_on, went.picking_told_on) if on is not None]
    picking = min(known, default=None)
    if picking is None or picking > over:
        yield Phase(PhaseKind.GROWING, since, over, label, ahead)
        return
    if picking > since:
        yield Phase(PhaseKind.GROWING, since, picking - DAY, label, picking - DAY >= today)
    yield Phase(PhaseKind.PICKING, max(picking, since), over, label, ahead)


def _first(tasks: Dated, keys: set[TaskKey]) -> date | None:
    """Return the first date on which one of these tasks is done or due."""
    return next(
        (on for on, task in tasks if task.key in keys and task.state in (State.DUE, State.DONE)),
        None,
    )


REMIND_DAYS = 3
"""How long before something new is needed the evening note speaks of it [days]."""


def shopping(
    garden: Garden, journal: Journal | JournalIndex, forecast: Forecast | None, now: datetime
) -> tuple[Need, ...]:
    """Return every feed, mix and water amount for what is left of the plan.

    What was given, by the plan or beyond it, was taken out of packages that are counted as
    bought whole. Held work counts when it is projected to be due; water to the end of the season
    is what the plan asks for, rain is not taken off.
    """
    today = garden.place.date_at(now)
    index = JournalIndex.of(journal)
    days = season(garden, index, forecast, now)
    items = _items(garden, (day for day in days if day.on >= today))
    return needs(items, _used_g(garden, index, today))


def _used_g(garden: Garden, index: JournalIndex, today: date) -> Mapping[str, float]:
    """Return how much of each feed was given before a date, in all batches [g].

    Of a feed whose stock was counted on a date, what was given from that morning on.
    """
    used: dict[str, float] = {}
    for batch in garden.batches:
        state = state_at(garden, batch, index, max(today, batch.start_on))
        for given in feedings_given(batch, state, index.day(batch, today)):
            since = None if given.feed is None else given.feed.stock_on
            if given.feed is not None and (since is None or given.on >= since):
                used[given.feed.name] = used.get(given.feed.name, 0.0) + given.total_g
    return used


def needed_soon(
    garden: Garden,
    journal: Journal | JournalIndex,
    forecast: Forecast | None,
    now: datetime,
    today: Brief,
) -> tuple[Need, ...]:
    """Return what is needed for the first time ever, or runs out, in exactly `REMIND_DAYS`.

    The amount is for all that is left of the plan. A feed that was told before is at hand, one
    whose stock is known until that is used up, and water is not bought. Only for what is new the
    rest of the season is projected: on most evenings the days ahead in `today`, the brief of
    `now`, show that there is nothing.
    """
    near = (
        SeasonDay(today.on, today.tasks, today.weather, projected=False),
        *(
            SeasonDay(day.on, day.tasks, day.weather, projected=True)
            for day in today.ahead[:REMIND_DAYS]
        ),
    )
    index = JournalIndex.of(journal)
    at_hand = index.feeds_at_hand(min((each.start_on for each in garden.batches), default=today.on))
    items = tuple(_items(garden, near))
    counted = any(isinstance(item, FeedItem) and item.feed.stock_kg is not None for item in items)
    used = _used_g(garden, index, today.on) if counted else {}
    soon = _first_needed(needs(items, used), at_hand, today.on)
    if not soon:
        return ()
    return _first_needed(shopping(garden, index, forecast, now), at_hand, today.on)


def _first_needed(
    wanted: Iterable[Need], at_hand: Collection[str], today: date
) -> tuple[Need, ...]:
    return tuple(
        need
        for need in wanted
        if (need.needed_by - today).days == REMIND_DAYS
        and need.kind is not Supply.WATER
        and not need.is_at_hand
        and (need.stock_kg is not None or need.name not in at_hand)
    )


def _items(garden: Garden, days: Iterable[SeasonDay]) -> Iterator[Item]:
    batches = {batch.name: batch for batch in garden.batches}
    for day in days:
        for task in day.tasks:
            if task.state is State.DUE:
                yield from _of_task(task, batches[task.batch], day.on)


def _planned(batch: Batch, task: Task) -> Dose | None:
    """Return the whole dose of a day of which the bale is only expected to have no room."""
    if not {Also.LITTLE_ROOM, Also.FULL} & set(task.also):
        return None
    steps = (step for step in batch.schedule.days if step.day == task.day)
    return next((dose_of(batch, step) for step in steps), None)


def _of_task(task: Task, batch: Batch, on: date) -> Iterator[Item]:
    if task.dose is not None:
        dose = _planned(batch, task) or task.dose
        known = (feed for feed in batch.feeds() if feed.name == dose.feed)
        yield from (FeedItem(on, feed, dose) for feed in known)
    if isinstance(task.detail, MixDetail):
        yield MixItem(on, task.detail.per_bale_l * task.bales)
    if task.water_per_bale_l is not None:
        yield WaterItem(on, task.water_per_bale_l * task.bales * task.times_a_day)
