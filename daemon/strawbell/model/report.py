"""A rehearsed season in figures, as its report shows and its JSON says it."""

from __future__ import annotations

from datetime import date

from msgspec import Struct

from strawbell.model.garden import Units


class ReportDay(Struct, frozen=True):
    """One date of a batch: the weather that came, what was told, how the bale stood.

    The band of the core is the one told that morning; nitrogen is reckoned by the rain that came
    [g a bale]. Anything may be unknown.
    """

    on: date
    low_c: float | None
    high_c: float | None
    rain_mm: float | None
    told: tuple[str, ...] = ()
    """What was due that day by the last word of it, in a few words each."""
    held: bool = False
    """A feeding was held."""
    fed: bool = False
    calendar_fed: bool = False
    core_low_c: float | None = None
    core_high_c: float | None = None
    nitrogen_given_g: float = 0.0
    nitrogen_left_low_g: float = 0.0
    nitrogen_left_high_g: float = 0.0
    dry_top_h: float | None = None
    covered: bool = False
    """A cover was told, or a frost warned of, for the night after."""
    frost: bool = False
    """The night after asked for a cover."""
    alerts: tuple[str, ...] = ()
    messages: int = 0


class ReportFigure(Struct, frozen=True):
    """One row of the table: Strawbell beside the calendar, as text."""

    label: str
    strawbell: str
    calendar: str


class BatchReport(Struct, frozen=True):
    """One batch through a season."""

    name: str
    feed: str
    days: tuple[ReportDay, ...]
    figures: tuple[ReportFigure, ...]
    planted: tuple[tuple[date, str], ...] = ()
    calendar_planted: tuple[tuple[date, str], ...] = ()


class SeasonReport(Struct, frozen=True):
    """A garden through a rehearsed season."""

    garden: str
    units: Units
    first: date
    last: date
    forecast: str
    """How the forecasts were made, in a sentence."""
    weather: tuple[str, ...]
    """What the record held and did not hold, a sentence each."""
    notices: int
    notices_per_week: float
    batches: tuple[BatchReport, ...]
    plant_below_c: float
