"""Batches past their conditioning, and the pieces that the judging half of a brief is made from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta

from msgspec.structs import replace

from strawbell.decision.alerts import Lookout
from strawbell.decision.daily_weather import DailyWeather
from strawbell.decision.estimates import BatchEstimate, Estimates
from strawbell.model.brief import Task
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import Journal
from strawbell.season.journal_index import DayLog, JournalIndex
from strawbell.season.stage import BatchState, Day, SequenceState, planting_key
from support.gardens import START, at, garden

FINISHED = START + timedelta(days=10)
"""The last day of conditioning when nothing was held."""


def state(
    own: Batch, planted: date | None = None, done: Mapping[str, date] | None = None
) -> BatchState:
    """Return a batch after conditioning, with all of its crops in since `planted`."""
    put_in = {} if planted is None else {planting_key(own, each): planted for each in own.plantings}
    sequence = SequenceState(
        position=len(own.schedule.days), soaked=True, finished_on=FINISHED, waits_since=FINISHED
    )
    return BatchState(sequence, {**put_in, **(done or {})})


def day(
    own: Batch,
    where: BatchState,
    on: date,
    plan: Garden | None = None,
    log: DayLog | None = None,
) -> Day:
    """Return the batch on a date."""
    return Day(plan or garden(own), own, where, log or DayLog(on))


def lookout(
    own: Batch,
    where: BatchState,
    seen: Forecast | None,
    now: datetime,
    journal: Journal = (),
    tasks: tuple[Task, ...] = (),
    **changes: object,
) -> Lookout:
    """Return what a watch of the garden of one batch is told at a moment."""
    plan = garden(own, **changes)
    index = JournalIndex.of(journal)
    daily = DailyWeather(plan, seen, now)
    estimates = Estimates(plan, index, daily)
    days = (Day(plan, own, where, index.day(own, daily.today)),)
    estimates.begin(days)
    return Lookout(plan, days, index.alerts, daily, estimates, tasks)


def night(on: date, low_c: float | None, **values: float | None) -> Callable[[Hour], Hour]:
    """Return a change that makes 05:00 after the evening of a date the coldest of its night."""
    begins, ends = at(on, 18, 0), at(on + timedelta(days=1), 9, 0)
    coldest = at(on + timedelta(days=1), 5, 0)

    def change(hour: Hour) -> Hour:
        if not begins <= hour.starts_at < ends:
            return hour
        air = {"temperature_c": low_c, **values} if hour.starts_at == coldest else values
        return replace(hour, **air)  # type: ignore[arg-type]

    return change


def both(*changes: Callable[[Hour], Hour]) -> Callable[[Hour], Hour]:
    """Return several changes one after the other."""

    def change(hour: Hour) -> Hour:
        for each in changes:
            hour = each(hour)
        return hour

    return change


def warm(on: date, high_c: float, **values: float | None) -> Callable[[Hour], Hour]:
    """Return a change that makes 15:00 of a date the warmest of it."""
    warmest = at(on, 15, 0)

    def change(hour: Hour) -> Hour:
        if hour.starts_at == warmest:
            return replace(hour, temperature_c=high_c, **values)  # type: ignore[arg-type]
        return hour

    return change


class Known(Estimates):
    """Estimates that are given, not computed."""

    def __init__(self, estimate: BatchEstimate, held_l: float | None = None) -> None:
        self.estimate = estimate
        self.water_l = held_l

    def held_l(self, batch: Batch, on: date) -> float | None:
        """Return the one amount of water."""
        return self.water_l

    def core_if_read_c(self, batch: Batch, reading_c: float) -> float | None:
        """Return nothing: there is no bale that a reading would be of."""
        return None

    def of(self, batch: Batch) -> BatchEstimate:
        """Return the one estimate."""
        return self.estimate
