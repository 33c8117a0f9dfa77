"""Drives gardens through the very same pipeline on recorded weather and a simulated clock."""

from __future__ import annotations

import heapq
import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from itertools import chain, groupby

from strawbell.app.outbox import Sender
from strawbell.app.pipeline import Pipeline, Run, Told
from strawbell.app.ports import Channel, ForecastFor, Store
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Garden, Place
from strawbell.rehearsal.recorded import Weather
from strawbell.rehearsal.skill import forecast_at, issue_of
from strawbell.season.local_time import DAY, moment_of


class SimulatedClock:
    """Time as an argument: both hands move only when told to."""

    def __init__(self, start: datetime) -> None:
        """Stand at `start` (aware)."""
        self._start = start.astimezone(UTC)
        self._now = self._start

    def set(self, moment: datetime) -> None:
        """Move both hands to a moment."""
        self._now = moment.astimezone(UTC)

    def now(self) -> datetime:
        """Return where the clock stands (UTC)."""
        return self._now

    def monotonic(self) -> float:
        """Return the seconds since the start."""
        return (self._now - self._start).total_seconds()


def moments_of(garden: Garden, first: date, last: date) -> Iterator[datetime]:
    """Yield the moments a daemon would look at a garden, from a date through another.

    The morning, the watch at its own interval while it is not quiet, and the evening.
    """
    zone = garden.place.zone
    times = garden.times
    every = timedelta(minutes=times.watch_every_min)
    on = first
    while on <= last:
        morning = moment_of(on, times.morning, zone)
        evening = moment_of(on, times.evening, zone)
        quiet = moment_of(on, times.quiet_from, zone)
        watches = int(max(timedelta(0), quiet - morning) / every)
        moments = {morning + every * number for number in range(watches + 1)}
        yield from sorted(moments | {evening})
        on += DAY


def merged_moments(gardens: Sequence[Garden], first: date, last: date) -> Iterator[datetime]:
    """Yield the moments of all gardens in order, each once."""
    together = heapq.merge(*(moments_of(garden, first, last) for garden in gardens))
    return (moment for moment, _ in groupby(together))


def forecasts_from(weather: Mapping[str, Weather], skill: str, seed: int) -> ForecastFor:
    """Return what gives the pipeline its forecasts; one issue is reckoned once a place and date."""
    kept: dict[str, tuple[tuple[datetime, date], Forecast | None]] = {}

    def forecast_for(place: Place, now: datetime) -> tuple[Forecast | None, tuple[str, ...]]:
        there = weather[place.time_zone]
        wanted = (issue_of(now), now.astimezone(there.zone).date())
        known = kept.get(place.time_zone)
        if known is None or known[0] != wanted:
            known = kept[place.time_zone] = (wanted, forecast_at(there, skill, now, seed))
        forecast = known[1]
        return forecast, () if forecast else ("The record knows nothing of these days.",)

    return forecast_for


def rehearse(
    gardens: Sequence[Garden],
    weather: Mapping[str, Weather],
    store: Store,
    channels: Sequence[Channel],
    dates: tuple[date, date],
    skill: str,
    seed: int,
) -> Iterator[Told]:
    """Yield what each garden is told from a date through another, already delivered.

    `weather` is by the time zone of a garden; all of them go through one pipeline.
    """
    moments = merged_moments(gardens, *dates)
    first = next(moments, None)
    if first is None:
        return
    clock = SimulatedClock(first)
    sender = Sender(clock, random.Random(seed))  # noqa: S311 - a rehearsal is the same each time
    forecast_for = forecasts_from(weather, skill, seed)
    pipeline = Pipeline(gardens, store, channels, forecast_for, sender)
    yield from play(pipeline, clock, chain((first,), moments))


def play(pipeline: Pipeline, clock: SimulatedClock, moments: Iterable[datetime]) -> Iterator[Told]:
    """Move the clock from moment to moment; yield what was told at each, already delivered.

    `clock` is the one that the pipeline sends by.
    """
    for moment in moments:
        clock.set(moment)
        told = pipeline.tick(moment)
        if told:
            pipeline.through(Run(moment, channels=pipeline.channels))
        yield from told
