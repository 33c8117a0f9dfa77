"""A season day by day."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from enum import StrEnum

from msgspec import Struct

from strawbell.model.brief import Task
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Garden
from strawbell.model.summary import BatchSummary, Summary


class SeasonDay(Struct, frozen=True):
    """One date of a season: its tasks, and its weather as far as a forecast knows it."""

    on: date
    tasks: tuple[Task, ...]
    weather: DayWeather
    projected: bool


class PhaseKind(StrEnum):
    """What goes on in a batch for a while."""

    CONDITIONING = "conditioning"
    WAITING = "waiting"
    GROWING = "growing"
    PICKING = "picking"


class Phase(Struct, frozen=True):
    """A part of a batch's season from `first` through `last`.

    `label` is the crop, numbered where it comes twice, "" before planting. `projected` says
    whether its last day is still to come.
    """

    kind: PhaseKind
    first: date
    last: date
    label: str = ""
    projected: bool = False


class BatchCourse(Struct, frozen=True):
    """A batch's season in phases, crop by crop as they begin, and the feedings still planned.

    `ends_on` is when its straw is spread, or its last known day.
    """

    batch: str
    bales: int
    start_on: date
    ends_on: date
    phases: tuple[Phase, ...]
    planned_feedings: tuple[date, ...] = ()
    spread_on: date | None = None


class SeasonSeen(Struct, frozen=True):
    """A garden's season as it is shown on a date; weather by date, kept or forecast."""

    garden: Garden
    today: date
    courses: tuple[BatchCourse, ...]
    found: Summary
    weather: Mapping[date, DayWeather]

    def went(self, batch: str) -> BatchSummary | None:
        """Return what the journal says of a batch, None before it began."""
        return next((each for each in self.found.batches if each.batch == batch), None)
