"""The scenario of `strawbell demo`: a garden and a spring that are invented here.

Every figure of this weather is made up, as a smooth day with a few events written over it; it
describes no real place or year.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from math import cos, pi
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from strawbell.agronomy.bales import BALES
from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.doses import dosed
from strawbell.agronomy.feeds import FEEDS
from strawbell.agronomy.schedules import SCHEDULES
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Batch, Garden, Method, Place, Planting, Times, Units
from strawbell.weather.thresholds import DEFAULT_RULES

FIRST_DAY = date(2027, 4, 5)
LAST_DAY = FIRST_DAY + timedelta(days=29)
FORECAST_DAYS = 10
ATTRIBUTION = "Invented weather of the demo"

_ZONE = "Europe/Vienna"
_WARMEST_HOUR = 15
_WARMING_C_PER_DAY = 0.15
_MEAN_AT_START_C = 11.0
_SWING_C = 6.5

_COLD_NIGHTS = {5: 11.5, 24: 7.5}
"""By day of the scenario, how much colder than usual the night before its morning is [degC]."""
_WET_HOURS = {(8, hour): 2.6 for hour in range(13, 20)} | {(15, 3): 1.2, (15, 4): 0.8}
"""By day and local hour, rain [mm]."""
_HOT_DAYS = {18: 11.5, 19: 12.5}
"""By day, how much hotter than usual the afternoon is [degC]."""


def garden(units: Units = Units.METRIC) -> Garden:
    """Return the garden of the demo: one row for summer crops, one for an early sowing."""
    return Garden(
        name="South wall",
        place=Place(latitude=48.2, longitude=15.6, time_zone=_ZONE, elevation_m=270.0),
        batches=(_row("Row A", 6, "tomato", 12, Method.TRANSPLANT), _early_row()),
        rules=DEFAULT_RULES,
        times=Times(
            morning=time(6, 30),
            evening=time(18, 30),
            watch_every_min=120,
            quiet_from=time(21, 30),
            quiet_to=time(6, 0),
            give_up=time(20, 0),
            weekly_routine=True,
        ),
        units=units,
    )


def forecast(now: datetime) -> Forecast:
    """Return the forecast of the demo as it stands at `now`: what will happen, ten days ahead."""
    begins = now.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    hours = tuple(_hour(begins + timedelta(hours=number)) for number in range(24 * FORECAST_DAYS))
    return Forecast(
        source="demo",
        issued_at=now,
        fetched_at=now,
        hours=hours,
        attribution=ATTRIBUTION,
    )


def _row(name: str, bales: int, crop: str, plants: int, method: Method) -> Batch:
    schedule = SCHEDULES["alternate-days"]
    batch = Batch(
        name=name,
        bales=bales,
        bale=BALES["two-string"],
        start_on=FIRST_DAY,
        schedule=schedule,
        feed=FEEDS["Blood meal"],
        finishing_feed=FEEDS["Balanced"],
        nitrogen_per_full_dose_g=1.0,
        plantings=(Planting(CROPS[crop], plants, method),),
    )
    return dosed(batch)


def _early_row() -> Batch:
    row = _row("Row B", 3, "radish", 90, Method.SEED)
    return dosed(replace(row, schedule=SCHEDULES["soak-first"], feed=FEEDS["Urea"]))


@lru_cache(maxsize=2048)
def _hour(starts_at: datetime) -> Hour:
    local = starts_at.astimezone(ZoneInfo(_ZONE))
    day = (local.date() - FIRST_DAY).days + 1
    swing = cos((local.hour - _WARMEST_HOUR) / 24 * 2 * pi)
    temperature_c = _MEAN_AT_START_C + _WARMING_C_PER_DAY * day + _SWING_C * swing
    warmth = max(0.0, swing)
    temperature_c += _HOT_DAYS.get(day, 0.0) * warmth
    # A cold night reaches from the evening before to the morning, and is clear and calm.
    night = max(0.0, -swing)
    colder = _COLD_NIGHTS.get(day if local.hour < _WARMEST_HOUR else day + 1, 0.0)
    temperature_c -= colder * night
    rain_mm = _WET_HOURS.get((day, local.hour), 0.0)
    wet_day = any(wet == day for wet, _ in _WET_HOURS)
    return Hour(
        starts_at=starts_at,
        temperature_c=round(temperature_c, 1),
        rain_mm=rain_mm,
        rain_chance_percent=85.0 if rain_mm else 40.0 if wet_day else 10.0,
        relative_humidity_percent=round(65.0 - 20.0 * warmth + (25.0 if rain_mm else 0.0), 1),
        wind_m_s=1.0 if colder else 2.5,
        radiation_w_m2=round(750.0 * warmth * (0.3 if wet_day else 1.0), 1),
        cloud_percent=90.0 if wet_day else 10.0 if colder else 35.0,
        snow_cm=0.0,
    )
