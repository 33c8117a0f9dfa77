"""Where the sun stands and what it sends: geometry without a time zone, from UTC and longitude.

References:
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapter 3, https://www.fao.org/docrep/x0490e/x0490e00.htm (equation numbers below).
"""

from __future__ import annotations

from datetime import UTC, datetime
from functools import lru_cache
from math import acos, cos, pi, radians, sin, tan

from msgspec import Struct

from strawbell.agronomy.ranges import within

SOLAR_CONSTANT_MJ_M2_MIN = 0.0820
"""[1], equation 21."""
DAYS_OF_YEAR = 365.0
LONGEST_YEAR_D = 366
ORBIT_AMPLITUDE = 0.033
"""[1], equation 23."""
TILT_RAD = 0.409
EQUINOX_PHASE_RAD = 1.39
"""[1], equation 24."""
SEASONAL_PHASE_D = 81.0
SEASONAL_PERIOD_D = 364.0
"""[1], equation 33."""
HOUR_ANGLE_PER_H = pi / 12.0
DEGREES_PER_H = 15.0
FULL_TURN = 2.0 * pi


class SolarDay(Struct, frozen=True):
    """The sun on one day of the year at one latitude, computed once and used for every hour.

    `distance` inverse relative distance to the sun [-], `declination_rad` [rad],
    `sunset_rad` hour angle of sunset [0 to pi; pi where the sun does not set],
    `seasonal_h` correction of the sundial [h], `sine_part` and `cosine_part` the products of the
    sines and of the cosines of latitude and declination.
    """

    distance: float
    declination_rad: float
    sunset_rad: float
    seasonal_h: float
    sine_part: float
    cosine_part: float


@lru_cache(maxsize=1024)
def solar_day(latitude_deg: float, day_of_year: int) -> SolarDay:
    """Return the sun's path over a latitude on a day of the year [1], equations 23 to 25, 32, 33.

    Args:
        latitude_deg: Latitude [degrees north, south negative], -90 to 90; outside ValueError. Where
            the sun does not rise or not set the sunset angle is 0 or pi.
        day_of_year: 1 on 1 January to 366; outside ValueError.

    Returns:
        The quantities of that day.

    Source: FAO-56, equations 23 (distance), 24 (declination), 25 (sunset), 32 and 33 (season).
    """
    within("latitude_deg", latitude_deg, -90.0, 90.0, "degrees")
    within("day_of_year", day_of_year, 1, LONGEST_YEAR_D, "")
    latitude = radians(latitude_deg)
    turn = FULL_TURN * day_of_year / DAYS_OF_YEAR
    declination = TILT_RAD * sin(turn - EQUINOX_PHASE_RAD)
    season = FULL_TURN * (day_of_year - SEASONAL_PHASE_D) / SEASONAL_PERIOD_D
    return SolarDay(
        distance=1.0 + ORBIT_AMPLITUDE * cos(turn),
        declination_rad=declination,
        # Past the polar circles the cosine leaves -1 to 1: polar night gives 0, polar day pi.
        sunset_rad=acos(min(1.0, max(-1.0, -tan(latitude) * tan(declination)))),
        seasonal_h=0.1645 * sin(2.0 * season) - 0.1255 * cos(season) - 0.025 * sin(season),
        sine_part=sin(latitude) * sin(declination),
        cosine_part=cos(latitude) * cos(declination),
    )


def daily_extraterrestrial(latitude_deg: float, day_of_year: int) -> float:
    """Return the radiation of a day above the air on a level surface, Ra [1], equation 21.

    Args:
        latitude_deg: Latitude [degrees north], -90 to 90; outside ValueError.
        day_of_year: 1 to 366; outside ValueError.

    Returns:
        Radiation [MJ/m2/day], 0 in the polar night.
    """
    day = solar_day(latitude_deg, day_of_year)
    integral = day.sunset_rad * day.sine_part + day.cosine_part * sin(day.sunset_rad)
    return max(0.0, 24.0 * 60.0 / pi * SOLAR_CONSTANT_MJ_M2_MIN * day.distance * integral)


def solar_angle(starts_at: datetime, longitude_deg: float, day: SolarDay) -> float:
    """Return the hour angle at the middle of an hour, omega [1], equation 31.

    Args:
        starts_at: Beginning of the hour, with its offset from UTC; without one ValueError.
        longitude_deg: Longitude [degrees east], -180 to 180; outside ValueError.
        day: The sun of that day.

    Returns:
        Hour angle [rad], -pi to pi; 0 when the sun stands highest, negative before.

    Source: FAO-56, equations 31 to 33 and Example 19; the zone's meridian is Greenwich, since the
        moment is in UTC, and 0.06667 is written out as 1/15.
    """
    within("longitude_deg", longitude_deg, -180.0, 180.0, "degrees")
    utc = _in_utc("starts_at", starts_at)
    return _wrapped(_clock_h(utc) + 0.5 + longitude_deg / DEGREES_PER_H + day.seasonal_h)


def extraterrestrial_at(day: SolarDay, angle_rad: float) -> float:
    """Return the radiation of the hour around an hour angle [1], equation 28.

    Args:
        day: The sun of that day.
        angle_rad: Hour angle at the middle of the hour [rad], -pi to pi; not checked.

    Returns:
        Radiation [MJ/m2/h], never under 0.
    """
    begins = angle_rad - HOUR_ANGLE_PER_H / 2.0
    ends = angle_rad + HOUR_ANGLE_PER_H / 2.0
    integral = _lit(day, begins, ends)
    # Near the polar circles an hour around midnight can hold a sunset and a sunrise.
    if ends > pi:
        integral += _lit(day, begins - FULL_TURN, ends - FULL_TURN)
    elif begins < -pi:
        integral += _lit(day, begins + FULL_TURN, ends + FULL_TURN)
    return max(0.0, 12.0 * 60.0 / pi * SOLAR_CONSTANT_MJ_M2_MIN * day.distance * integral)


def sun_height_sine(day: SolarDay, angle_rad: float) -> float:
    """Return the sine of the sun's height above the horizon at an hour angle [1], chapter 3.

    Args:
        day: The sun of that day.
        angle_rad: Hour angle [rad]; not checked.

    Returns:
        Sine of the height [-1 to 1], negative while the sun is down.

    Source: ASCE-EWRI, "The ASCE standardized reference evapotranspiration equation" (2005),
        equation 62 (from memory; the same products as FAO-56, equation 28).
    """
    return day.sine_part + day.cosine_part * cos(angle_rad)


def _lit(day: SolarDay, begins: float, ends: float) -> float:
    """Return the integral of the sun's height over the part of an angle it is up for."""
    first = max(begins, -day.sunset_rad)
    last = min(ends, day.sunset_rad)
    if last <= first:
        return 0.0
    return (last - first) * day.sine_part + day.cosine_part * (sin(last) - sin(first))


def _clock_h(utc: datetime) -> float:
    return utc.hour + utc.minute / 60.0 + utc.second / 3600.0


def _wrapped(sundial_h: float) -> float:
    return (HOUR_ANGLE_PER_H * (sundial_h - 12.0) + pi) % FULL_TURN - pi


def _in_utc(name: str, moment: datetime) -> datetime:
    offset = moment.utcoffset()
    if offset is None:
        raise ValueError(f"{name} must carry its offset from UTC, got {moment}")
    return moment if moment.tzinfo is UTC else moment.astimezone(UTC)
