"""Places by name from a geocoder, zones by the map that comes along."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest
import responses

from strawbell.edges.forecasts.http import Http
from strawbell.edges.lookups import find_places, zone_at
from strawbell.errors import OperationalError
from strawbell.wiring import MemoryCache

BASE = "https://geocoder.example.org"
NOW = datetime(2027, 2, 1, tzinfo=UTC)
HILLTOP = {
    "name": "Hilltop", "latitude": 47.0512, "longitude": 8.3093, "elevation": 435.0,
    "country_code": "CH", "timezone": "Europe/Zurich", "admin1": "Lucerne",
    "country": "Switzerland",
}  # fmt: skip


def asked(body: object, status: int = 200) -> object:
    """Return what is found, or the error, when the geocoder answers so."""
    with responses.RequestsMock() as service:
        text = body if isinstance(body, str) else json.dumps(body)
        service.get(f"{BASE}/v1/search", body=text, status=status)
        return find_places(Http(MemoryCache()), BASE, "Hilltop", NOW)


def test_a_place_is_found_with_two_decimals_height_and_zone() -> None:
    """A hundredth of a degree is enough for a forecast, and no doorstep."""
    (place,) = asked({"results": [HILLTOP]})

    assert (place.latitude, place.longitude, place.elevation_m) == (47.05, 8.31, 435.0)
    assert (place.time_zone, place.country_code) == ("Europe/Zurich", "CH")
    assert place.region == "Lucerne, Switzerland"


@pytest.mark.parametrize(
    "body", [{}, {"results": []}, {"results": None}, {"generationtime_ms": 0.4}]
)
def test_nothing_found_is_no_error(body: object) -> None:
    """The geocoder leaves `results` out when it finds nothing."""
    assert asked(body) == ()


def test_what_the_geocoder_leaves_out_is_looked_up_or_unknown() -> None:
    """The zone comes from the map, the height stays unknown, a row without a point is no place."""
    bare = {"latitude": -34.6, "longitude": -58.38}
    (place,) = asked({"results": [bare, {"name": "Nowhere"}, {"latitude": 99, "longitude": 0}, 7]})

    assert place.time_zone == "America/Argentina/Buenos_Aires"
    assert place.elevation_m is None


def test_letters_that_steer_a_terminal_are_left_out() -> None:
    (place,) = asked({"results": [HILLTOP | {"name": "Hill\x1b[31mtop\u202e"}]})
    assert "\x1b" not in place.name
    assert "\u202e" not in place.name


@pytest.mark.parametrize(("body", "status"), [("<html>", 200), ("", 200), ("{}", 503)])
def test_an_answer_that_is_none_is_an_error_of_the_service(body: str, status: int) -> None:
    with pytest.raises(OperationalError, match="geocoder"):
        asked(body, status)


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone"),
    [
        (47.05, 8.31, "Europe/Zurich"),
        (40.71, -74.01, "America/New_York"),
        (-34.6, -58.38, "America/Argentina/Buenos_Aires"),
        (-37.81, 144.96, "Australia/Melbourne"),
    ],
)
def test_the_zone_of_a_point(latitude: float, longitude: float, zone: str) -> None:
    """Principal places of the tz database's zone.tab."""
    assert zone_at(latitude, longitude) == zone
