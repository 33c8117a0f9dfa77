"""The season of each batch in phases: conditioning, waiting, growing, picking, spread."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime

from strawbell.decision.projection import season
from strawbell.model.brief import Action, Brief, State, Task, TaskKey
from strawbell.model.forecast import DayWeather, Forecast
from strawbell.model.garden import Batch, Garden, Planting
from strawbell.model.journal import Journal
from strawbell.model.season import BatchCourse, Phase, PhaseKind, SeasonDay, SeasonSeen
from strawbell.model.summary import BatchSummary, CropSummary, Summary
from strawbell.season.history import History
from strawbell.season.local_time import DAY
from strawbell.season.season_summary import summarise
from strawbell.season.stage import (
    is_picking,
    last_harvest_key,
    once_key,
    planting_key,
    planting_label,
)

Dated = tuple[tuple[date, Task], ...]
"""The tasks of one batch with their dates, oldest first."""


def season_seen(
    garden: Garden, journal: Journal, forecast: Forecast | None, now: datetime, brief: Brief
) -> SeasonSeen:
    """Return a season as it is shown at `now`; `brief` is the one of that moment.

    The weather of a past day is as it came where that is kept, else as its own morning expected it;
    from today on it is the forecast.
    """
    history = History.of(garden, journal, brief.on)
    found = summarise(history)
    days = season(garden, history.index, forecast, now)
    weather = {on: each for on, each in history.index.weather.items() if on < brief.on}
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
