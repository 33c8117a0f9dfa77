"""Hours that came, from the open archive."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest
import responses

from strawbell.edges.forecasts.http import Http
from strawbell.edges.forecasts.past import (
    ARCHIVE_URL,
    HOURS_AT_ONCE,
    hours_from_archive,
    parse_hours,
)
from strawbell.errors import GrowerError, OperationalError
from support.gardens import PLACE
from support.memory_answers import MemoryAnswers

NOW = datetime(2027, 1, 15, tzinfo=UTC)
DAY = timedelta(days=1)


def answer(first: date, last: date, **changes: object) -> str:
    """Return an answer in the archive's documented shape: the hours of some dates in GMT."""
    begins = datetime(first.year, first.month, first.day)
    count = ((last - first).days + 1) * 24
    times = [(begins + timedelta(hours=n)).strftime("%Y-%m-%dT%H:%M") for n in range(count)]
    body: dict[str, object] = {
        "latitude": 47.06,
        "longitude": 8.32,
        "utc_offset_seconds": 0,
        "hourly_units": {
            "time": "iso8601",
            "temperature_2m": "°C",
            "precipitation": "mm",
            "wind_speed_10m": "m/s",
            "relative_humidity_2m": "%",
        },
        "hourly": {
            "time": times,
            "temperature_2m": [float(n % 24) for n in range(count)],
            "precipitation": [float(n % 24 == 1) for n in range(count)],
            "wind_speed_10m": [2.0] * count,
            "relative_humidity_2m": [None] * count,
        },
    }
    return json.dumps({**body, **changes})


def served(request: object) -> tuple[int, dict[str, str], str]:
    """Answer a request for the dates it asks for."""
    asked = request.params  # type: ignore[attr-defined]
    first, last = (date.fromisoformat(asked[name]) for name in ("start_date", "end_date"))
    return 200, {}, answer(first, last)


@responses.activate
def test_local_dates_are_had_whole_and_nothing_beside_them() -> None:
    """48 hours of Zurich's 4 and 5 May begin at 22:00 Greenwich time the day before."""
    responses.add_callback("GET", f"{ARCHIVE_URL}/v1/archive", served)
    days = (date(2026, 5, 4), date(2026, 5, 5))
    hours = hours_from_archive(Http(MemoryAnswers()), None, PLACE, days, NOW)
    assert len(hours) == 48
    assert min(hours) == datetime(2026, 5, 3, 22, tzinfo=UTC)
    assert max(hours) == datetime(2026, 5, 5, 21, tzinfo=UTC)


@responses.activate
def test_rain_is_stamped_with_the_end_of_its_hour_and_shifted() -> None:
    """What fell until 01:00 belongs to the hour that begins at 00:00; instants stay."""
    responses.add_callback("GET", f"{ARCHIVE_URL}/v1/archive", served)
    days = (date(2026, 5, 4), date(2026, 5, 5))
    hours = hours_from_archive(Http(MemoryAnswers()), None, PLACE, days, NOW)
    midnight = hours[datetime(2026, 5, 4, tzinfo=UTC)]
    assert (midnight.rain_mm, midnight.temperature_c) == (1.0, 0.0)
    later = hours[datetime(2026, 5, 4, 1, tzinfo=UTC)]
    assert (later.rain_mm, later.temperature_c) == (0.0, 1.0)
    assert midnight.relative_humidity_percent is None
    assert midnight.rain_chance_percent is None


@responses.activate
def test_a_long_season_is_asked_in_pieces_and_joined() -> None:
    """Two requests for 200 days; no hour is missing at the seam."""
    responses.add_callback("GET", f"{ARCHIVE_URL}/v1/archive", served)
    days = (date(2026, 3, 1), date(2026, 3, 1) + DAY * 199)
    reached: list[date] = []
    hours = hours_from_archive(Http(MemoryAnswers()), None, PLACE, days, NOW, reached.append)
    moments = sorted(hours)
    assert len(responses.calls) == 2 == len(reached)
    assert all(after - at == timedelta(hours=1) for at, after in pairwise(moments))
    first, second = (call.request.params for call in responses.calls)  # type: ignore[union-attr]
    joint = date.fromisoformat(first["end_date"]) + DAY
    assert joint == date.fromisoformat(second["start_date"])
    assert timedelta(days=200) > HOURS_AT_ONCE
    assert reached[-1] == days[1]


@responses.activate
def test_a_kept_answer_is_not_asked_for_again() -> None:
    """The past does not change."""
    responses.add_callback("GET", f"{ARCHIVE_URL}/v1/archive", served)
    http = Http(MemoryAnswers())
    days = (date(2026, 5, 4), date(2026, 5, 5))
    assert hours_from_archive(http, None, PLACE, days, NOW) == hours_from_archive(
        http, None, PLACE, days, NOW + timedelta(hours=5)
    )
    assert len(responses.calls) == 1


@responses.activate
def test_another_address_is_asked_where_one_is_configured() -> None:
    """For mirrors and tests."""
    responses.add_callback("GET", "http://127.0.0.1:9/v1/archive", served)
    days = (date(2026, 5, 4), date(2026, 5, 4))
    hours = hours_from_archive(Http(MemoryAnswers()), "http://127.0.0.1:9/", PLACE, days, NOW)
    assert len(hours) == 24


@pytest.mark.parametrize(
    ("first", "last", "word"),
    [
        (date(1939, 5, 1), date(1940, 5, 1), "--from"),
        (date(2026, 5, 1), date(2027, 1, 11), "--to"),
    ],
)
def test_dates_outside_the_archive_are_the_growers_to_mend(
    first: date, last: date, word: str
) -> None:
    """It is five days behind and begins in 1940; nothing is asked."""
    with pytest.raises(GrowerError, match=word):
        hours_from_archive(Http(MemoryAnswers()), None, PLACE, (first, last), NOW)


@responses.activate
def test_the_newest_day_of_the_archive_is_taken() -> None:
    """Five days behind counts as reached."""
    responses.add_callback("GET", f"{ARCHIVE_URL}/v1/archive", served)
    days = (date(2027, 1, 10), date(2027, 1, 10))
    assert hours_from_archive(Http(MemoryAnswers()), None, PLACE, days, NOW)


@pytest.mark.parametrize(
    "body",
    [
        answer(date(2026, 5, 4), date(2026, 5, 4), latitude=8.32, longitude=47.06),
        answer(date(2026, 5, 4), date(2026, 5, 4), hourly={}),
        answer(date(2026, 5, 4), date(2026, 5, 4), hourly_units={"temperature_2m": "K"}),
        "[]",
        "<html></html>",
        "{",
    ],
)
def test_an_answer_that_is_none_is_refused(body: str) -> None:
    """Of another place, empty, in another unit, or no answer at all."""
    with pytest.raises(OperationalError):
        parse_hours(body.encode(), PLACE)


def test_impossible_values_are_unknown() -> None:
    """No hour has 900 mm of rain."""
    body = json.loads(answer(date(2026, 5, 4), date(2026, 5, 4)))
    body["hourly"]["precipitation"][5] = 900.0
    hours = parse_hours(json.dumps(body).encode(), PLACE)
    assert hours[datetime(2026, 5, 4, 4, tzinfo=UTC)].rain_mm is None
