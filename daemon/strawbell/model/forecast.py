"""A forecast, the same whichever service it came from.

Every hour is the hour that *begins* at `starts_at`: amounts and means are those of
[starts_at, starts_at + 1 h), instants (temperature, humidity, dew point, wind, cloud) are those at
`starts_at`. Adapters translate from preceding-hour and interval stamping. None is unknown,
never zero.
"""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from msgspec import Struct


class Hour(Struct, frozen=True):
    """One hour of weather; every value may be unknown.

    temperature_c [degC at 2 m], rain_mm [mm of liquid water, snow melted], rain_chance_percent
    [0 to 100], relative_humidity_percent, dew_point_c, wind_m_s [m/s at Forecast.wind_height_m],
    radiation_w_m2 [mean global short-wave, W/m2], cloud_percent, snow_cm [depth of new snow],
    temperature_sd_c [standard error of the temperature, as the service itself says it],
    rain_most_mm [the most rain that the service calls likely].
    """

    starts_at: datetime
    temperature_c: float | None = None
    rain_mm: float | None = None
    rain_chance_percent: float | None = None
    relative_humidity_percent: float | None = None
    dew_point_c: float | None = None
    wind_m_s: float | None = None
    radiation_w_m2: float | None = None
    cloud_percent: float | None = None
    snow_cm: float | None = None
    temperature_sd_c: float | None = None
    rain_most_mm: float | None = None


class Member(Struct, frozen=True):
    """One course that the weather may take: a value for each hour from `Ensemble.starts_at` on.

    `weight` is its share among all courses, over 0; None is unknown. Units as in `Hour`.
    """

    weight: float
    temperature_c: tuple[float | None, ...]
    rain_mm: tuple[float | None, ...]


class Ensemble(Struct, frozen=True):
    """The same hours forecast many times over from slightly different beginnings.

    Hours follow one another without gaps from `starts_at` (UTC).
    """

    source: str
    starts_at: datetime
    members: tuple[Member, ...]


class PastError(Struct, frozen=True):
    """How forecasts of one number of days ahead erred in the last months, against the newest run.

    `days` they rest on, root mean square of the lows' errors [degC], correlation of the roots of a
    day's rain; None where too little is known.
    """

    days: int
    low_error_c: float | None
    rain_likeness: float | None


class Forecast(Struct, frozen=True):
    """Hours in ascending order without doubles, possibly with gaps.

    `issued_at` is when the run that the forecast came from began, or when the forecast was made or
    fetched, as far as the service says. `good_until` is when a newer run is so late that this one
    counts as old, None where the service does not say how often it runs. `attribution` is what the
    service's licence asks to be shown. `past` is how the service erred here before, by days
    ahead from one on.
    """

    source: str
    issued_at: datetime
    fetched_at: datetime
    hours: tuple[Hour, ...]
    attribution: str
    attribution_url: str = ""
    wind_height_m: float = 10.0
    good_until: datetime | None = None
    ensemble: Ensemble | None = None
    past: tuple[PastError, ...] = ()


class Readings(Struct, frozen=True):
    """What a grower measured beside what the service said.

    `lows`: said, measured [degC], and whether the night was clear and calm, None where that is not
    known. `rains`: said, measured [mm] of a date.
    """

    lows: tuple[tuple[float, float, bool | None], ...] = ()
    rains: tuple[tuple[float, float], ...] = ()


class ForecastStatus(StrEnum):
    """How far a forecast may be trusted at the moment of the decision."""

    FRESH = "fresh"
    STALE = "stale"
    MISSING = "missing"


class ForecastUse(Struct, frozen=True):
    """Which forecast a decision rested on."""

    status: ForecastStatus
    source: str | None = None
    issued_at: datetime | None = None
    age_h: float | None = None
    attribution: str = ""
    attribution_url: str = ""
    members: int = 0
    """How many courses of an ensemble stood beside it."""
    members_source: str | None = None


class DayWeather(Struct, frozen=True):
    """A garden-local day in figures; a figure is None when hours of it are unknown."""

    low_c: float | None = None
    high_c: float | None = None
    rain_mm: float | None = None
    rain_chance_percent: float | None = None
    complete: bool = False
