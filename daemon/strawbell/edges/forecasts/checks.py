"""What is believed of an answer, the same for every service. Pure.

A value that cannot be is unknown; an answer that is not a forecast of this place and time is
refused with an `OperationalError` in the grower's words.

Decided 2026-11-29: Values are checked and kept by column, as the services send them: a call for
each value cost more than deciding on them.
"""

from __future__ import annotations

# An answer may begin with a byte order mark; what reads it is loaded before the first answer.
import encodings.utf_8_sig  # noqa: F401 - for its loading alone
import json
import math
import operator
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from itertools import accumulate, repeat
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Place
from strawbell.words.catalogue import BRITISH

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
"""What an hour can be, in the order of the fields of `Hour`; from memory of the records named,
rounded outwards."""
MEANT: Mapping[str, tuple[float, float]] = {
    "relative_humidity_percent": (0.0, 100.0),
    "radiation_w_m2": (0.0, 1500.0),
}
"""What is meant by values a little outside."""
Change = Callable[[float], float]


def identity(value: float) -> float:
    """Return a value that is in the wanted unit already."""
    return value


_TEMPERATURES: Mapping[str, Change] = {
    **dict.fromkeys(("°C", "degC", "celsius"), identity),
    **dict.fromkeys(("°F", "degF"), lambda degrees: (degrees - 32.0) / 1.8),
}
_SPEEDS: Mapping[str, Change] = {
    **dict.fromkeys(("m/s", "m_s-1"), identity),
    **dict.fromkeys(("km/h", "km_h-1"), lambda speed: speed / 3.6),
    # International miles; "mp/h" is the spelling of one of the services.
    **dict.fromkeys(("mp/h", "mph"), lambda speed: speed * 0.44704),
    "kn": lambda speed: speed * 1852.0 / 3600.0,
}
_PERCENT: Mapping[str, Change] = {"%": identity, "percent": identity}
_RAIN: Mapping[str, Change] = {"mm": identity, "inch": lambda depth: depth * 25.4}
UNITS: Mapping[str, Mapping[str, Change]] = {
    "temperature_c": _TEMPERATURES,
    "dew_point_c": _TEMPERATURES,
    "relative_humidity_percent": _PERCENT,
    "cloud_percent": _PERCENT,
    "rain_chance_percent": _PERCENT,
    "wind_m_s": _SPEEDS,
    "rain_mm": _RAIN,
    "rain_most_mm": _RAIN,
    "snow_cm": {
        "cm": identity, "mm": lambda depth: depth / 10.0, "inch": lambda depth: depth * 2.54,
    },
    "radiation_w_m2": {"W/m²": identity},
}  # fmt: skip
"""By field of `Hour`, what makes its unit of those that services may use, as they spell them."""


def change_of(field: str, unit: object) -> Change | None:
    """Return what makes the unit of a field of another, None of one that is not known."""
    return UNITS[field].get(unit) if isinstance(unit, str) else None


_NARROW = bytes(range(0xC4))
"""Bytes of UTF-8 in letters that take one byte in memory; `_FOUR_BYTES_FROM` on they take four."""
_FOUR_BYTES_FROM = 0xF0
_PLAIN = {int, float, type(None)}
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
SPELL_MOST = 6 * HOUR
"""The longest spell that a service gives one amount for, at the end of its forecast."""
AHEAD_LEAST_H = 12
"""Fewer known hours ahead than this are not worth deciding on [h]; another service is asked."""
ISSUED_BEFORE_MOST = timedelta(hours=24)
"""An answer issued earlier than this is an old one served anew; issues are hourly to 6-hourly."""
YEARS = (2000, 2100)
TEXT_MOST_CHARACTERS = 64
WORDS_MOST_CHARACTERS = 120


DECIMALS_THAT_LEAVE = 2
"""A hundredth of a degree is about 1 km, finer than any grid asked; nearer is nobody's business."""


class Service(Struct, frozen=True):
    """How a service is called in the configuration, and where its licence is told of."""

    name: str
    attribution_url: str

    @property
    def spoken(self) -> str:
        """Return how it is called in a sentence."""
        return BRITISH.say(f"service.{self.name}")

    def unusable(self, key: str, /, **places: str | float) -> OperationalError:
        """Return the error that refuses an answer: who, what is the matter."""
        return OperationalError(BRITISH.say(key, service=self.spoken, **places))


def read_json(spoken: str, body: bytes) -> Any:
    """Return the JSON of a body; whatever is wrong with it becomes one `OperationalError`."""
    if not body.strip():
        raise OperationalError(BRITISH.say("fetch.empty", service=spoken))
    if body.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] == b"<":
        raise OperationalError(BRITISH.say("fetch.web-page", service=spoken))
    if (
        len(body) * _width_bytes(body) > TEXT_MOST_BYTES
        or body.count(b",") > VALUES_MOST
        or body.count(b"[") + body.count(b"{") > CONTAINERS_MOST
    ):
        raise OperationalError(BRITISH.say("fetch.too-much", service=spoken))
    try:
        return json.loads(body.decode("utf-8-sig"))
    except (ValueError, RecursionError, MemoryError) as error:
        kind = type(error).__name__
        raise OperationalError(BRITISH.say("fetch.garbled", service=spoken, kind=kind)) from error


def _width_bytes(body: bytes) -> int:
    """Return how many bytes a character of the text will take: one rare letter widens them all."""
    widest = max(body.translate(None, _NARROW), default=0)
    if b"\\u" in body or widest >= _FOUR_BYTES_FROM:
        return 4
    return 2 if widest else 1


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


def column(raw: Sequence[Any], field: str, change: Callable[[float], float]) -> list[float | None]:
    """Return raw values in the unit of a field of `Hour`, None where one cannot be.

    Humidity a little over 100 is 100, radiation a little under zero (and minus zero) is zero.
    """
    low, high = RANGES[field]
    if change is identity and {*map(type, raw)} <= _PLAIN:
        moved = raw
    else:
        moved = [None if each is None else change(each) for each in map(number, raw)]
    known = [each + 0.0 if each is not None and low <= each <= high else None for each in moved]
    if field not in MEANT:
        return known
    least, most = MEANT[field]
    if min(filter(None, known), default=least) < least:
        return [each and max(each, least) for each in known]
    if max(filter(None, known), default=most) > most:
        return [each and min(each, most) for each in known]
    return known


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


def moments(rows: Sequence[object], offset: timedelta) -> Sequence[datetime | None]:
    """Return the `moment` of each row."""
    if not offset and {*map(type, rows)} <= {str}:
        with suppress(ValueError):
            # As they come: all with a time of day and without a zone.
            found = [datetime.fromisoformat(f"{row}+00:00") for row in rows]
            if {each.tzinfo for each in found} <= {UTC}:
                first, after = YEARS
                return [each if first <= each.year < after else None for each in found]
    return [moment(row, offset) for row in rows]


def check_place(service: Service, place: Place, latitude: object, longitude: object) -> None:
    """Refuse an answer for another place: swapped, sign-flipped, absent or simply elsewhere."""
    found_latitude, found_longitude = number(latitude), number(longitude)
    if found_latitude is None or found_longitude is None:
        raise service.unusable("unusable.no-place")
    north = abs(found_latitude - place.latitude)
    east = abs((found_longitude - place.longitude + 180.0) % 360.0 - 180.0)
    shrunk = math.cos(math.radians(place.latitude))
    if math.hypot(north, east * shrunk) * KM_PER_DEG > PLACE_MOST_KM:
        raise elsewhere(service, place, found_latitude, found_longitude)


def elsewhere(service: Service, place: Place, latitude: float, longitude: float) -> Exception:
    """Return the error that refuses an answer for another place, at these degrees."""
    found, wanted = (
        f"{north:.2f}, {east:.2f}"
        for north, east in ((latitude, longitude), (place.latitude, place.longitude))
    )
    return service.unusable("unusable.elsewhere", found=found, place=wanted)


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

    said = BRITISH.say(
        "changed.moved",
        attribution=forecast.attribution,
        metres=f"{abs(higher_m):.0f}",
        higher=higher_m > 0,
    )
    hours = tuple(moved(hour) for hour in forecast.hours)
    return replace(forecast, hours=hours, attribution=said)


def check_issue(service: Service, issued_at: datetime, fetched_at: datetime) -> None:
    """Refuse an answer that was made more than a day before it was fetched."""
    age = fetched_at - issued_at
    if age > ISSUED_BEFORE_MOST:
        raise service.unusable("unusable.old", hours=f"{age / HOUR:.0f}")


Places = Sequence[int | None]
"""Hours of a grid by their number, a range where they follow one another; None is none of them."""


def hour_before(places: Places) -> Places:
    """Return the places an hour earlier."""
    if isinstance(places, range) and places.start:
        return range(places.start - 1, places.stop - 1)
    return [place - 1 if place else None for place in places]


class Grid:
    """Hours in a row from `begins_at`, with what is known of each by field of `Hour`."""

    def __init__(self, begins_at: datetime, hours: int) -> None:
        """Keep room for so many hours."""
        self.begins_at = begins_at
        self.numbers = range(hours)
        self.columns: dict[str, list[float | None]] = {name: [None] * hours for name in RANGES}

    def places(self, times: Sequence[datetime | None]) -> Places:
        """Return which hour of the grid begins at each time, None for what begins at none."""
        first = times[0] if times else None
        place = self._place(first)
        # Nearly always they follow one another.
        if first is not None and place is not None and _in_a_row(first, len(times)) == times:
            return range(place, min(place + len(times), len(self.numbers)))
        return [self._place(at) for at in times]

    def _place(self, at: datetime | None) -> int | None:
        if at is None:
            return None
        hour, beside = divmod(at - self.begins_at, HOUR)
        return None if beside or hour not in self.numbers else hour

    def within(self, start: datetime, end: datetime) -> range:
        """Return the hours that lie whole between two times."""
        first = -((self.begins_at - start) // HOUR)
        return range(max(first, 0), min((end - self.begins_at) // HOUR, len(self.numbers)))

    def put(self, field: str, places: Places, values: Sequence[float | None]) -> None:
        """Keep the known values; of two of one hour the first known one counts.

        Arrays may be of unlike lengths: what is missing at the end is unknown.
        """
        known = self.columns[field]
        if isinstance(places, range) and known.count(None) == len(known):
            fitting = values[: len(places)]
            known[places.start : places.start + len(fitting)] = fitting
            return
        for place, value in zip(places, values, strict=False):
            if place is not None and known[place] is None:
                known[place] = value

    def hours(self) -> tuple[Hour, ...]:
        """Return the hours of which anything is known, in order."""
        nothing = (None,) * len(self.columns)
        rows = zip(*self.columns.values(), strict=True)
        starts = _in_a_row(self.begins_at, len(self.numbers))
        known = [Hour(at, *row) for at, row in zip(starts, rows, strict=True) if row != nothing]
        return tuple(known)


def _in_a_row(begins_at: datetime, hours: int) -> list[datetime]:
    return list(accumulate(repeat(HOUR, hours - 1), operator.add, initial=begins_at))


def grid_around(fetched_at: datetime, times: Iterable[datetime | None]) -> Grid:
    """Return the empty grid of a forecast, on the minute of its earliest time.

    It reaches from the hour before that time to some hours after the last, but not beyond what
    can be a forecast.
    """
    known = [at for at in times if at is not None] or [fetched_at]
    first, earliest = min(known) - HOUR, fetched_at - BEFORE_MOST
    begins_at = max(first, earliest + (first - earliest) % HOUR)
    ends_at = min(max(known) + SPELL_MOST, fetched_at + AFTER_MOST)
    return Grid(begins_at, max((ends_at - begins_at) // HOUR + 1, 1))


def forecast_of(
    service: Service, grid: Grid, issued_at: datetime, fetched_at: datetime
) -> Forecast:
    """Return the forecast of what is known.

    Refused when fewer than `AHEAD_LEAST_H` hours ahead of the fetch have a temperature or rain.
    """
    hours = grid.hours()
    now = fetched_at - HOUR
    ahead = sum(
        1
        for hour in hours
        if hour.starts_at > now and (hour.temperature_c is not None or hour.rain_mm is not None)
    )
    if ahead < AHEAD_LEAST_H:
        raise service.unusable("unusable.few-hours", hours=ahead)
    return Forecast(
        source=service.name,
        issued_at=issued_at,
        fetched_at=fetched_at,
        hours=hours,
        attribution=BRITISH.say(f"attribution.{service.name}"),
        attribution_url=service.attribution_url,
    )


def coordinate(degrees: float) -> str:
    """Return degrees as they leave the machine: at most two decimals, no trailing zeros."""
    if not math.isfinite(degrees):
        raise ValueError("degrees: finite degrees, please")
    text = f"{degrees:.{DECIMALS_THAT_LEAVE}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
