"""A season day by day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from strawbell.model.brief import Task
from strawbell.model.forecast import DayWeather


@dataclass(frozen=True, slots=True)
class SeasonDay:
    """One date of a season: its tasks, and its weather as far as a forecast knows it."""

    on: date
    tasks: tuple[Task, ...]
    weather: DayWeather
    projected: bool
