"""How hot the day feels to the person in the garden, and when to leave the work.

References:
[1] L. P. Rothfusz, "The heat index equation", NWS Southern Region Technical Attachment SR 90-23
    (1990), with the adjustments of the National Weather Service,
    https://www.wpc.ncep.noaa.gov/html/heatindex_equation.shtml
[2] OSHA, "Using the heat index: a guide for employers",
    https://www.osha.gov/SLTC/heatillness/heat_index/using_heat_protect_workers.html: moderate
    from 91 F, high from 103 F.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from enum import StrEnum
from math import sqrt

from msgspec import Struct

from strawbell.agronomy.evaporation import saturation
from strawbell.agronomy.figures import COLDEST_AIR_C, within
from strawbell.model.forecast import Hour

LOWEST_HEAT_INDEX_AIR_C = 10.0
HIGHEST_HEAT_INDEX_AIR_C = 50.0
"""Air temperatures between which the formulas of [1] are used here [degC]."""
MOST_HUMID_DEW_POINT_C = 35.0
"""No more humid air has been measured (from memory); above it the equation runs away [degC]."""
FULL_EQUATION_FROM_F = 80.0
"""Result of the simple formula from which the regression counts [1]."""
WORK_EARLY_F = 91.0
REST_F = 103.0
"""Where [2] begins moderate and high risk: move work to the early hours; leave it be."""
HOUR = timedelta(hours=1)


class HeatAdvice(StrEnum):
    """What to tell the person."""

    NONE = "none"
    WORK_EARLY = "work-early"
    """Work before 10:00, drink, rest in the shade."""
    REST = "rest"
    """No work in the garden in these hours."""


class HeatOfDay(Struct, frozen=True):
    """The heat of the hours that were looked at.

    `highest_c` is the highest heat index in shade [degC] and `at` the hour it begins.
    `from_hour` begins the first hour at which the
    index reaches 91 F and `to_hour` ends the last, both None when none does. `complete` says
    whether every hour could be judged.
    """

    highest_c: float
    at: datetime
    advice: HeatAdvice
    from_hour: datetime | None
    to_hour: datetime | None
    complete: bool


def heat_index_c(temperature_c: float, relative_humidity_percent: float) -> float:
    """Return the heat index in shade: Rothfusz regression with its adjustments [1].

    Args:
        temperature_c: Air temperature [degC], 10 to 50; outside ValueError.
        relative_humidity_percent: Relative humidity [percent], 0 to 100, and no more humid than a
            dew point of 35 degC; outside ValueError.

    Returns:
        Heat index [degC]; below about 27 degC (80 F) the simple formula, near the air temperature.
        Reckoned in degrees F as published.

    Source: Rothfusz 1990, with the adjustments for dry and for humid air.
    """
    within(
        "temperature_c", temperature_c, LOWEST_HEAT_INDEX_AIR_C, HIGHEST_HEAT_INDEX_AIR_C, "degC"
    )
    within("relative_humidity_percent", relative_humidity_percent, 0.0, 100.0, "percent")
    vapour = saturation(temperature_c) * relative_humidity_percent / 100.0
    if vapour > saturation(MOST_HUMID_DEW_POINT_C):
        raise ValueError(
            "relative_humidity_percent must not stand for a dew point over "
            f"{MOST_HUMID_DEW_POINT_C:g} degC, got {relative_humidity_percent} "
            f"at {temperature_c} degC"
        )
    return _celsius(_heat_index_f(_fahrenheit(temperature_c), relative_humidity_percent))


def heat_advice(index_c: float) -> HeatAdvice:
    """Return what a heat index asks of the person [2].

    Args:
        index_c: Heat index [degC], -90 to 100; outside ValueError.

    Returns:
        Work early from 91 F, rest from 103 F.

    Source: [2] OSHA, moderate and high risk; `WORK_BEFORE_LOCAL_H` is common practice.
    """
    within("index_c", index_c, COLDEST_AIR_C, 100.0, "degC")
    # Degrees converted there and back must not fall short of a limit by the last bit.
    index_f = round(_fahrenheit(index_c), 6)
    if index_f >= REST_F:
        return HeatAdvice.REST
    return HeatAdvice.WORK_EARLY if index_f >= WORK_EARLY_F else HeatAdvice.NONE


def heat_of_day(hours: Sequence[Hour]) -> HeatOfDay | None:
    """Return the heat of some hours of a forecast for the person who works in them.

    Args:
        hours: Hours in ascending order [degC, percent]; humidity from the dew point where the
            relative one is missing. Hours colder than 10 degC count as no heat; hours of which
            temperature or humidity is missing or impossible are left out, and `complete` says so.

    Returns:
        None when not one hour could be judged.

    Sources: [1] heat index, [2] advice.
    """
    judged = [(hour, _index_of(hour)) for hour in hours]
    known = [(index, hour.starts_at) for hour, index in judged if index is not None]
    if not known:
        return None
    highest, at = max(known, key=lambda pair: pair[0])
    hot = [starts for index, starts in known if heat_advice(index) is not HeatAdvice.NONE]
    return HeatOfDay(
        highest_c=highest,
        at=at,
        advice=heat_advice(highest),
        from_hour=hot[0] if hot else None,
        to_hour=hot[-1] + HOUR if hot else None,
        complete=len(known) == len(judged),
    )


def _index_of(hour: Hour) -> float | None:
    temperature = hour.temperature_c
    if temperature is None:
        return None
    if COLDEST_AIR_C <= temperature < LOWEST_HEAT_INDEX_AIR_C:
        return temperature
    humidity = hour.relative_humidity_percent
    if humidity is None and hour.dew_point_c is not None:
        dew = min(hour.dew_point_c, temperature)
        humidity = 100.0 * saturation(dew) / saturation(temperature)
    if humidity is None:
        return None
    try:
        return heat_index_c(temperature, humidity)
    except ValueError:
        return None


def _heat_index_f(t: float, r: float) -> float:
    """Return the index in degrees F from degrees F and percent [1]."""
    # The factor 0.5 is the averaging with the air temperature that [1] speaks of.
    simple = 0.5 * (t + 61.0 + (t - 68.0) * 1.2 + r * 0.094)
    return simple if simple < FULL_EQUATION_FROM_F else _regression_f(t, r)


def _regression_f(t: float, r: float) -> float:
    index = (
        -42.379
        + 2.04901523 * t
        + 10.14333127 * r
        - 0.22475541 * t * r
        - 0.00683783 * t * t
        - 0.05481717 * r * r
        + 0.00122874 * t * t * r
        + 0.00085282 * t * r * r
        - 0.00000199 * t * t * r * r
    )
    if r < 13.0 and 80.0 <= t <= 112.0:  # noqa: PLR2004 - printed so in [1]
        index -= (13.0 - r) / 4.0 * sqrt((17.0 - abs(t - 95.0)) / 17.0)
    elif r > 85.0 and 80.0 <= t <= 87.0:  # noqa: PLR2004 - printed so in [1]
        index += (r - 85.0) / 10.0 * ((87.0 - t) / 5.0)
    return index


def _fahrenheit(celsius: float) -> float:
    return celsius * 1.8 + 32.0


def _celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8
