"""Sums and extremes of a forecast over a window of time, and how much of it is known.

Missing is unknown: an hour that is absent, or whose value is None, never counts as dry or warm;
it makes the figure incomplete.

Decided 2026-11-25: Instants and amounts. Every `Hour` begins at `starts_at`; adapters translate. A
window counts rain of a partly covered hour by its share, and temperature at the full hours inside
it: a frost at 06:00 does not hold a feeding decided at 06:30.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from math import fsum
from operator import attrgetter

from msgspec import Struct

from strawbell.model.forecast import Hour

HOUR = timedelta(hours=1)
ROUND_TO_DIGITS = 6
"""Sums are rounded here [digits] so that 0.1 mm a hundred and twenty-seven times is 12.7 mm."""
FULL_COVER_H = 1e-6
"""How many hours may be missing before a window counts as incomplete: rounding only [h]."""


class Figure(Struct, frozen=True):
    """A sum or an extreme over a window.

    `value` is that of the known part, None when nothing is known; `at` the moment of the extreme
    or of the wettest hour (UTC); `complete` whether every hour of the window is known.
    """

    value: float | None
    at: datetime | None
    complete: bool


def hours_between(hours: Sequence[Hour], start: datetime, end: datetime) -> Sequence[Hour]:
    """Return the hours that overlap [start, end), by bisection on their ascending beginnings."""
    first = bisect_left(hours, start - HOUR, key=_beginning)
    if first < len(hours) and hours[first].starts_at + HOUR <= start:
        first += 1
    return hours[first : bisect_left(hours, end, first, key=_beginning)]


def rain_total(hours: Sequence[Hour], start: datetime, end: datetime) -> Figure:
    """Return the rain over [start, end) [mm].

    An hour that is only partly inside counts with its share, as if it rained evenly in it.
    """
    known = [hour for hour in hours_between(hours, start, end) if hour.rain_mm is not None]
    if not known:
        return Figure(None, None, False)
    cut_off = _cut_off(known, start, end)
    missing_mm = fsum(share * (hour.rain_mm or 0.0) for hour, share in cut_off)
    total_mm = fsum([*map(_rain, known), -missing_mm])
    wettest = max(known, key=_rain)
    known_h = len(known) - fsum(share for _, share in cut_off)
    return Figure(
        round(total_mm, ROUND_TO_DIGITS),
        max(wettest.starts_at, start),
        _covers(known_h, start, end),
    )


def lowest_temperature(hours: Sequence[Hour], start: datetime, end: datetime) -> Figure:
    """Return the lowest air temperature at the full hours in [start, end) [degC at 2 m]."""
    known, complete = _instants(hours, start, end)
    return _extreme(min, known, complete)


def highest_temperature(hours: Sequence[Hour], start: datetime, end: datetime) -> Figure:
    """Return the highest air temperature at the full hours in [start, end) [degC at 2 m]."""
    known, complete = _instants(hours, start, end)
    return _extreme(max, known, complete)


def temperature_range(
    hours: Sequence[Hour], start: datetime, end: datetime
) -> tuple[Figure, Figure]:
    """Return the lowest and the highest air temperature at the full hours in [start, end)."""
    known, complete = _instants(hours, start, end)
    return _extreme(min, known, complete), _extreme(max, known, complete)


def highest_chance(hours: Sequence[Hour], start: datetime, end: datetime) -> float | None:
    """Return the highest chance of rain over [start, end) [percent], None where none is known."""
    chances = [hour.rain_chance_percent for hour in hours_between(hours, start, end)]
    return max((chance for chance in chances if chance is not None), default=None)


def _instants(hours: Sequence[Hour], start: datetime, end: datetime) -> tuple[Sequence[Hour], bool]:
    """Return the hours that begin in [start, end) with a temperature, and whether those are all."""
    first = bisect_left(hours, start, key=_beginning)
    inside = hours[first : bisect_left(hours, end, first, key=_beginning)]
    known = [hour for hour in inside if hour.temperature_c is not None]
    return known, len(known) >= _full_hours(start, end)


def _extreme(pick: Callable[..., Hour], known: Sequence[Hour], complete: bool) -> Figure:
    if not known:
        return Figure(None, None, complete)
    extreme = pick(known, key=_temperature)
    return Figure(extreme.temperature_c, extreme.starts_at, complete)


def _full_hours(start: datetime, end: datetime) -> int:
    """Return how many full hours (UTC) lie in [start, end)."""
    first = start
    if start.minute or start.second or start.microsecond:
        first = start.replace(minute=0, second=0, microsecond=0) + HOUR
    return max(0, -((first - end) // HOUR))


_beginning: Callable[[Hour], datetime] = attrgetter("starts_at")
_rain: Callable[[Hour], float] = attrgetter("rain_mm")
_temperature: Callable[[Hour], float] = attrgetter("temperature_c")


def _cut_off(hours: Sequence[Hour], start: datetime, end: datetime) -> Sequence[tuple[Hour, float]]:
    """Return the first and last hour where they reach out of the window, and by what share."""
    cut_off = []
    first, last = hours[0], hours[-1]
    if first.starts_at < start:
        cut_off.append((first, (start - first.starts_at) / HOUR))
    if (ends := last.starts_at + HOUR) > end:
        cut_off.append((last, (ends - end) / HOUR))
    return cut_off


def _covers(known_h: float, start: datetime, end: datetime) -> bool:
    return known_h >= (end - start) / HOUR - FULL_COVER_H
