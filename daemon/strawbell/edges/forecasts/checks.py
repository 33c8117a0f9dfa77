"""What is believed of an answer, the same for every service. Pure.

A value that cannot be is unknown; an answer that is not a forecast of this place and time is
refused with an `OperationalError` in the grower's words.
"""

from __future__ import annotations

# An answer may begin with a byte order mark; what reads it is loaded before the first answer.
import encodings.utf_8_sig  # noqa: F401 - for its loading alone
import json
import math
import re
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Place

HOUR = timedelta(hours=1)
RANGES: Mapping[str, tuple[float, float]] = {
    "temperature_c": (-90.0, 60.0),  # records: -89.2 and 56.7 degC (WMO archive of extremes)
    "rain_mm": (0.0, 500.0),  # record: 305 mm in an hour (WMO archive of extremes)
    "rain_chance_percent": (0.0, 100.0),
    "relative_humidity_percent": (0.0, 105.0),
    "dew_point_c": (-90.0, 60.0),
    "wind_m_s": (0.0, 120.0),  # record gust: 113 m/s (WMO archive of extremes)
    "radiation_w_m2": (-5.0, 1500.0),  # over the solar constant no hour can be
    "cloud_percent": (0.0, 100.0),
    "snow_cm": (0.0, 100.0),
    "temperature_sd_c": (0.0, 15.0),  # of a month's weather, let alone of a forecast
    "rain_most_mm": (0.0, 500.0),
}
"""What an hour can be; from memory of the records named, rounded outwards."""
FULL_HUMIDITY_PERCENT = 100.0
NUMBER_MOST = 1e10
"""Larger than any value or unix time of a forecast, small enough for every conversion."""
TEXT_MOST_BYTES = 2 * 1024 * 1024
VALUES_MOST = 60_000
CONTAINERS_MOST = 25_000
"""Limits of a JSON text, its commas, its opening brackets; they bound the memory of reading it.

The richest answers, a grid of the National Weather Service with all layers hourly, have some
10,000 objects and 20,000 commas in under 1 MiB.
"""
PLACE_MOST_KM = 35.0
"""How far the middle of the answered cell may lie from the place asked: half across a cell of
25 km, the widest asked, and one cell aside where the next is sea."""
KM_PER_DEG = 111.2
HEIGHT_OFF_FROM_M = 300.0
"""From this difference in height a forecast is moved to the garden's: 2 degC [m]."""
COLDER_PER_M = 0.0065
"""What the services themselves reckon with, the lapse of the standard atmosphere [degC/m]."""
BEFORE_MOST = timedelta(days=3)
AFTER_MOST = timedelta(days=17)
"""Hours outside these around the fetch are no forecast."""
AHEAD_LEAST_H = 12
"""Fewer known hours ahead than this are not worth deciding on [h]; another service is asked."""
ISSUED_BEFORE_MOST = timedelta(hours=24)
"""An answer issued earlier than this is an old one served anew; issues are hourly to 6-hourly."""
YEARS = (2000, 2100)
TEXT_MOST_CHARACTERS = 64
WORDS_MOST_CHARACTERS = 120

Gathered = dict[datetime, dict[str, float]]
"""Values by the beginning of their hour and the name of the field of `Hour`."""


DECIMALS_THAT_LEAVE = 2
"""A hundredth of a degree is about 1 km, finer than any grid asked; nearer is nobody's business."""


class Service(Struct, frozen=True):
    """How a service is called in the configuration and to the grower, and what its licence asks."""

    name: str
    spoken: str
    attribution: str
    attribution_url: str

    def unusable(self, what: str) -> OperationalError:
        """Return the error that refuses an answer: who, what is the matter."""
        return OperationalError(f"{self.spoken} {what}; that answer is not used.")


def read_json(spoken: str, body: bytes) -> Any:
    """Return the JSON of a body; whatever is wrong with it becomes one `OperationalError`."""
    if not body.strip():
        raise OperationalError(f"{spoken} sent an empty answer.")
    if body.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] == b"<":
        raise OperationalError(f"{spoken} sent a web page instead of a forecast.")
    if (
        len(body) * _width_bytes(body) > TEXT_MOST_BYTES
        or body.count(b",") > VALUES_MOST
        or body.count(b"[") + body.count(b"{") > CONTAINERS_MOST
    ):
        raise OperationalError(f"{spoken} sent far too much to be a forecast.")
    try:
        return json.loads(body.decode("utf-8-sig"))
    except (ValueError, RecursionError, MemoryError) as error:
        raise OperationalError(
            f"{spoken} sent a garbled or truncated answer ({type(error).__name__})."
        ) from error


def _width_bytes(body: bytes) -> int:
    """Return how many bytes a character of the text will take: one rare letter widens them all."""
    if b"\\u" in body or re.search(rb"[\xf0-\xff]", body):
        return 4
    return 2 if re.search(rb"[\xc4-\xef]", body) else 1


def safe_words(text: str) -> str:
    """Return a service's own words fit to be shown: on one line, printable, short."""
    printable = "".join(one if one.isprintable() else " " for one in text)
    return " ".join(printable.split())[:WORDS_MOST_CHARACTERS].rstrip(" .")


def mapping(value: object) -> Mapping[str, Any]:
    """Return a JSON object, or an empty one where something else or nothing stands."""
    return value if isinstance(value, dict) else {}


def sequence(value: object) -> Sequence[Any]:
    """Return a JSON array, or an empty one where something else or nothing stands."""
    return value if isinstance(value, list) else ()


def number(value: object) -> float | None:
    """Return a finite number; text, true and false, NaN and monsters are no numbers."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    if not -NUMBER_MOST <= value <= NUMBER_MOST:
        return None
    return float(value)


def plausible(field: str, value: float | None) -> float | None:
    """Return the value of a field of `Hour` where it can be, else None.

    Humidity a little over 100 is 100, radiation a little under zero (and minus zero) is zero.
    """
    low, high = RANGES[field]
    if value is None or not low <= value <= high:
        return None
    if field == "relative_humidity_percent":
        return min(value, FULL_HUMIDITY_PERCENT)
    if field == "radiation_w_m2":
        return max(value, 0.0) + 0.0
    return value + 0.0


def moment(value: object, offset: timedelta = timedelta()) -> datetime | None:
    """Return an ISO 8601 text as UTC; one without a zone is `offset` ahead of it."""
    if not isinstance(value, str) or len(value) > TEXT_MOST_CHARACTERS:
        return None
    try:
        read = datetime.fromisoformat(value)
    except ValueError:
        return None
    if not YEARS[0] <= read.year < YEARS[1]:
        return None
    return read.astimezone(UTC) if read.tzinfo else (read - offset).replace(tzinfo=UTC)


def converted(value: object, field: str, change: Callable[[float], float]) -> float | None:
    """Return a raw value of an answer in the unit of `field`, or None where it cannot be."""
    raw = number(value)
    return None if raw is None else plausible(field, change(raw))


def put(gathered: Gathered, starts_at: datetime, field: str, value: float | None) -> None:
    """Keep a known value, unless that hour has one already: the first of doubles counts."""
    if value is not None:
        gathered.setdefault(starts_at, {}).setdefault(field, value)


def check_place(service: Service, place: Place, latitude: object, longitude: object) -> None:
    """Refuse an answer for another place: swapped, sign-flipped, absent or simply elsewhere."""
    found_latitude, found_longitude = number(latitude), number(longitude)
    if found_latitude is None or found_longitude is None:
        raise service.unusable("did not say for which place its forecast is")
    north = abs(found_latitude - place.latitude)
    east = abs((found_longitude - place.longitude + 180.0) % 360.0 - 180.0)
    shrunk = math.cos(math.radians(place.latitude))
    if math.hypot(north, east * shrunk) * KM_PER_DEG > PLACE_MOST_KM:
        raise service.unusable(
            f"answered for another place ({found_latitude:.2f}, {found_longitude:.2f}) than the "
            f"garden's ({place.latitude:.2f}, {place.longitude:.2f})"
        )


def at_height(forecast: Forecast, place: Place, answered_m: object) -> Forecast:
    """Return the forecast moved to the garden's height where it was made for quite another.

    Licences ask for a word about changes, and so does the grower: it goes into the attribution. A
    height that either side does not know changes nothing.
    """
    found_m = number(answered_m)
    if place.elevation_m is None or found_m is None:
        return forecast
    higher_m = place.elevation_m - found_m
    if abs(higher_m) < HEIGHT_OFF_FROM_M:
        return forecast
    colder_c = higher_m * COLDER_PER_M

    def moved(hour: Hour) -> Hour:
        air_c, dew_c = hour.temperature_c, hour.dew_point_c
        return replace(
            hour,
            temperature_c=None if air_c is None else air_c - colder_c,
            dew_point_c=None if dew_c is None else dew_c - colder_c,
        )

    where = "up" if higher_m > 0 else "down"
    return replace(
        forecast,
        hours=tuple(moved(hour) for hour in forecast.hours),
        attribution=f"{forecast.attribution}, temperatures moved {abs(higher_m):.0f} m {where} "
        "to the garden",
    )


def check_issue(service: Service, issued_at: datetime, fetched_at: datetime) -> None:
    """Refuse an answer that was made more than a day before it was fetched."""
    age = fetched_at - issued_at
    if age > ISSUED_BEFORE_MOST:
        raise service.unusable(f"sent a forecast that is {age / HOUR:.0f} hours old")


def forecast_of(
    service: Service, gathered: Gathered, issued_at: datetime, fetched_at: datetime
) -> Forecast:
    """Return the forecast of what was gathered, sorted, without overlaps.

    Refused when fewer than `AHEAD_LEAST_H` hours ahead of the fetch have a temperature or rain.
    """
    hours: list[Hour] = []
    for starts_at in sorted(gathered):
        if not fetched_at - BEFORE_MOST <= starts_at <= fetched_at + AFTER_MOST:
            continue
        if hours and starts_at < hours[-1].starts_at + HOUR:
            continue
        hours.append(Hour(starts_at, **gathered[starts_at]))
    ahead = sum(
        1
        for hour in hours
        if hour.starts_at > fetched_at - HOUR
        and (hour.temperature_c is not None or hour.rain_mm is not None)
    )
    if ahead < AHEAD_LEAST_H:
        raise service.unusable(f"knows only {ahead} of the coming hours")
    return Forecast(
        source=service.name,
        issued_at=issued_at,
        fetched_at=fetched_at,
        hours=tuple(hours),
        attribution=service.attribution,
        attribution_url=service.attribution_url,
    )


def coordinate(degrees: float) -> str:
    """Return degrees as they leave the machine: at most two decimals, no trailing zeros."""
    if not math.isfinite(degrees):
        raise ValueError("degrees: finite degrees, please")
    text = f"{degrees:.{DECIMALS_THAT_LEAVE}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def identity(value: float) -> float:
    """Return a value that is in the wanted unit already."""
    return value


def celsius_of_fahrenheit(value: float) -> float:
    """Return degrees Celsius of degrees Fahrenheit."""
    return (value - 32.0) / 1.8


def m_s_of_km_h(value: float) -> float:
    """Return metres a second of kilometres an hour."""
    return value / 3.6


def m_s_of_mph(value: float) -> float:
    """Return metres a second of international miles an hour (exactly 0.44704)."""
    return value * 0.44704


def m_s_of_knots(value: float) -> float:
    """Return metres a second of knots (exactly 1852 m an hour)."""
    return value * 1852.0 / 3600.0


def times_25_4(value: float) -> float:
    """Return millimetres of inches (exactly 25.4)."""
    return value * 25.4


def times_2_54(value: float) -> float:
    """Return centimetres of inches (exactly 2.54)."""
    return value * 2.54


def tenth(value: float) -> float:
    """Return centimetres of millimetres."""
    return value / 10.0
