"""Reference evapotranspiration hour by hour from a forecast, with what the forecast gives.

References:
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapter 3 ("missing climatic data") and chapter 4,
    https://www.fao.org/docrep/x0490e/x0490e00.htm.
[2] ASCE-EWRI, "The ASCE standardized reference evapotranspiration equation", Reston 2005,
    the text at equation 45: clearness is read while the sun stands 0.3 rad high or more, and
    carried on while it does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from math import sin, sqrt

from msgspec import Struct

from strawbell.agronomy.air.evapotranspiration import (
    FAO_56_HOURLY,
    FASTEST_WIND_M_S,
    hargreaves_et,
    hourly_reference_et,
    wind_factor,
)
from strawbell.agronomy.air.humidity import psychrometric_constant, saturation
from strawbell.agronomy.air.radiation import (
    CLEAR_SHARE,
    CLEAR_SHARE_PER_M,
    CLEARNESS_LOWEST,
    INLAND_RANGE_COEFFICIENT,
    MOST_HOURLY_MJ,
    cloud_clearness,
)
from strawbell.agronomy.air.sun import (
    DEGREES_PER_H,
    extraterrestrial_at,
    solar_angle,
    solar_day,
    sun_height_sine,
)
from strawbell.agronomy.ranges import COLDEST_AIR_C, HOTTEST_AIR_C, within
from strawbell.model.forecast import Hour
from strawbell.model.garden import Place

MJ_PER_M2_H_PER_W_M2 = 0.0036
"""An hour of 1 W/m2 [MJ/m2/h]."""
ASSUMED_WIND_M_S = 2.0
"""Wind at 2 m where none is known: the mean of over 2000 stations [1], chapter 3."""
CALM_WIND_M_S = 0.5
"""Wind at 2 m is taken as at least this, since warm ground stirs calm air [1], chapter 3 (from
memory)."""
ASSUMED_CLEARNESS = 0.6
"""Clearness of a night of which no day is known: [1], Example 19, between humid and arid."""
ASSUMED_ELEVATION_M = 0.0
"""Height where the place has none: the air pressure of sea level, which hardly matters low down."""
SUN_HIGH_ENOUGH = sin(0.3)
"""Sine of the sun's height from which clearness is read [2]."""
DAY_KNOWN_H = 18
"""Hours of a day that must be known before its lowest and highest temperature are (design
choice: six unknown hours can still hide part of the swing)."""


class RadiationFrom(StrEnum):
    """How the evapotranspiration of an hour was come by, the surest first."""

    RADIATION = "radiation"
    """Penman-Monteith with the radiation of the forecast."""
    CLOUD = "cloud"
    """Penman-Monteith, radiation from the cloud cover."""
    TEMPERATURE_RANGE = "temperature-range"
    """Penman-Monteith, radiation from the swing of the day's temperature."""
    HARGREAVES = "hargreaves"
    """Nothing but temperatures was given."""
    UNKNOWN = "unknown"
    """Too little was given."""


class HumidityFrom(StrEnum):
    """Where the humidity of an hour came from."""

    DEW_POINT = "dew-point"
    RELATIVE_HUMIDITY = "relative-humidity"
    NIGHT_LOW = "night-low"
    """Missing: the dew point is taken to be the day's lowest temperature [1], equation 48."""


class HourlyET(Struct, frozen=True):
    """The reference evapotranspiration of one hour and what it rests on.

    `mm` [mm in the hour], never under 0 (dew is not credited), None when unknown. `humidity` is
    None where none was needed; `wind_assumed` says that 2 m/s stood in for a missing wind.
    """

    starts_at: datetime
    mm: float | None
    method: RadiationFrom
    humidity: HumidityFrom | None = None
    wind_assumed: bool = False


class _Sky(Struct):
    """What one hour's sun came to while the list is walked; clearness is None by night."""

    hour: Hour
    day: date
    extraterrestrial: float
    radiation: float | None
    clearness: float | None
    method: RadiationFrom


def reference_et(
    hours: Sequence[Hour],
    place: Place,
    wind_height_m: float,
) -> tuple[HourlyET, ...]:
    """Return the reference evapotranspiration of every hour of a forecast.

    Radiation is that of the forecast, else it is estimated from cloud cover (Kasten and
    Czeplak 1980), else from the swing of the day's temperature (equation 50). Humidity is that
    of the dew point, else of the relative humidity, else the day's low serves (equation 48).
    Wind is brought to 2 m (equation 47). Where an hour has nothing but its temperature,
    Hargreaves (equation 52) is spread over the day with the sun.

    Args:
        hours: Hours in ascending order, each with its offset from UTC; gaps are allowed. A value
            that no instrument can have shown (1048 m/s of wind) counts as missing.
        place: Latitude and longitude [degrees] and height [m; sea level where unknown]; the time
            zone is not looked at. Outside -90 to 90, -180 to 180, -430 to 9000 ValueError.
        wind_height_m: Height the forecast's wind is given for [m], 0.5 to 200; outside ValueError.

    Returns:
        One for every hour given, in the same order.

    Sources: [1] FAO-56, chapters 3 and 4, equations 28, 37, 47, 48, 50, 52, 53. [2] ASCE-EWRI 2005.
    """
    to_two_metres = wind_factor(wind_height_m)
    elevation_m = ASSUMED_ELEVATION_M if place.elevation_m is None else place.elevation_m
    gamma = psychrometric_constant(elevation_m)
    within("longitude", place.longitude, -180.0, 180.0, "degrees")
    days = _solar_dates(hours, place.longitude)
    ranges = _day_ranges(hours, days)
    skies = _skies(hours, days, ranges, place, elevation_m)
    _carry_clearness(skies)
    return tuple(_hour_et(sky, ranges.get(sky.day), to_two_metres, gamma) for sky in skies)


def _solar_dates(hours: Sequence[Hour], longitude_deg: float) -> list[date]:
    """Return the date on the sundial for every hour."""
    shift = timedelta(hours=longitude_deg / DEGREES_PER_H)
    dates = []
    for hour in hours:
        if hour.starts_at.utcoffset() is None:
            raise ValueError(f"hours must carry their offset from UTC, got {hour.starts_at}")
        dates.append((hour.starts_at.astimezone(UTC) + shift).date())
    return dates


def _day_ranges(hours: Sequence[Hour], days: Sequence[date]) -> dict[date, tuple[float, float]]:
    """Return the lowest and highest temperature of every day; a part of a day takes the next."""
    known: dict[date, list[float]] = {}
    for hour, day in zip(hours, days, strict=True):
        temperature = _usable(hour.temperature_c, COLDEST_AIR_C, HOTTEST_AIR_C)
        if temperature is not None:
            known.setdefault(day, []).append(temperature)
    full = {
        day: (min(values), max(values))
        for day, values in known.items()
        if len(values) >= DAY_KNOWN_H
    }
    if not full:
        return {}
    ranges = {}
    for day, values in known.items():
        if day not in full:
            nearest = min(full, key=lambda other: abs((other - day).days))
            low, high = full[nearest]
            ranges[day] = (min(low, *values), max(high, *values))
        else:
            ranges[day] = full[day]
    return ranges


def _skies(
    hours: Sequence[Hour],
    days: Sequence[date],
    ranges: dict[date, tuple[float, float]],
    place: Place,
    elevation_m: float,
) -> list[_Sky]:
    """Return radiation and clearness hour by hour."""
    clear_share = CLEAR_SHARE + CLEAR_SHARE_PER_M * elevation_m
    skies = []
    today: date | None = None
    sun = solar_day(place.latitude, 1)
    for hour, day in zip(hours, days, strict=True):
        if day != today:
            today, sun = day, solar_day(place.latitude, day.timetuple().tm_yday)
        angle = solar_angle(hour.starts_at, place.longitude, sun)
        above = extraterrestrial_at(sun, angle)
        radiation, method, overcast = _radiation(hour, above, clear_share, ranges.get(day))
        if (
            radiation is not None
            and above > 0.0
            and (sun_height_sine(sun, angle) >= SUN_HIGH_ENOUGH)
        ):
            clearness: float | None = _bounded(radiation / (clear_share * above))
        else:
            clearness = overcast
        skies.append(_Sky(hour, day, above, radiation, clearness, method))
    return skies


def _radiation(
    hour: Hour, above: float, clear_share: float, day_range: tuple[float, float] | None
) -> tuple[float | None, RadiationFrom, float | None]:
    """Return radiation [MJ/m2/h], how it was come by, and the clearness that clouds tell of."""
    cloud = _usable(hour.cloud_percent, 0.0, 100.0)
    overcast = None if cloud is None else _bounded(cloud_clearness(cloud))
    given = _usable(hour.radiation_w_m2, 0.0, MOST_HOURLY_MJ / MJ_PER_M2_H_PER_W_M2)
    if given is not None:
        return given * MJ_PER_M2_H_PER_W_M2, RadiationFrom.RADIATION, overcast
    if cloud is not None:
        share = clear_share * cloud_clearness(cloud)
        return share * above, RadiationFrom.CLOUD, overcast
    if day_range is not None:
        share = min(clear_share, INLAND_RANGE_COEFFICIENT * sqrt(day_range[1] - day_range[0]))
        return share * above, RadiationFrom.TEMPERATURE_RANGE, None
    return None, RadiationFrom.UNKNOWN, None


def _carry_clearness(skies: list[_Sky]) -> None:
    """Carry the afternoon's clearness through the night, and the first morning's back."""
    carried = next((sky.clearness for sky in skies if sky.clearness is not None), None)
    if carried is None:
        carried = ASSUMED_CLEARNESS
    for sky in skies:
        if sky.clearness is None:
            sky.clearness = carried
        else:
            carried = sky.clearness


def _hour_et(
    sky: _Sky,
    day_range: tuple[float, float] | None,
    to_two_metres: float,
    gamma: float,
) -> HourlyET:
    hour = sky.hour
    temperature = _usable(hour.temperature_c, COLDEST_AIR_C, HOTTEST_AIR_C)
    if temperature is None or sky.radiation is None or sky.clearness is None:
        return HourlyET(hour.starts_at, None, RadiationFrom.UNKNOWN)
    vapour, humidity = _vapour(hour, temperature, day_range)
    wind = _usable(hour.wind_m_s, 0.0, FASTEST_WIND_M_S)
    bare = humidity is HumidityFrom.NIGHT_LOW and wind is None
    if bare and sky.method is RadiationFrom.TEMPERATURE_RANGE and day_range is not None:
        mm = hargreaves_et(day_range[0], day_range[1], sky.extraterrestrial)
        return HourlyET(hour.starts_at, mm, RadiationFrom.HARGREAVES)
    if vapour is None:
        return HourlyET(hour.starts_at, None, RadiationFrom.UNKNOWN)
    wind_2m = ASSUMED_WIND_M_S if wind is None else max(CALM_WIND_M_S, wind * to_two_metres)
    mm = hourly_reference_et(
        temperature, vapour, wind_2m, sky.radiation, sky.clearness, gamma, FAO_56_HOURLY
    )
    return HourlyET(hour.starts_at, max(0.0, mm), sky.method, humidity, wind is None)


def _vapour(
    hour: Hour, temperature_c: float, day_range: tuple[float, float] | None
) -> tuple[float | None, HumidityFrom | None]:
    """Return the vapour pressure [kPa] and where it comes from."""
    dew = _usable(hour.dew_point_c, COLDEST_AIR_C, HOTTEST_AIR_C)
    if dew is not None:
        return saturation(min(dew, temperature_c)), HumidityFrom.DEW_POINT
    relative = _usable(hour.relative_humidity_percent, 0.0, 100.0)
    if relative is not None:
        return saturation(temperature_c) * relative / 100.0, HumidityFrom.RELATIVE_HUMIDITY
    if day_range is not None:
        return saturation(min(day_range[0], temperature_c)), HumidityFrom.NIGHT_LOW
    return None, None


def _usable(value: float | None, lowest: float, highest: float) -> float | None:
    """Return a value an instrument can have shown, None for any other (NaN included)."""
    return value if value is not None and lowest <= value <= highest else None


def _bounded(clearness: float) -> float:
    return max(CLEARNESS_LOWEST, min(1.0, clearness))
