"""A clock that stands where it is put, and the moments at which a simulated day is looked at."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

from strawbell.model.garden import Garden
from strawbell.season.local_time import DAY, moment_of, zone_of


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
    zone = zone_of(garden.place.time_zone)
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
