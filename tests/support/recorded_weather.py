"""Recorded weather made to measure: mild and dry, with rain or cold written over dates."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from strawbell.model.forecast import Hour
from strawbell.rehearsal.recorded import Report, Weather
from strawbell.season.local_time import bounds_of
from support.gardens import START, ZONE


def mild_weather(
    rain_mm: Mapping[date, float] | None = None,
    low_c: Mapping[date, float] | None = None,
    *,
    days: int = 80,
    usual_c: float = 14.0,
    swing_c: float = 0.0,
    unknown: frozenset[date] = frozenset(),
) -> Weather:
    """Return hours around a season, coldest at 3:00; a date of `unknown` has none."""
    zone = ZoneInfo(ZONE)
    hours = {}
    first = START - timedelta(days=5)
    for day in range(days + 5):
        on = first + timedelta(days=day)
        start, end = bounds_of(on, zone)
        count = (end - start) // timedelta(hours=1)
        for number in range(0 if on in unknown else count):
            at = start + timedelta(hours=number)
            air_c = usual_c + swing_c * math.cos((number - 15) / 24 * 2 * math.pi)
            air_c = (low_c or {}).get(on, air_c)
            hours[at] = Hour(at, temperature_c=air_c, rain_mm=(rain_mm or {}).get(on, 0.0) / count)
    return Weather(hours, Report(first, first + timedelta(days=days + 4), True, (), ()), zone)
