"""Find a place by its name or postal code, and the time zone of typed coordinates.

The geocoder belongs to the default forecast service, is free for gardens, and its data are those of
GeoNames (CC BY 4.0). The name of the place leaves the house once; nothing else does.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from urllib.parse import urlencode

from msgspec import Struct

from strawbell.edges.forecasts.checks import mapping, number, read_json, safe_words, sequence
from strawbell.edges.forecasts.http import Http, Question

GEOCODER_URL = "https://geocoding-api.open-meteo.com"
INTERVAL = timedelta(days=1)
"""A place does not move; an answer is good while somebody sets up."""
MOST_PLACES = 6
"""Namesakes offered: more do not fit a small screen, and a country after a comma narrows them."""
FEWEST_LETTERS = 2
"""The geocoder finds nothing for one letter (its documentation)."""


class FoundPlace(Struct, frozen=True):
    """A place on earth: degrees north and east, height [m] where known, zone of the tz database."""

    name: str
    latitude: float
    longitude: float
    time_zone: str
    elevation_m: float | None = None
    country_code: str = ""
    """Two letters (ISO 3166-1), empty where unknown."""
    region: str = ""
    """Area and country, to tell namesakes apart."""


def find_places(http: Http, base_url: str, text: str, now: datetime) -> tuple[FoundPlace, ...]:
    """Return the places of a name or postal code, likeliest first; none when nothing is found.

    A country or area after a comma narrows the search. Raises
    `strawbell.errors.OperationalError` when the geocoder gives no usable answer.
    """
    asked = urlencode({"name": text, "count": MOST_PLACES, "language": "en", "format": "json"})
    question = Question("The geocoder", f"{base_url.rstrip('/')}/v1/search?{asked}", INTERVAL)
    return http.ask(question, now, lambda body, _at: tuple(_parse(body)))


def _parse(body: bytes) -> Iterator[FoundPlace]:
    answer = mapping(read_json("The geocoder", body))
    for one in sequence(answer.get("results")):
        row = mapping(one)
        latitude, longitude = number(row.get("latitude")), number(row.get("longitude"))
        if latitude is None or longitude is None or not -90 <= latitude <= 90:  # noqa: PLR2004
            continue
        zone = row.get("timezone")
        areas = [row.get("admin1"), row.get("country")]
        yield FoundPlace(
            name=_text(row.get("name")) or "Garden",
            latitude=round(latitude, 2),
            longitude=round(longitude, 2),
            time_zone=_text(zone) or zone_at(latitude, longitude),
            elevation_m=number(row.get("elevation")),
            country_code=_text(row.get("country_code")),
            region=", ".join(area for area in map(_text, areas) if area),
        )


def _text(value: object) -> str:
    """Return printable text of a foreign answer, nothing for anything else."""
    return safe_words(value) if isinstance(value, str) else ""


def zone_at(latitude: float, longitude: float) -> str:
    """Return the time zone of a point by the map that comes with the program, "" where unknown.

    Near a border the simplified map may name the neighbour's zone; the grower is shown it.
    """
    from tzfpy import get_tz  # 5 MB of map, wanted only while setting up

    zone: str = get_tz(longitude, latitude)
    return zone
