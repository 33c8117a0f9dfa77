"""What the top of a bale needs in the coming day, from the forecast and what was given.

References:
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapters 4 and 7, https://www.fao.org/docrep/x0490e/x0490e00.htm.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from math import fsum

from msgspec import Struct

from strawbell.agronomy.air.evaporative_demand import reference_et
from strawbell.agronomy.air.evapotranspiration import FASTEST_WIND_M_S, wind_factor
from strawbell.agronomy.air.humidity import saturation
from strawbell.agronomy.bale.surface import (
    HOUR,
    STANDARD_HUMIDITY_PERCENT,
    STANDARD_WIND_M_S,
    DryDown,
    SurfaceHour,
    SurfaceLayer,
    SurfaceState,
    Watering,
    dry_down,
    largest_coefficient,
)
from strawbell.agronomy.ranges import COLDEST_AIR_C, HOTTEST_AIR_C, within
from strawbell.model.forecast import Hour
from strawbell.model.garden import Place

OUTLOOK = timedelta(hours=24)
"""How far a day's advice looks: to the next morning."""
LAST_WATERING = timedelta(hours=12)
"""A top that dries later than this after the morning waits for the next one: the night takes
hardly anything, and wet leaves overnight bring blight (common practice)."""
LAST_WATERED_AFTER = timedelta(hours=8, minutes=30)
"""From a morning's first watering to its last: by trial on recorded springs a seed bed that is
watered again at noon is dry in the evening, and one that waits until 17:00 is dry before it."""
SHORTEST_OUTLOOK = timedelta(hours=18)
"""Least that must be known ahead: from a morning on it holds all the daylight (design choice)."""
LONGEST_BRIDGE_H = 3
"""Unknown evapotranspiration of up to so many hours is bridged from both sides; rain is not."""
ASSUMED_DEPLETION_SHARE = 0.5
"""Share of the readily evaporable water taken as gone where nobody knows (design choice: neither
wet nor dry)."""
MARGIN_MM = 0.7
"""What a top has to be short of dry by in the next morning [mm]: by trial on recorded springs a
forecast of the layer errs by about that much in a day."""
MOST_TIMES_A_DAY = 3
"""More often is no advice a grower can follow (common practice: two, three in great heat)."""
WIND_LIMITS_M_S = (1.0, 6.0)
HUMIDITY_LIMITS_PERCENT = (20.0, 80.0)
"""Range that the largest coefficient was made for [1], equation 72."""
SATURATED_PERCENT = 100.0
MOST_RAIN_MM = 500.0
"""More has not fallen in an hour anywhere (from memory: 305 mm in 42 minutes) [mm]."""


class SurfaceWeather(Struct, frozen=True):
    """What a forecast does to any surface of a garden: computed once, used for every batch.

    `hours` have the reference evapotranspiration with short gaps bridged, and rain beside it;
    `wind_2m_m_s` is the mean wind and `driest_percent` the lowest relative humidity of the hours,
    the standard ones where unknown.
    """

    hours: tuple[SurfaceHour, ...]
    wind_2m_m_s: float
    driest_percent: float


class SurfaceOutlook(Struct, frozen=True):
    """What the top of a bale does and needs from `now` on.

    dry_at : moment the top counts as dry if nobody waters; `now` itself when it already is,
        None when not before `known_until`, up to which rain and evapotranspiration are known.
    litres_per_bale : water for one bale each time [L]: fills the top up from what it lacks now,
        or spreads what it will lack over the times, whichever is more.
    times_a_day : how often in the coming 24 h, 1 to 3, the first time now.
    et_mm_today : reference evapotranspiration of the coming 24 h [mm], of the known part.
    """

    dry_at: datetime | None
    litres_per_bale: float
    times_a_day: int
    et_mm_today: float
    known_until: datetime


def surface_outlook(
    weather: SurfaceWeather,
    layer: SurfaceLayer,
    bale_top_area_m2: float,
    now: datetime,
    waterings: Sequence[Watering] = (),
) -> SurfaceOutlook | None:
    """Return when the top of a bale will be dry, how much water it needs and how often.

    Args:
        weather: The forecast, with past hours as far back as they are had.
        layer: The top layer.
        bale_top_area_m2: Top of one bale [m2], 0.05 to 5; outside ValueError.
        now: Moment of the advice.
        waterings: What was recorded [mm over the top]. The last one that filled the layer is where
            the walk begins; without one half of the readily evaporable water is taken as gone.

    Returns:
        None when fewer than 18 h from `now` on are known; then the simple thresholds have to do.

    Source: FAO-56, chapter 4 (equation 53) and chapter 7 (equations 71 to 77).
    """
    within("bale_top_area_m2", bale_top_area_m2, 0.05, 5.0, "m2")
    hours = weather.hours
    largest = largest_coefficient(
        weather.wind_2m_m_s, weather.driest_percent, layer.crop_height_m, layer.basal_coefficient
    )
    known = _depletion_now(hours, layer, now, waterings, largest)
    depletion = ASSUMED_DEPLETION_SHARE * layer.ready_mm if known is None else known
    left_alone = dry_down(hours, layer, SurfaceState(now, depletion), (), largest)
    if left_alone.known_until - now < SHORTEST_OUTLOOK:
        return None
    tended = dry_down(
        hours,
        layer,
        SurfaceState(now, 0.0),
        (),
        largest,
        now + OUTLOOK,
        refill_until=now + LAST_WATERING,
    )
    # Where nobody knows how dry it is, it is filled up from as dry as it may get.
    filled_mm = depletion if known is not None else max(depletion, layer.dry_at_mm)
    # One that would dry in the evening or the night is watered once more by day.
    late = tended.depletion_mm > layer.dry_at_mm - MARGIN_MM
    times = min(MOST_TIMES_A_DAY, 1 + tended.refills + late)
    first = bisect_right(hours, now - HOUR, key=_beginning)
    last = bisect_left(hours, tended.known_until, key=_beginning)
    return SurfaceOutlook(
        dry_at=now if depletion > layer.dry_at_mm else left_alone.dry_at,
        litres_per_bale=bale_top_area_m2 * _each_time_mm(filled_mm, tended, times),
        times_a_day=times,
        et_mm_today=_sum_between(hours[first:last], now, tended.known_until),
        known_until=left_alone.known_until,
    )


def watered_at(first: datetime, times: int) -> tuple[datetime, ...]:
    """Return when a top is watered that is watered so many times a day, evenly from the first on.

    Args:
        first: The morning's watering.
        times: 1 to 3.

    Returns:
        The last of several is in the middle of the afternoon.

    Source: common practice.
    """
    gap = LAST_WATERED_AFTER / max(1, times - 1)
    return tuple(first + gap * number for number in range(times))


def _each_time_mm(depletion_mm: float, tended: DryDown, times: int) -> float:
    """Return the depth for each watering [mm]: what is lacking now, or an even part of the day."""
    return max(depletion_mm, (tended.refilled_mm + tended.depletion_mm) / times)


def surface_weather(hours: Sequence[Hour], place: Place, wind_height_m: float) -> SurfaceWeather:
    """Return what a forecast does to any surface of a garden, for `surface_outlook`.

    Args:
        hours: The forecast, ascending.
        place: Where the garden lies; see `evaporative_demand.reference_et` for the ranges.
        wind_height_m: Height the forecast's wind is given for [m], 0.5 to 200; outside ValueError.

    Returns:
        The same for every batch. Wind and humidity are held within the range that equation 72 was
        made for.

    Source: FAO-56, chapter 4 and equation 72.
    """
    demand = reference_et(hours, place, wind_height_m)
    amounts = [item.mm for item in demand]
    if None in amounts:
        _bridge(amounts, [item.starts_at for item in demand])
    winds = [
        hour.wind_m_s
        for hour in hours
        if hour.wind_m_s is not None and 0.0 <= hour.wind_m_s <= FASTEST_WIND_M_S
    ]
    wind = fsum(winds) / len(winds) * wind_factor(wind_height_m) if winds else STANDARD_WIND_M_S
    driest = min(
        (percent for hour in hours if (percent := _relative_percent(hour)) is not None),
        default=STANDARD_HUMIDITY_PERCENT,
    )
    return SurfaceWeather(
        hours=tuple(
            SurfaceHour(hour.starts_at, mm, _rain(hour.rain_mm))
            for hour, mm in zip(hours, amounts, strict=True)
        ),
        wind_2m_m_s=_limited(wind, WIND_LIMITS_M_S),
        driest_percent=_limited(driest, HUMIDITY_LIMITS_PERCENT),
    )


def _beginning(hour: SurfaceHour) -> datetime:
    return hour.starts_at


def _rain(rain_mm: float | None) -> float | None:
    """Return a rain that can have fallen, None for any other (NaN included)."""
    return rain_mm if rain_mm is not None and 0.0 <= rain_mm <= MOST_RAIN_MM else None


def _bridge(amounts: list[float | None], begins: Sequence[datetime]) -> None:
    """Fill short runs of unknown hours with the mean of the known hours on either side."""
    last: int | None = None
    for index, amount in enumerate(amounts):
        if amount is None:
            continue
        if last is not None and 1 < index - last <= LONGEST_BRIDGE_H + 1:
            before = amounts[last]
            if before is not None and begins[index] - begins[last] == HOUR * (index - last):
                amounts[last + 1 : index] = [(before + amount) / 2.0] * (index - last - 1)
        last = index


def _depletion_now(
    hours: Sequence[SurfaceHour],
    layer: SurfaceLayer,
    now: datetime,
    waterings: Sequence[Watering],
    largest: float,
) -> float | None:
    """Return what the layer lacks now [mm], None where the hours reach back to no filling."""
    given = [watering for watering in waterings if watering.at <= now]
    filled = [each.at for each in given if each.mm is None or each.mm >= layer.total_mm]
    for at in sorted(filled, reverse=True):
        if at == now:
            return 0.0
        walked = dry_down(hours, layer, SurfaceState(at, 0.0), given, largest, now)
        if walked.known_until >= now:
            return walked.depletion_mm
    return None


def _relative_percent(hour: Hour) -> float | None:
    """Return the relative humidity, from the dew point where it is missing."""
    given, dew, warm = hour.relative_humidity_percent, hour.dew_point_c, hour.temperature_c
    if given is not None and 0.0 <= given <= SATURATED_PERCENT:
        return given
    if dew is None or warm is None or not COLDEST_AIR_C <= dew <= warm <= HOTTEST_AIR_C:
        return None
    return SATURATED_PERCENT * saturation(dew) / saturation(warm)


def _limited(value: float, limits: tuple[float, float]) -> float:
    return min(limits[1], max(limits[0], value))


def _sum_between(hours: Sequence[SurfaceHour], start: datetime, end: datetime) -> float:
    """Return the evapotranspiration of [start, end), hours at either end in part [mm]."""
    return fsum(
        hour.et_mm * ((min(end, hour.starts_at + HOUR) - max(start, hour.starts_at)) / HOUR)
        for hour in hours
        if hour.et_mm is not None
    )
