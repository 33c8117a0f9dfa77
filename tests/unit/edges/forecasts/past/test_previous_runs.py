"""What was forecast in the past, by days ahead, and how it erred."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import responses

from strawbell.edges.forecasts.http import Http
from strawbell.edges.forecasts.past import (
    AGAIN,
    DAYS_AHEAD,
    FIRST_ISSUED,
    ISSUED_URL,
    PreviousRuns,
    errors_of,
    parse_issued,
)
from strawbell.errors import GrowerError, OperationalError
from support.gardens import PLACE
from support.memory_answers import MemoryAnswers

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
BEGINS = datetime(2027, 1, 9, tzinfo=UTC)
Said = Callable[[int, int], float | None]
"""A value by days ahead and number of the hour."""


def answer(air: Said, rain: Said, days: int = 91, begins: datetime = BEGINS) -> dict[str, object]:
    """Return an answer in the documented shape: names with how many days before, GMT."""
    times = [(begins + n * HOUR).strftime("%Y-%m-%dT%H:%M") for n in range(24 * days)]
    units, hourly = {"time": "iso8601"}, {"time": times}
    for ahead in (0, *DAYS_AHEAD):
        suffix = f"_previous_day{ahead}" if ahead else ""
        for name, unit, said in (("temperature_2m", "°C", air), ("precipitation", "mm", rain)):
            units[name + suffix] = unit
            hourly[name + suffix] = [said(ahead, n) for n in range(24 * days)]  # type: ignore[misc]
    return {
        "latitude": 47.06,
        "longitude": 8.32,
        "utc_offset_seconds": 0,
        "hourly_units": units,
        "hourly": hourly,
    }


def usual_air(ahead: int, number: int) -> float:
    """Days are 10 degC, forecasts of an odd date too warm by half a degree a day ahead."""
    return 10.0 + (0.5 * ahead if number // 24 % 2 else -0.5 * ahead)


def usual_rain(ahead: int, number: int) -> float:
    """Every third day is wet; of a day and more ahead each is forecast a day late."""
    return 0.5 * ((number // 24 - (ahead > 1)) % 3 == 0)


def body(air: Said = usual_air, rain: Said = usual_rain) -> bytes:
    return json.dumps(answer(air, rain)).encode()


def test_hours_are_read_by_how_many_days_before_they_were_forecast() -> None:
    """Rain is stamped with the end of its hour."""
    found = parse_issued(body(), PLACE)
    assert set(found) == {0, *DAYS_AHEAD}
    at = BEGINS + 5 * HOUR
    assert [found[ahead][at].temperature_c for ahead in (0, 1, 4)] == [10.0, 9.5, 8.0]
    assert found[0][BEGINS - HOUR].rain_mm == 0.5
    assert found[0][BEGINS + 23 * HOUR].rain_mm == 0.0


def test_lows_and_rain_err_by_days_ahead() -> None:
    """Against the newest run; a day late is not alike at all."""
    found = errors_of(parse_issued(body(), PLACE), ZoneInfo("UTC"), NOW.date())
    assert [each.low_error_c for each in found] == pytest.approx(
        [0.5 * ahead for ahead in DAYS_AHEAD]
    )
    assert found[0].rain_likeness == pytest.approx(1.0)
    assert found[1].rain_likeness == pytest.approx(-0.5, abs=0.1)
    assert {each.days for each in found} == {90}


def test_what_is_not_known_errs_by_nothing_known() -> None:
    """Beyond the reach of a model, of too few days, and of a drought."""
    short = parse_issued(body(lambda ahead, n: None if ahead > 3 else usual_air(ahead, n)), PLACE)
    assert [each.low_error_c is None for each in errors_of(short, ZoneInfo("UTC"), NOW.date())] == [
        False
    ] * 3 + [True] * 4
    few = json.dumps(answer(usual_air, usual_rain, days=10)).encode()
    assert errors_of(parse_issued(few, PLACE), ZoneInfo("UTC"), NOW.date())[0].low_error_c is None
    dry = parse_issued(body(rain=lambda *_: 0.0), PLACE)
    assert errors_of(dry, ZoneInfo("UTC"), NOW.date())[0].rain_likeness is None


@pytest.mark.parametrize(
    ("changes", "says"),
    [({"latitude": 57.0}, "another place"), ({"hourly": {}}, "no forecasts of the past")],
)
def test_an_answer_of_something_else_is_refused(changes: dict[str, object], says: str) -> None:
    wrong = json.dumps({**answer(usual_air, usual_rain), **changes}).encode()
    with pytest.raises(OperationalError, match=says):
        parse_issued(wrong, PLACE)


@responses.activate
def test_errors_are_reckoned_once_a_day_and_asked_once_a_week() -> None:
    """Out of the kept answer in between."""
    responses.get(f"{ISSUED_URL}/v1/forecast", body())
    cache = MemoryAnswers()
    first = PreviousRuns(Http(cache)).errors(PLACE, NOW)
    asked = PreviousRuns(Http(cache))
    assert asked.errors(PLACE, NOW + HOUR) == first
    assert asked.errors(PLACE, NOW + AGAIN) is asked.errors(PLACE, NOW + 2 * HOUR)
    assert asked.errors(PLACE, NOW + 6 * DAY)
    assert len(responses.calls) == 1
    asked.errors(PLACE, NOW + 8 * DAY)
    assert len(responses.calls) == 2
    url = str(responses.calls[0].request.url)
    assert "precipitation_previous_day7" in url
    assert "past_days=92" in url


@responses.activate
def test_a_spring_is_had_in_pieces_and_none_from_before_they_were_kept() -> None:
    """Two months each, with a day more on either side."""

    def served(request: object) -> tuple[int, dict[str, str], str]:
        asked = request.params  # type: ignore[attr-defined]
        first, last = (date.fromisoformat(asked[name]) for name in ("start_date", "end_date"))
        begins = datetime(first.year, first.month, first.day, tzinfo=UTC)
        found = answer(usual_air, usual_rain, (last - first).days + 1, begins)
        return 200, {}, json.dumps(found)

    responses.add_callback("GET", f"{ISSUED_URL}/v1/forecast", served)
    steps: list[date] = []
    asked = PreviousRuns(Http(MemoryAnswers()))
    found = asked.issued(PLACE, (date(2026, 3, 1), date(2026, 5, 31)), NOW, steps.append)
    assert len(responses.calls) == len(steps) == 2
    assert min(found[7]) == datetime(2026, 2, 27, 23, tzinfo=UTC)
    assert math.isclose((max(found[0]) - min(found[0])) / DAY, 94.0, abs_tol=0.1)
    with pytest.raises(GrowerError, match="not kept"):
        asked.issued(PLACE, (FIRST_ISSUED, date(2024, 3, 1)), NOW)
