"""Sums and extremes of a forecast over a window of time, and how much of it is known.

Missing is unknown: an hour that is absent, or whose value is None, never counts as dry or warm;
it makes the figure incomplete.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil, fsum

from strawbell.model.forecast import Hour

HOUR = timedelta(hours=1)
ROUND_TO_DIGITS = 6
"""Sums are rounded here [digits] so that 0.1 mm a hundred and twenty-seven times is 12.7 mm."""
FULL_COVER_H = 1e-6
"""How many hours may be missing before a window counts as incomplete: rounding only [h]."""


@dataclass(frozen=True, slots=True)
class Figure:
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
    return hours[first : bisect_left(hours, end, key=_beginning)]


def rain_total(hours: Sequence[Hour], start: datetime, end: datetime) -> Figure:
    """Return the rain over [start, end) [mm].

    An hour that is only partly inside counts with its share, as if it rained evenly in it.
    """
    amounts: list[float] = []
    known_h: list[float] = []
    wettest: Hour | None = None
    for hour in hours_between(hours, start, end):
        if hour.rain_mm is None:
            continue
        share = _overlap_h(hour, start, end)
        amounts.append(hour.rain_mm * share)
        known_h.append(share)
        if wettest is None or hour.rain_mm > (wettest.rain_mm or 0.0):
            wettest = hour
    if wettest is None:
        return Figure(None, None, False)
    return Figure(
        round(fsum(amounts), ROUND_TO_DIGITS),
        max(wettest.starts_at, start),
        _covers(fsum(known_h), start, end),
    )


def lowest_temperature(hours: Sequence[Hour], start: datetime, end: datetime) -> Figure:
    """Return the lowest air temperature at the full hours in [start, end) [degC at 2 m]."""
    return _extreme_instant(hours, start, end, lower=True)


def highest_temperature(hours: Sequence[Hour], start: datetime, end: datetime) -> Figure:
    """Return the highest air temperature at the full hours in [start, end) [degC at 2 m]."""
    return _extreme_instant(hours, start, end, lower=False)


def highest_chance(hours: Sequence[Hour], start: datetime, end: datetime) -> Figure:
    """Return the highest chance of rain over [start, end) [percent]."""
    highest: Hour | None = None
    known_h = 0.0
    for hour in hours_between(hours, start, end):
        if hour.rain_chance_percent is None:
            continue
        known_h += _overlap_h(hour, start, end)
        if highest is None or hour.rain_chance_percent > (highest.rain_chance_percent or 0.0):
            highest = hour
    if highest is None:
        return Figure(None, None, False)
    return Figure(highest.rain_chance_percent, highest.starts_at, _covers(known_h, start, end))


def _extreme_instant(
    hours: Sequence[Hour], start: datetime, end: datetime, *, lower: bool
) -> Figure:
    """Return the extreme of the instants in [start, end); what was before `start` is over."""
    extreme: Hour | None = None
    best = 0.0
    known = 0
    for hour in hours_between(hours, start, end):
        if hour.temperature_c is None or hour.starts_at < start:
            continue
        known += 1
        if extreme is None or (hour.temperature_c < best if lower else hour.temperature_c > best):
            extreme, best = hour, hour.temperature_c
    complete = known >= _full_hours(start, end)
    if extreme is None:
        return Figure(None, None, complete)
    return Figure(best, extreme.starts_at, complete)


def _full_hours(start: datetime, end: datetime) -> int:
    """Return how many full hours (UTC) lie in [start, end)."""
    first = start.replace(minute=0, second=0, microsecond=0)
    if first < start:
        first += HOUR
    return max(0, ceil((end - first) / HOUR))


def _beginning(hour: Hour) -> datetime:
    return hour.starts_at


def _overlap_h(hour: Hour, start: datetime, end: datetime) -> float:
    begins = hour.starts_at
    ends = begins + HOUR
    if begins >= start and ends <= end:
        return 1.0
    return (min(ends, end) - max(begins, start)) / HOUR


def _covers(known_h: float, start: datetime, end: datetime) -> bool:
    return known_h >= (end - start) / HOUR - FULL_COVER_H
