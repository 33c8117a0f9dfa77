"""The members of the default service's ensemble are read, or left out."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from strawbell.edges.forecasts.http import Http
from strawbell.edges.forecasts.open_meteo import (
    ENSEMBLE_DAYS,
    ENSEMBLE_INTERVAL,
    Ensembles,
    parse_ensemble,
)
from strawbell.errors import OperationalError
from strawbell.model.garden import Place
from support.forecast_server import Answer, FakeOpenMeteo
from support.memory_answers import MemoryAnswers

PLACE = Place(47.05, 8.31, "Europe/Zurich", elevation_m=520.0)
START = datetime(2027, 4, 9, tzinfo=UTC)
HOUR = timedelta(hours=1)
HOURS = 4


def answer(members: int = 6) -> dict[str, Any]:
    """Return members that differ by a degree and a millimetre."""
    hourly: dict[str, Any] = {
        "time": [int((START + number * HOUR).timestamp()) for number in range(HOURS)]
    }
    units = {"time": "unixtime"}
    for number in range(members):
        of = f"_member{number:02}" if number else ""
        hourly[f"temperature_2m{of}"] = [float(number + at) for at in range(HOURS)]
        hourly[f"precipitation{of}"] = [float(number)] * HOURS
        units |= {f"temperature_2m{of}": "°C", f"precipitation{of}": "mm"}
    return {
        "latitude": 47.0,
        "longitude": 8.25,
        "utc_offset_seconds": 0,
        "elevation": 520.0,
        "hourly_units": units,
        "hourly": hourly,
    }


def body(value: object) -> bytes:
    return json.dumps(value).encode()


def test_the_control_run_is_one_member_among_the_others() -> None:
    found = parse_ensemble(body(answer()), PLACE)
    assert [each.weight for each in found.members] == [pytest.approx(1 / 6)] * 6
    assert found.members[0].temperature_c == (None, 0.0, 1.0, 2.0, 3.0)
    assert found.members[5].temperature_c == (None, 5.0, 6.0, 7.0, 8.0)


def test_rain_belongs_to_the_hour_before_its_stamp() -> None:
    found = parse_ensemble(body(answer()), PLACE)
    assert found.starts_at == START - HOUR
    assert found.members[2].rain_mm == (2.0, 2.0, 2.0, 2.0, None)


def test_what_is_missing_or_cannot_be_is_unknown() -> None:
    value = answer()
    value["hourly"]["temperature_2m_member01"] = [1.0, None, 99.0]
    value["hourly"]["precipitation_member01"] = [None, -1.0, 2.0, "3"]
    found = parse_ensemble(body(value), PLACE).members[1]
    assert found.temperature_c == (None, 1.0, None, None, None)
    assert found.rain_mm == (None, None, 2.0, None, None)


def test_a_member_of_which_nothing_is_known_is_none() -> None:
    value = answer()
    for name in ("temperature_2m", "precipitation"):
        value["hourly"][f"{name}_member01"] = [None] * HOURS
    assert len(parse_ensemble(body(value), PLACE).members) == 5


def test_a_variable_in_another_unit_or_of_another_kind_is_left_out() -> None:
    value = answer()
    value["hourly_units"]["temperature_2m"] = "°F"
    value["hourly"]["precipitation_probability"] = [None] * HOURS
    value["hourly_units"]["precipitation_probability"] = "undefined"
    found = parse_ensemble(body(value), PLACE)
    assert found.members[0].temperature_c == (None,) * 5
    assert found.members[0].rain_mm == (0.0, 0.0, 0.0, 0.0, None)
    assert len(found.members) == 6


def test_texts_at_a_fixed_offset_are_read_too() -> None:
    value = answer()
    value["utc_offset_seconds"] = 7200
    value["hourly_units"]["time"] = "iso8601"
    value["hourly"]["time"] = [f"2027-04-09T{2 + number:02}:00" for number in range(HOURS)]
    assert parse_ensemble(body(value), PLACE).starts_at == START - HOUR


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        (lambda value: value.update(latitude=45.0), "another place"),
        (lambda value: value["hourly"].update(time=[]), "not one of hours"),
        (
            lambda value: value["hourly"].update(
                time=[int((START + number * 3 * HOUR).timestamp()) for number in range(HOURS)]
            ),
            "not one of hours",
        ),
        (lambda value: value.pop("hourly_units"), "not one of hours|a way we do not know"),
    ],
)
def test_what_is_no_ensemble_of_the_place_is_refused(change: Any, complaint: str) -> None:
    value = answer()
    change(value)
    with pytest.raises(OperationalError, match=complaint):
        parse_ensemble(body(value), PLACE)


@pytest.mark.parametrize(("members", "taken"), [(4, False), (5, True)])
def test_fewer_than_five_members_say_too_little(members: int, taken: bool) -> None:
    if taken:
        assert len(parse_ensemble(body(answer(members=members)), PLACE).members) == members
        return
    with pytest.raises(OperationalError, match="only 4 members"):
        parse_ensemble(body(answer(members=members)), PLACE)


def test_the_body_for_a_place_outside_a_model_says_so_though_it_is_no_json() -> None:
    with pytest.raises(OperationalError, match="no ensemble for this place"):
        parse_ensemble(b'{"latitude":nan,"longitude":nan,"utc_offset_seconds":0}', PLACE)


def test_the_request_asks_for_two_variables_of_one_model_up_to_its_coarse_steps() -> None:
    url = Ensembles(Http(MemoryAnswers())).url(PLACE)
    assert url.startswith("https://ensemble-api.open-meteo.com/v1/ensemble?")
    for part in (
        "hourly=temperature_2m,precipitation",
        "models=ecmwf_ifs025",
        "timeformat=unixtime",
        "elevation=520",
        f"forecast_days={ENSEMBLE_DAYS}",
    ):
        assert part in url
    assert ENSEMBLE_DAYS * 24 <= 144


def test_a_cell_is_asked_four_times_a_day_at_most() -> None:
    with FakeOpenMeteo() as service:
        service.fail_at("/v1/ensemble", Answer(200, body(answer())))
        asking = Ensembles(Http(MemoryAnswers()), service.base_url)
        for quarter in range(24 * 4):
            asking.fetch(PLACE, START + quarter * HOUR / 4)
        assert len(service.hits) == 4
    assert ENSEMBLE_INTERVAL == 6 * HOUR
