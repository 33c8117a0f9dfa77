"""A forecast, the same whichever service it came from.

Every hour is the hour that *begins* at `starts_at`: amounts and means are those of
[starts_at, starts_at + 1 h), instants (temperature, humidity, dew point, wind, cloud) are those at
`starts_at`. Adapters translate from preceding-hour and interval stamping. None is unknown,
never zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class Hour:
    """One hour of weather; every value may be unknown.

    temperature_c [degC at 2 m], rain_mm [mm of liquid water, snow melted], rain_chance_percent
    [0 to 100], relative_humidity_percent, dew_point_c, wind_m_s [m/s at Forecast.wind_height_m],
    radiation_w_m2 [mean global short-wave, W/m2], cloud_percent, snow_cm [depth of new snow].
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


@dataclass(frozen=True, slots=True)
class Forecast:
    """Hours in ascending order without doubles, possibly with gaps.

    `issued_at` is when the service says it made the forecast, or when it was fetched where the
    service does not say. `attribution` is what the service's licence asks to be shown.
    """

    source: str
    issued_at: datetime
    fetched_at: datetime
    hours: tuple[Hour, ...]
    attribution: str
    attribution_url: str = ""
    wind_height_m: float = 10.0


class ForecastStatus(StrEnum):
    """How far a forecast may be trusted at the moment of the decision."""

    FRESH = "fresh"
    STALE = "stale"
    MISSING = "missing"


@dataclass(frozen=True, slots=True)
class ForecastUse:
    """Which forecast a decision rested on."""

    status: ForecastStatus
    source: str | None = None
    issued_at: datetime | None = None
    age_h: float | None = None
    attribution: str = ""
    attribution_url: str = ""


@dataclass(frozen=True, slots=True)
class DayWeather:
    """A garden-local day in figures; a figure is None when hours of it are unknown."""

    low_c: float | None = None
    high_c: float | None = None
    rain_mm: float | None = None
    rain_chance_percent: float | None = None
    complete: bool = False
