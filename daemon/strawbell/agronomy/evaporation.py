"""Reference evapotranspiration: how much water short, well watered grass would lose to the air.

From the bottom up: water vapour, where the sun stands and what of it reaches the ground (from UTC
and longitude, without a time zone), the equations, and hour by hour what a forecast comes to with
what it gives.

References:
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapter 3 (also "missing climatic data") and chapter 4,
    https://www.fao.org/docrep/x0490e/x0490e00.htm (equation numbers below).
[2] F. Kasten, G. Czeplak, "Solar and terrestrial radiation dependent on the amount and type of
    cloud", Solar Energy 24(2):177-189 (1980), doi:10.1016/0038-092X(80)90391-6.
[3] ASCE-EWRI, "The ASCE standardized reference evapotranspiration equation", Reston 2005,
    equations 18, 45, 65, 66; the text at equation 45: clearness is read while the sun stands
    0.3 rad high or more, and carried on while it does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from math import acos, cos, exp, log, pi, radians, sin, sqrt, tan

from msgspec import Struct

from strawbell.agronomy.figures import COLDEST_AIR_C, HOTTEST_AIR_C, within
from strawbell.model.forecast import Hour
from strawbell.model.garden import Place

SATURATION_KPA = 0.6108
SATURATION_SLOPE = 17.27
SATURATION_OFFSET_C = 237.3
"""Constants of the saturation curve over water [1], equation 11."""
SLOPE_FACTOR = 4098.0
"""17.27 times 237.3, as printed in [1], equation 13."""
SEA_LEVEL_PRESSURE_KPA = 101.3
LAPSE_C_PER_M = 0.0065
STANDARD_TEMPERATURE_K = 293.0
PRESSURE_EXPONENT = 5.26
"""The standard atmosphere of [1], equation 7."""
PSYCHROMETER_PER_C = 0.665e-3
"""Psychrometric constant per pressure [1/degC], [1] equation 8."""
LOWEST_PLACE_M = -430.0
HIGHEST_PLACE_M = 9000.0
"""Shore of the Dead Sea and the highest summit [m], rounded outward."""
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
CLEAR_SHARE = 0.75
CLEAR_SHARE_PER_M = 2e-5
"""Share of Ra on a clear day at sea level, and its rise with height [1], equation 37."""
CLOUD_LOSS = 0.75
CLOUD_EXPONENT = 3.4
"""Share that a closed cover takes away, and how it comes with the cover [2]."""
INLAND_RANGE_COEFFICIENT = 0.16
ALBEDO = 0.23
"""Of the reference grass [1], equation 38."""
LONGWAVE_HOURLY = 2.043e-10
"""Stefan-Boltzmann constant [MJ/K4/m2 per day and per hour], as printed in [1]."""
KELVIN = 273.16
"""As used for long-wave radiation in [1], equation 39."""
CLEARNESS_LOWEST = 0.3
"""Least share of clear-sky radiation that long-wave loss is reckoned with [3]."""
MOST_DAILY_MJ = 50.0
MOST_HOURLY_MJ = 5.5
"""Just above the extraterrestrial radiation of any place [MJ/m2]."""
EVAPORATED_MM_PER_MJ = 0.408
"""Depth of water that one MJ/m2 evaporates [mm] [1], table 3 and equation 20."""
ABSOLUTE_OFFSET_C = 273.0
"""As printed in [1], equation 6."""
SOIL_HEAT_DAY_SHARE = 0.1
SOIL_HEAT_NIGHT_SHARE = 0.5
"""Shares of net radiation that go into the soil in an hour [1], equations 45 and 46."""
WIND_PROFILE = (4.87, 67.8, 5.42)
"""Logarithmic wind profile over short grass [1], equation 47."""
LOWEST_ANEMOMETER_M = 0.5
HIGHEST_ANEMOMETER_M = 200.0
"""Heights the profile is used for here [m]; services give 2 or 10."""
FASTEST_WIND_M_S = 75.0
"""No hourly mean over land is stronger [m/s] (from memory)."""
HARGREAVES_COEFFICIENT = 0.0023
HARGREAVES_OFFSET_C = 17.8
"""[1], equation 52."""
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
"""Sine of the sun's height from which clearness is read [3]."""
DAY_KNOWN_H = 18
"""Hours of a day that must be known before its lowest and highest temperature are (design
choice: six unknown hours can still hide part of the swing)."""


def saturation(temperature_c: float) -> float:
    """Return the vapour pressure at saturation, e0(T) [1], equation 11.

    Not checked, for the loops over hours.

    Args:
        temperature_c: Air temperature [degC], known to lie in -90 to 60; not checked.

    Returns:
        Saturation vapour pressure [kPa].
    """
    return SATURATION_KPA * exp(
        SATURATION_SLOPE * temperature_c / (temperature_c + SATURATION_OFFSET_C)
    )


def air_pressure(elevation_m: float) -> float:
    """Return the mean air pressure at a height above the sea [1], equation 7.

    Args:
        elevation_m: Height above the sea [m], -430 to 9000; outside refused with ValueError.

    Returns:
        Air pressure [kPa].
    """
    within("elevation_m", elevation_m, LOWEST_PLACE_M, HIGHEST_PLACE_M, "m")
    cooled = STANDARD_TEMPERATURE_K - LAPSE_C_PER_M * elevation_m
    return SEA_LEVEL_PRESSURE_KPA * float((cooled / STANDARD_TEMPERATURE_K) ** PRESSURE_EXPONENT)


def psychrometric_constant(elevation_m: float) -> float:
    """Return the psychrometric constant, gamma [1], equation 8.

    Args:
        elevation_m: Height above the sea [m], -430 to 9000; outside refused with ValueError.

    Returns:
        Psychrometric constant [kPa/degC].
    """
    return PSYCHROMETER_PER_C * air_pressure(elevation_m)


class SolarDay(Struct, frozen=True):
    """The sun on one day of the year at one latitude, computed once and used for every hour.

    `distance` inverse relative distance to the sun [-], `sunset_rad` hour angle of sunset [0 to
    pi; pi where the sun does not set], `seasonal_h` correction of the sundial [h], `sine_part` and
    `cosine_part` the products of the sines and of the cosines of latitude and declination.
    """

    distance: float
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
        starts_at: Beginning of the hour, with its offset from UTC.
        longitude_deg: Longitude [degrees east], -180 to 180.
        day: The sun of that day.

    Returns:
        Hour angle [rad], -pi to pi; 0 when the sun stands highest, negative before.

    Source: FAO-56, equations 31 to 33 and Example 19; the zone's meridian is Greenwich, since the
        moment is in UTC, and 0.06667 is written out as 1/15.
    """
    utc = starts_at.astimezone(UTC)
    clock_h = utc.hour + utc.minute / 60.0 + utc.second / 3600.0
    sundial_h = clock_h + 0.5 + longitude_deg / DEGREES_PER_H + day.seasonal_h
    return (HOUR_ANGLE_PER_H * (sundial_h - 12.0) + pi) % FULL_TURN - pi


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


def cloud_clearness(cloud_percent: float) -> float:
    """Return the share of clear-sky radiation under a cloud cover [2].

    Args:
        cloud_percent: Sky covered [percent], known to lie in 0 to 100; not checked.

    Returns:
        Share [0.25 to 1].

    Source: [2] Kasten and Czeplak 1980.
    """
    return 1.0 - CLOUD_LOSS * float((cloud_percent / 100.0) ** CLOUD_EXPONENT)


def longwave_factor(vapour_pressure_kpa: float, clearness: float) -> float:
    """Return the humidity and cloud terms of the long-wave loss, without checking the range.

    Args:
        vapour_pressure_kpa: Actual vapour pressure [kPa], not under 0; not checked.
        clearness: Rs/Rso [0.3 to 1]; not checked.

    Returns:
        Share of black-body radiation that is lost [-].

    Source: FAO-56, equation 39.
    """
    return (0.34 - 0.14 * sqrt(vapour_pressure_kpa)) * (1.35 * clearness - 0.35)


class HourlyCoefficients(Struct, frozen=True):
    """Numerator [K mm s3/Mg/h] and the denominators by day and by night [s/m]."""

    numerator: float
    day: float
    night: float


FAO_56_HOURLY = HourlyCoefficients(numerator=37.0, day=0.34, night=0.34)
"""[1], equation 53."""


def wind_factor(height_m: float) -> float:
    """Return by what a wind at a height is multiplied to give that at 2 m [1], equation 47.

    Args:
        height_m: Height of the measurement above ground [m], 0.5 to 200; outside ValueError.

    Returns:
        Factor [-], 0.748 at 10 m.
    """
    within("height_m", height_m, LOWEST_ANEMOMETER_M, HIGHEST_ANEMOMETER_M, "m")
    share, per_m, shift = WIND_PROFILE
    return share / log(per_m * height_m - shift)


def hourly_reference_et(
    temperature_c: float,
    vapour_pressure_kpa: float,
    wind_2m_m_s: float,
    radiation_mj_m2: float,
    clearness: float,
    gamma: float,
    coefficients: HourlyCoefficients,
) -> float:
    """Return the reference evapotranspiration of an hour: Penman-Monteith [1], equation 53.

    Nothing is checked here, in the loop over a forecast: `reference_et` leaves out what no
    instrument can have shown.

    Args:
        temperature_c: Mean air temperature of the hour [degC], -90 to 60.
        vapour_pressure_kpa: Actual vapour pressure [kPa], not under 0; above saturation counts as
            saturated.
        wind_2m_m_s: Mean wind speed at 2 m [m/s], 0 to 75.
        radiation_mj_m2: Global short-wave radiation [MJ/m2/h], 0 to 5.5.
        clearness: Radiation as a share of the clear-sky one, Rs/Rso [0.3 to 1]; by night and low
            sun that of 2 to 3 h before sunset is carried on [1], equation 39 and Example 19.
        gamma: Psychrometric constant of the place [kPa/degC].
        coefficients: Of the surface: `FAO_56_HOURLY`, or those of another standard that this is
            compared with.

    Returns:
        Reference evapotranspiration [mm/h]; slightly under 0 when dew falls. Hours with a negative
        net radiation count as night, as in [3].

    Sources: [1] FAO-56, equations 11, 13, 38, 39, 45, 46, 53 and Example 19. [3] ASCE-EWRI 2005,
        equations 65, 66.
    """
    saturated = saturation(temperature_c)
    slope = SLOPE_FACTOR * saturated / (temperature_c + SATURATION_OFFSET_C) ** 2
    lost = LONGWAVE_HOURLY * (temperature_c + KELVIN) ** 4
    net = (1.0 - ALBEDO) * radiation_mj_m2 - lost * longwave_factor(vapour_pressure_kpa, clearness)
    if net >= 0.0:
        soil, resistance = SOIL_HEAT_DAY_SHARE, coefficients.day
    else:
        soil, resistance = SOIL_HEAT_NIGHT_SHARE, coefficients.night
    deficit = max(0.0, saturated - vapour_pressure_kpa)
    radiative = EVAPORATED_MM_PER_MJ * slope * net * (1.0 - soil)
    drying = gamma * coefficients.numerator / (temperature_c + ABSOLUTE_OFFSET_C)
    return (radiative + drying * wind_2m_m_s * deficit) / (
        slope + gamma * (1.0 + resistance * wind_2m_m_s)
    )


def hargreaves_et(low_c: float, high_c: float, extraterrestrial_mj_m2: float) -> float:
    """Return an estimate of evapotranspiration from temperatures alone [1], equation 52.

    Args:
        low_c, high_c: Lowest and highest air temperature of the day [degC], -90 to 60, low not
            above high; else ValueError.
        extraterrestrial_mj_m2: Radiation above the air [MJ/m2 per day, or per hour for that hour's
            part], 0 to 50; outside ValueError.

    Returns:
        Reference evapotranspiration [mm per the same time], not under 0. The last resort: it
        overestimates where the air is humid and underestimates in strong wind [1], p. 64.
    """
    within("high_c", high_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    within("low_c", low_c, COLDEST_AIR_C, high_c, "degC")
    within("extraterrestrial_mj_m2", extraterrestrial_mj_m2, 0.0, MOST_DAILY_MJ, "MJ/m2")
    warmth = max(0.0, (low_c + high_c) / 2.0 + HARGREAVES_OFFSET_C)
    water_mm = EVAPORATED_MM_PER_MJ * extraterrestrial_mj_m2
    return HARGREAVES_COEFFICIENT * warmth * sqrt(high_c - low_c) * water_mm


class _Sky(Struct):
    """What one hour's sun came to while the list is walked; clearness is None by night."""

    hour: Hour
    day: date
    extraterrestrial: float
    radiation: float | None
    clearness: float | None
    by_swing: bool
    """Whether the radiation is only that of the day's swing of temperature."""


def reference_et(
    hours: Sequence[Hour],
    place: Place,
    wind_height_m: float,
) -> list[float | None]:
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
        One for every hour given, in the same order [mm in the hour], never under 0 (dew is not
        credited); None where too little is known.

    Sources: [1] FAO-56, chapters 3 and 4, equations 28, 37, 47, 48, 50, 52, 53. [3] ASCE-EWRI 2005.
    """
    to_two_metres = wind_factor(wind_height_m)
    elevation_m = ASSUMED_ELEVATION_M if place.elevation_m is None else place.elevation_m
    gamma = psychrometric_constant(elevation_m)
    within("longitude", place.longitude, -180.0, 180.0, "degrees")
    days = _solar_dates(hours, place.longitude)
    ranges = _day_ranges(hours, days)
    skies = _skies(hours, days, ranges, place, elevation_m)
    _carry_clearness(skies)
    return [_hour_et(sky, ranges.get(sky.day), to_two_metres, gamma) for sky in skies]


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
        radiation, overcast, by_swing = _radiation(hour, above, clear_share, ranges.get(day))
        if (
            radiation is not None
            and above > 0.0
            and (sun_height_sine(sun, angle) >= SUN_HIGH_ENOUGH)
        ):
            clearness: float | None = _bounded(radiation / (clear_share * above))
        else:
            clearness = overcast
        skies.append(_Sky(hour, day, above, radiation, clearness, by_swing))
    return skies


def _radiation(
    hour: Hour, above: float, clear_share: float, day_range: tuple[float, float] | None
) -> tuple[float | None, float | None, bool]:
    """Return radiation [MJ/m2/h], the clearness that clouds tell of, and whether the swing did."""
    cloud = _usable(hour.cloud_percent, 0.0, 100.0)
    overcast = None if cloud is None else _bounded(cloud_clearness(cloud))
    given = _usable(hour.radiation_w_m2, 0.0, MOST_HOURLY_MJ / MJ_PER_M2_H_PER_W_M2)
    if given is not None:
        return given * MJ_PER_M2_H_PER_W_M2, overcast, False
    if cloud is not None:
        share = clear_share * cloud_clearness(cloud)
        return share * above, overcast, False
    if day_range is not None:
        share = min(clear_share, INLAND_RANGE_COEFFICIENT * sqrt(day_range[1] - day_range[0]))
        return share * above, None, True
    return None, None, False


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
) -> float | None:
    hour = sky.hour
    temperature = _usable(hour.temperature_c, COLDEST_AIR_C, HOTTEST_AIR_C)
    if temperature is None or sky.radiation is None or sky.clearness is None:
        return None
    vapour = _vapour(hour, temperature)
    wind = _usable(hour.wind_m_s, 0.0, FASTEST_WIND_M_S)
    if sky.by_swing and vapour is None and wind is None and day_range is not None:
        return hargreaves_et(day_range[0], day_range[1], sky.extraterrestrial)
    if vapour is None and day_range is not None:
        # Missing: the dew point is taken to be the day's lowest temperature [1], equation 48.
        vapour = saturation(min(day_range[0], temperature))
    if vapour is None:
        return None
    wind_2m = ASSUMED_WIND_M_S if wind is None else max(CALM_WIND_M_S, wind * to_two_metres)
    mm = hourly_reference_et(
        temperature, vapour, wind_2m, sky.radiation, sky.clearness, gamma, FAO_56_HOURLY
    )
    return max(0.0, mm)


def _vapour(hour: Hour, temperature_c: float) -> float | None:
    """Return the vapour pressure that an hour tells of [kPa]."""
    dew = _usable(hour.dew_point_c, COLDEST_AIR_C, HOTTEST_AIR_C)
    if dew is not None:
        return saturation(min(dew, temperature_c))
    relative = _usable(hour.relative_humidity_percent, 0.0, 100.0)
    return None if relative is None else saturation(temperature_c) * relative / 100.0


def _usable(value: float | None, lowest: float, highest: float) -> float | None:
    """Return a value an instrument can have shown, None for any other (NaN included)."""
    return value if value is not None and lowest <= value <= highest else None


def _bounded(clearness: float) -> float:
    return max(CLEARNESS_LOWEST, min(1.0, clearness))
