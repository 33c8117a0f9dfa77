"""Whether the chances come true: each morning's, beside what the day brought."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import pairwise
from statistics import fmean
from typing import Any, NamedTuple

from strawbell.model.forecast import Forecast, Hour, Readings
from strawbell.model.garden import Place
from strawbell.rehearsal.course import Truth
from strawbell.rehearsal.recorded import Weather
from strawbell.rehearsal.skill import forecast_at
from strawbell.season.local_time import DAY
from strawbell.weather.chance import (
    Colder,
    garden_site,
    high_chance,
    low_chance,
    rain_chance,
)
from strawbell.weather.thresholds import FREEZE_HOLD_C, HOT_DAY_C, RAIN_HOLD_MM
from strawbell.weather.windows import (
    HOUR,
    highest_temperature,
    hours_between,
    lowest_temperature,
    rain_total,
)
from tests.value.springs import SKILL, garden_with

BINS = (0.0, 0.05, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95, 1.01)
"""Chances that are said alike, by the tenth."""


class Said(NamedTuple):
    """A chance of an event, and whether it came."""

    event: str
    chance: float
    came: bool


def asked_of(place: Place, weather: Weather, seed: int) -> Iterator[Said]:
    """Yield the chances of every morning of a record with whole days around it.

    What the lows so far have taught of the place is known, as it is to whoever reads a thermometer.
    """
    truth = Truth(garden_with(place), weather)
    lows: list[tuple[float, float, bool | None]] = []
    on, last = weather.report.first + 2 * DAY, weather.report.last - 12 * DAY
    while on <= last:
        at = truth.morning(on)
        forecast = forecast_at(weather, SKILL, at, seed)
        hours = hours_between(tuple(weather.hours.values()), at, at + DAY)
        if forecast is not None and len(hours) >= DAY // HOUR:
            site = garden_site(Readings(lows=tuple(lows)))
            yield from _of(forecast, hours, at, site.any_night)
            said = lowest_temperature(forecast.hours, at, at + DAY).value
            came = lowest_temperature(hours, at, at + DAY).value
            if said is not None and came is not None:
                lows.append((said, came, None))
        on += DAY


def _of(forecast: Forecast, hours: Sequence[Hour], at: datetime, colder: Colder) -> Iterator[Said]:
    end = at + DAY
    rain, low = rain_total(hours, at, end), lowest_temperature(hours, at, end)
    high = highest_temperature(hours, at, end)
    freeze = low_chance(forecast, at, end, FREEZE_HOLD_C, colder)
    for event, chance, figure, reached in (
        ("half an inch of rain", rain_chance(forecast, at, end, RAIN_HOLD_MM), rain,
         lambda mm: mm >= RAIN_HOLD_MM),
        ("a freeze", freeze, low, lambda c: c <= FREEZE_HOLD_C),
        ("a hot day", high_chance(forecast, at, end, HOT_DAY_C), high, lambda c: c >= HOT_DAY_C),
    ):  # fmt: skip
        if chance.value is not None and figure.value is not None and figure.complete:
            yield Said(event, chance.value, reached(figure.value))


def scored(said: Sequence[Said]) -> dict[str, Any]:
    """Return for each event its Brier score and how much of it is unreliable."""
    return {
        event: _score([each for each in said if each.event == event])
        for event in dict.fromkeys(each.event for each in said)
    }


def _score(said: Sequence[Said]) -> dict[str, Any]:
    """Return the parts of the Brier score, with what chance alone adds to REL taken off."""
    base = fmean(each.came for each in said)
    rel = 0.0
    rows = []
    for low, high in pairwise(BINS):
        alike = [each for each in said if low <= each.chance < high]
        if not alike:
            continue
        chance, came = fmean(each.chance for each in alike), fmean(each.came for each in alike)
        expected = came * (1.0 - came) / max(1, len(alike) - 1)
        rel += len(alike) / len(said) * ((chance - came) ** 2 - expected)
        rows.append([len(alike), round(chance, 3), round(came, 3)])
    brier = fmean((each.chance - each.came) ** 2 for each in said)
    return {
        "decisions": len(said),
        "base": round(base, 4),
        "brier": round(brier, 4),
        "skill": round(1.0 - brier / max(1e-9, base * (1.0 - base)), 3),
        "rel": round(max(0.0, rel), 5) if math.isfinite(rel) else None,
        "by_chance": rows,
    }
