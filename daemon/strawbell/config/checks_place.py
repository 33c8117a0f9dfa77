"""Coordinates and time zones that cannot belong together.

Places of zones are those of each one's principal place in the tz database (`zone.tab`, public
domain). They serve hints and warnings only.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from difflib import get_close_matches
from functools import lru_cache
from importlib import resources
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from strawbell.config.build import Context
from strawbell.config.keys import Path
from strawbell.config.mistakes import Mistake, did_you_mean, finding, shown
from strawbell.config.schema import GardenSection

EARTH_RADIUS_KM = 6371.0
"""Mean radius of the earth [km]."""
DEGREES_PER_HOUR = 15.0
OFFSET_DOUBT_H = 3.0
"""A clock further than this from its sun is doubted; the widest real one is about 3 h off
(western China)."""
SWAP_DOUBT_KM = 1500.0
"""A garden nearer than this to its zone's principal place is not doubted."""
SWAP_GAIN = 3.0
"""Swapped coordinates must lie this many times nearer before a swap is suspected."""
_COORDINATES = re.compile(r"([+-])(\d{2})(\d{2})(\d{2})?([+-])(\d{3})(\d{2})(\d{2})?")
_ABBREVIATION = re.compile(r"[A-Z]{2,5}(\d[A-Z]{3})?|[A-Z]{3,4}[+-]\d{1,2}")
_ALLOWED_SHORT = ("UTC",)


@lru_cache(maxsize=1)
def _principal_places() -> dict[str, tuple[float, float]]:
    """Return the coordinates of the zones that have some, in degrees."""
    table = resources.files("tzdata").joinpath("zoneinfo", "zone.tab")
    places = {}
    for line in table.read_text(encoding="utf-8").splitlines():
        fields = line.split("\t")
        match = None if line.startswith("#") else _COORDINATES.match(fields[1])
        if match:
            sign, d, m, s, sign2, d2, m2, s2 = match.groups()
            places[fields[2]] = (_degrees(sign, d, m, s), _degrees(sign2, d2, m2, s2))
    return places


def _degrees(sign: str, degrees: str, minutes: str, seconds: str | None) -> float:
    size = int(degrees) + int(minutes) / 60 + int(seconds or 0) / 3600
    return -size if sign == "-" else size


def is_abbreviation(name: str) -> bool:
    """Return whether a name is an abbreviation such as CET: one offset, no place, no rule."""
    return name not in _ALLOWED_SHORT and bool(_ABBREVIATION.fullmatch(name))


def is_known(name: str) -> bool:
    """Return whether the tz database has a zone of that name."""
    try:
        ZoneInfo(name)
    except (OSError, ValueError):  # ZoneInfoNotFoundError is a KeyError
        return False
    except KeyError:
        return False
    return True


def suggestion(name: str, place: tuple[float, float] | None) -> str:
    """Return the zone that was probably meant: by spelling, by city, else by coordinates."""
    if not is_abbreviation(name):
        zones = available_timezones()
        by_lower = {zone.lower(): zone for zone in sorted(zones)}
        plain = name.strip().lower().replace(" ", "_")[:60]
        if plain in by_lower:
            return by_lower[plain]
        near = get_close_matches(plain, list(by_lower), n=1, cutoff=0.8)
        if near:
            return by_lower[near[0]]
        cities = {zone.rsplit("/", 1)[-1].lower(): zone for zone in sorted(zones) if "/" in zone}
        city = get_close_matches(plain.rsplit("/", 1)[-1], list(cities), n=1, cutoff=0.8)
        if city:
            return cities[city[0]]
    return nearest_zone(place) if place is not None else ""


def nearest_zone(place: tuple[float, float]) -> str:
    """Return the zone whose principal place is nearest to (latitude, longitude)."""
    places = _principal_places()
    return min(places, key=lambda zone: _distance_km(place, places[zone]))


def _distance_km(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Return the great-circle distance by the haversine formula [km]."""
    lat1, lon1, lat2, lon2 = map(math.radians, (*one, *other))
    half = (
        math.sin((lat2 - lat1) / 2) ** 2
        + math.cos(lat1) * math.cos(lat2) * math.sin((lon2 - lon1) / 2) ** 2
    )
    return 2 * EARTH_RADIUS_KM * math.asin(math.sqrt(min(1.0, half)))


def looks_swapped(latitude: float, longitude: float, zone: str) -> bool:
    """Return whether latitude and longitude make far more sense the other way round."""
    place = _principal_places().get(zone)
    if place is None or abs(longitude) > 90:  # noqa: PLR2004  # no latitude is over 90 degrees
        return False
    given = _distance_km((latitude, longitude), place)
    swapped = _distance_km((longitude, latitude), place)
    return given > SWAP_DOUBT_KM and swapped * SWAP_GAIN < given


def hours_from_sun(longitude: float, zone: str, year: int) -> float:
    """Return how far the zone's winter or summer clock, the nearer, is from the sun's [h]."""
    clock = ZoneInfo(zone)
    sun_h = longitude / DEGREES_PER_HOUR
    gaps = []
    for month in (1, 7):
        offset = datetime(year, month, 1, tzinfo=UTC).astimezone(clock).utcoffset()
        if offset is not None:
            gap = offset.total_seconds() / 3600 - sun_h
            gaps.append(abs((gap + 12) % 24 - 12))
    return min(gaps)


def places(context: Context) -> Iterator[Mistake]:
    """Yield what is odd about each garden's place."""
    for path, garden in context.gardens():
        zone = _zone(context, path, garden)
        if zone is not None:
            yield zone
        yield from _coordinates(context, path, garden, sound=zone is None)


def _zone(context: Context, path: Path, garden: GardenSection) -> Mistake | None:
    name = garden.time_zone
    abbreviated = is_abbreviation(name)
    if not abbreviated and is_known(name):
        return None
    unsure = context.doubtful(((*path, "latitude"), (*path, "longitude")))
    meant = suggestion(name, None if unsure else (garden.latitude, garden.longitude))
    remedy = did_you_mean(f'"{meant}"' if meant else "")
    what = "zone-abbreviation" if abbreviated else "no-such-zone"
    return finding(what, (*path, "time_zone"), shown(name), remedy=remedy)


def _coordinates(
    context: Context, path: Path, garden: GardenSection, *, sound: bool
) -> Iterator[Mistake]:
    latitude, longitude, zone = garden.latitude, garden.longitude, garden.time_zone
    degrees: dict[str, Any] = {"latitude": f"{latitude:g}", "longitude": f"{longitude:g}"}
    where: Path = (*path, "latitude")
    if latitude == 0 and longitude == 0:
        yield finding("in-the-sea", where, warning=True, reads=["longitude"], **degrees)
    elif sound and looks_swapped(latitude, longitude, zone):
        yield finding(
            "swapped",
            where,
            warning=True,
            zone=zone,
            reads=["longitude", "time_zone"],
            **degrees,
        )
    elif sound and not zone.startswith(("Etc/", "UTC")):
        gap_h = hours_from_sun(longitude, zone, context.today.year)
        if gap_h > OFFSET_DOUBT_H:
            yield finding(
                "far-from-its-clock",
                (*path, "longitude"),
                warning=True,
                longitude=degrees["longitude"],
                gap=round(gap_h),
                zone=zone,
                reads=["latitude", "time_zone"],
            )
