"""Daily lows of many years, from a file and from the archive."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
import responses

from strawbell.edges.forecasts.http import Http
from strawbell.edges.forecasts.past import ARCHIVE_URL, from_archive, from_file
from strawbell.errors import GrowerError, OperationalError
from support.gardens import PLACE
from support.memory_answers import MemoryAnswers

NOW = datetime(2027, 1, 15, tzinfo=UTC)


def written(folder: Path, text: str) -> Path:
    """Return a file with the given text."""
    path = folder / "lows.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_file_is_read_in_either_unit(tmp_path: Path) -> None:
    """32 F is 0 degC; other columns are passed over; nothing is unknown, not zero."""
    celsius, _ = from_file(written(tmp_path, "date,rain,low_c\n2027-01-01,3,-1.5\n2027-01-02,,\n"))
    assert celsius == {date(2027, 1, 1): -1.5, date(2027, 1, 2): None}
    fahrenheit, _ = from_file(written(tmp_path, "date,low_f\n2027-01-01,32\n"))
    assert fahrenheit[date(2027, 1, 1)] == pytest.approx(0.0)


def test_impossible_values_are_left_out_and_counted(tmp_path: Path) -> None:
    """999 is a code for missing, not a temperature."""
    minima, left_out = from_file(written(tmp_path, "date,low_c\n2027-01-01,999\n2027-01-02,1\n"))
    assert (minima[date(2027, 1, 1)], left_out) == (None, 1)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("day,warmth\n2027-01-01,1\n", "column"),
        ("date,low_c\n01/02/2027,1\n", "line 2"),
        ("date,low_c\n2027-01-01,cold\n", "line 2"),
        ("date,low_c\n", "no days"),
    ],
)
def test_a_file_that_is_wrong_is_said_with_its_line(tmp_path: Path, text: str, word: str) -> None:
    """What, where, what is allowed."""
    with pytest.raises(GrowerError, match=word):
        from_file(written(tmp_path, text))


def test_a_file_that_is_not_there_is_the_growers_to_mend(tmp_path: Path) -> None:
    """No traceback."""
    with pytest.raises(GrowerError, match=r"cannot be read; found [^\[]*\."):
        from_file(tmp_path / "none.csv")


def answer(**changes: object) -> str:
    """Return an answer in the archive's documented shape."""
    body: dict[str, object] = {
        "latitude": 47.06,
        "longitude": 8.32,
        "daily_units": {"time": "iso8601", "temperature_2m_min": "°C"},
        "daily": {"time": ["2026-12-30", "2026-12-31"], "temperature_2m_min": [-4.2, None]},
    }
    return json.dumps({**body, **changes})


@responses.activate
def test_the_archive_is_asked_for_thirty_years_of_local_days() -> None:
    """One request; unknown days stay unknown."""
    responses.get(f"{ARCHIVE_URL}/v1/archive", body=answer())
    minima = from_archive(Http(MemoryAnswers()), None, PLACE, NOW)
    assert minima == {date(2026, 12, 30): -4.2, date(2026, 12, 31): None}
    asked = responses.calls[0].request.params  # type: ignore[union-attr]
    assert (asked["start_date"], asked["end_date"]) == ("1997-01-01", "2026-12-31")
    assert asked["timezone"] == PLACE.time_zone


@pytest.mark.parametrize(
    "body",
    [
        answer(latitude=8.3, longitude=47.1),
        answer(daily_units={"temperature_2m_min": "°F"}),
        answer(daily={}),
        "<html>",
    ],
)
@responses.activate
def test_an_answer_that_cannot_be_used_is_refused(body: str) -> None:
    """Another place, another unit, nothing, a web page."""
    responses.get(f"{ARCHIVE_URL}/v1/archive", body=body)
    with pytest.raises(OperationalError):
        from_archive(Http(MemoryAnswers()), None, PLACE, NOW)
