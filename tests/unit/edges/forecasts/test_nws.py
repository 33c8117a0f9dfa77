"""The US National Weather Service's layers of intervals become hours."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from strawbell.edges.forecasts.http import Http, Refused
from strawbell.edges.forecasts.nws import Intervals, Nws, parse
from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Place
from support.forecast_server import Answer, FakeNws
from support.memory_answers import MemoryAnswers

PLACE = Place(30.02, -84.98, "America/New_York")
NOW = datetime(2026, 2, 4, 5, 20, tzinfo=UTC)
HOUR = timedelta(hours=1)


def layer(unit: str | None, *values: tuple[str, object]) -> dict[str, Any]:
    found: dict[str, Any] = {"values": [{"validTime": when, "value": v} for when, v in values]}
    return found if unit is None else {"uom": unit, **found}


def grid() -> dict[str, Any]:
    ring = [[-84.99, 30.03], [-84.99, 30.01], [-84.96, 30.01], [-84.96, 30.03], [-84.99, 30.03]]
    return {
        "type": "Feature",
        "geometry": {"type": "Polygon", "coordinates": [ring]},
        "properties": {
            "updateTime": "2026-02-04T03:15:41+00:00",
            "validTimes": "2026-02-03T21:00:00+00:00/P7DT14H",
            "gridX": "58",
            "temperature": layer(
                "wmoUnit:degC",
                ("2026-02-03T21:00:00+00:00/PT9H", 22.5),
                ("2026-02-04T06:00:00+00:00/PT2H", 4.0),
                ("2026-02-04T08:00:00+00:00/P1DT6H", -1.5),
            ),
            "quantitativePrecipitation": layer(
                "wmoUnit:mm",
                ("2026-02-04T00:00:00+00:00/PT6H", 12.0),
                ("2026-02-04T06:00:00+00:00/PT1H", 5.0),
                ("2026-02-04T07:00:00+00:00/PT12H", 6.0),
            ),
            "snowfallAmount": layer("wmoUnit:mm", ("2026-02-04T06:00:00+00:00/PT6H", 60)),
            "probabilityOfPrecipitation": layer(
                "wmoUnit:percent", ("2026-02-04T06:00:00+00:00/PT6H", 80)
            ),
            "relativeHumidity": layer("wmoUnit:percent", ("2026-02-04T06:00:00+00:00/PT3H", 91)),
            "windSpeed": layer("wmoUnit:km_h-1", ("2026-02-04T06:00:00+00:00/PT3H", 18.0)),
            "heatIndex": {"values": []},
            "iceAccumulation": {"uom": "wmoUnit:mm", "values": []},
        },
    }


def read(value: object) -> Forecast:
    return parse(json.dumps(value).encode(), PLACE, NOW)


def hour_at(forecast: Forecast, text: str) -> Hour:
    wanted = datetime.fromisoformat(text).replace(tzinfo=UTC)
    return next(hour for hour in forecast.hours if hour.starts_at == wanted)


def test_a_state_holds_for_every_hour_of_its_interval_and_not_after_it() -> None:
    forecast = read(grid())
    assert hour_at(forecast, "2026-02-04T05:00").temperature_c == 22.5
    assert hour_at(forecast, "2026-02-04T07:00").temperature_c == 4.0
    assert hour_at(forecast, "2026-02-04T08:00").temperature_c == -1.5
    assert hour_at(forecast, "2026-02-05T13:00").temperature_c == -1.5
    assert forecast.hours[-1].starts_at == datetime(2026, 2, 5, 13, tzinfo=UTC)


def test_an_amount_is_spread_evenly_over_its_interval_and_never_multiplied() -> None:
    forecast = read(grid())
    assert hour_at(forecast, "2026-02-04T00:00").rain_mm == 2.0
    assert hour_at(forecast, "2026-02-04T06:00").rain_mm == 5.0
    assert hour_at(forecast, "2026-02-04T18:00").rain_mm == 0.5
    assert sum(hour.rain_mm or 0.0 for hour in forecast.hours) == pytest.approx(23.0)
    assert hour_at(forecast, "2026-02-04T06:00").snow_cm == 1.0


def test_a_layer_that_ends_early_is_unknown_beyond_its_end() -> None:
    """The last amount ends at 19:00: after that it is not dry but unknown."""
    late = hour_at(read(grid()), "2026-02-04T19:00")
    assert late.rain_mm is None
    assert late.temperature_c == -1.5
    assert late.relative_humidity_percent is None


def test_a_chance_is_that_of_each_hour_and_wind_comes_in_metres_a_second() -> None:
    hour = hour_at(read(grid()), "2026-02-04T08:00")
    assert hour.rain_chance_percent == 80.0
    assert hour.wind_m_s == 5.0


@pytest.mark.parametrize(
    ("unit", "value"),
    [
        ("wmoUnit:degC", 4.0),
        ("unit:degC", 4.0),
        ("degC", 4.0),
        ("wmoUnit:degF", (4.0 - 32.0) / 1.8),
        ("wmoUnit:K", None),
        (None, None),
        ("", None),
    ],
)
def test_old_and_new_spellings_of_a_unit_are_read_and_others_make_the_layer_unknown(
    unit: str | None, value: float | None
) -> None:
    body = grid()
    body["properties"]["temperature"] = layer(unit, ("2026-02-04T06:00:00+00:00/PT2H", 4.0))
    found = hour_at(read(body), "2026-02-04T06:00").temperature_c
    assert found == (None if value is None else pytest.approx(value))


def test_a_null_value_makes_its_hours_unknown() -> None:
    body = grid()
    body["properties"]["quantitativePrecipitation"]["values"][1]["value"] = None
    forecast = read(body)
    assert hour_at(forecast, "2026-02-04T06:00").rain_mm is None
    assert hour_at(forecast, "2026-02-04T07:00").rain_mm == 0.5


def test_intervals_in_disorder_and_overlapping_are_sorted_and_the_first_counts() -> None:
    body = grid()
    values = body["properties"]["quantitativePrecipitation"]["values"]
    values.reverse()
    values.append({"validTime": "2026-02-04T02:00:00+00:00/PT6H", "value": 600.0})
    values.append({"validTime": "2026-02-04T00:00:00+00:00/PT6H", "value": 600.0})
    assert read(body) == read(grid())


def test_a_layer_of_endless_intervals_is_unknown_at_once() -> None:
    body = grid()
    body["properties"]["windSpeed"] = layer(
        "wmoUnit:km_h-1", *[("2026-02-04T06:00:00+00:00/P999DT9999H", 5.0)] * 2000
    )
    assert hour_at(read(body), "2026-02-04T06:00").wind_m_s is None


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("2026-02-04T06:00:00+00:00/PT1H", 1),
        ("2026-02-04T06:00:00+00:00/P1DT6H", 30),
        ("2026-02-04T06:00:00+00:00/P7D", 168),
        ("2026-02-04T06:00:00+00:00/P6DT15H", 159),
        ("2026-02-04T06:00:00+00:00/PT90M", 1.5),
        ("2026-02-04T01:00:00-05:00/PT3600S", 1),
    ],
)
def test_iso_intervals_are_read(text: str, hours: float) -> None:
    start = datetime(2026, 2, 4, 6, tzinfo=UTC)
    assert Intervals()[text] == (start, start + hours * HOUR)


@pytest.mark.parametrize(
    "text",
    [
        "2026-02-04T06:00:00+00:00",
        "2026-02-04T06:00:00+00:00/",
        "2026-02-04T06:00:00+00:00/P",
        "2026-02-04T06:00:00+00:00/PT0H",
        "2026-02-04T06:00:00+00:00/P1Y",
        "2026-02-04T06:00:00+00:00/PT" + "9" * 5000 + "H",
        "NOW/PT1H",
        "/PT1H",
        "",
    ],
)
def test_what_is_no_interval_is_none(text: str) -> None:
    assert Intervals()[text] is None


def test_an_hour_that_an_interval_covers_only_in_part_stays_unknown() -> None:
    body = grid()
    body["properties"]["windSpeed"] = layer(
        "wmoUnit:km_h-1", ("2026-02-04T06:30:00+00:00/PT2H", 36.0)
    )
    forecast = read(body)
    found = [hour_at(forecast, f"2026-02-04T0{hour}:00").wind_m_s for hour in (6, 7, 8)]
    assert found == [None, 10.0, None]


def with_old_issue(value: dict[str, Any]) -> None:
    value["properties"]["updateTime"] = "2026-02-03T05:19:59+00:00"


def without_issue(value: dict[str, Any]) -> None:
    del value["properties"]["updateTime"]


def nearly_over(value: dict[str, Any]) -> None:
    value["properties"]["validTimes"] = "2026-02-03T21:00:00+00:00/P2DT8H"


def moved(value: dict[str, Any]) -> None:
    value["geometry"]["coordinates"][0] = [[-80.0, 25.0], [-80.0, 25.1], [-79.9, 25.1]]


def without_outline(value: dict[str, Any]) -> None:
    value["geometry"] = None


def with_half_an_outline(value: dict[str, Any]) -> None:
    value["geometry"]["coordinates"][0][0] = ["x", None]


def empty(value: dict[str, Any]) -> None:
    for key in list(value["properties"]):
        if isinstance(value["properties"][key], dict):
            value["properties"][key] = {"values": []}


def a_problem(value: dict[str, Any]) -> None:
    value.clear()
    value.update({"title": "Unexpected Problem", "status": 500, "detail": "An unexpected ..."})


@pytest.mark.parametrize(
    "spoil",
    [
        with_old_issue,
        without_issue,
        nearly_over,
        moved,
        without_outline,
        with_half_an_outline,
        empty,
        a_problem,
    ],
)
def test_an_answer_that_is_no_forecast_of_here_and_now_is_refused(
    spoil: Callable[[dict[str, Any]], None],
) -> None:
    """Among them the old answers that a cache on the way gives out with a fresh date."""
    value = grid()
    spoil(value)
    with pytest.raises(OperationalError, match=r"^The US National Weather Service [^\n]+\.$"):
        read(value)


def test_a_forecast_of_just_a_day_ago_is_taken_with_its_own_time() -> None:
    value = grid()
    value["properties"]["updateTime"] = "2026-02-03T05:20:00+00:00"
    assert read(value).issued_at == NOW - 24 * HOUR


def test_a_cell_across_the_date_line_lies_where_it_is() -> None:
    value = grid()
    value["geometry"]["coordinates"] = [[[179.99, 52.0], [-179.99, 52.0], [-179.99, 52.02]]]
    place = Place(52.01, -179.98, "America/Adak")
    assert parse(json.dumps(value).encode(), place, NOW).source == "nws"


@pytest.mark.parametrize(
    ("latitude", "longitude", "covered"),
    [
        (40.71, -74.0, True),
        (64.8, -147.7, True),
        (52.9, 173.2, True),
        (21.3, -157.9, True),
        (18.4, -66.1, True),
        (13.5, 144.8, True),
        (-14.3, -170.7, True),
        (47.05, 8.31, False),
        (53.5, -113.5, False),
        (19.4, -99.1, False),
        (-33.9, 151.2, False),
    ],
)
def test_states_and_territories_are_covered(
    latitude: float, longitude: float, covered: bool
) -> None:
    source = Nws(Http(MemoryAnswers()))
    assert source.covers(Place(latitude, longitude, "UTC")) is covered


HOME = Place(40.71, -74.0, "America/New_York")


def test_the_look_up_is_kept_for_a_week_and_the_grid_is_asked_again() -> None:
    with FakeNws(now=NOW) as service:
        source = Nws(Http(MemoryAnswers()), service.base_url)
        for hours in (0, 1, 2, 167):
            service.set_now(NOW + hours * HOUR)
            source.fetch(HOME, NOW + hours * HOUR)
        paths = [hit.path for hit in service.hits]
        assert paths == ["/points/40.71,-74"] + ["/gridpoints/OKX/33,35"] * 4
        service.set_now(NOW + 169 * HOUR)
        source.fetch(HOME, NOW + 169 * HOUR)
        assert [hit.path for hit in service.hits][5:] == paths[:2]


@pytest.mark.parametrize("status", [404, 301])
def test_a_moved_grid_cell_is_looked_up_anew_at_once(status: int) -> None:
    with FakeNws(now=NOW) as service:
        source = Nws(Http(MemoryAnswers()), service.base_url)
        source.fetch(HOME, NOW)
        service.cell = "OKX/34,36"
        service.fail_at(
            "/gridpoints/OKX/33,35",
            Answer(status, b"", {"Location": f"{service.base_url}/elsewhere"}),
        )
        later = NOW + 2 * HOUR
        assert source.fetch(HOME, later).fetched_at == later
        assert [hit.path for hit in service.hits][2:] == [
            "/gridpoints/OKX/33,35",
            "/points/40.71,-74",
            "/gridpoints/OKX/34,36",
        ]


def test_a_cell_that_is_gone_and_has_not_moved_is_a_refusal() -> None:
    with FakeNws(now=NOW) as service:
        source = Nws(Http(MemoryAnswers()), service.base_url)
        service.fail_at("/gridpoints", Answer(404))
        with pytest.raises(Refused, match="does not know this place"):
            source.fetch(HOME, NOW)
        assert len(service.hits) == 3


@pytest.mark.parametrize(
    "properties",
    [
        {},
        {"gridId": "OKX"},
        {"gridId": "../x", "gridX": 1, "gridY": 2},
        {"gridId": "OKX", "gridX": -1, "gridY": 2},
        {"gridId": "OKX", "gridX": True, "gridY": 2},
        {"gridId": "OKX", "gridX": 1.5, "gridY": 2},
        {"gridId": "OKX", "gridX": "3/../../x", "gridY": 2},
        {"gridId": ["OKX"], "gridX": 1, "gridY": 2},
    ],
)
def test_a_look_up_without_a_sound_cell_is_refused(properties: dict[str, object]) -> None:
    with FakeNws(now=NOW) as service:
        service.fail(200, json.dumps({"properties": properties}).encode())
        with pytest.raises(OperationalError, match="did not say which"):
            Nws(Http(MemoryAnswers()), service.base_url).fetch(HOME, NOW)
        assert [hit.path for hit in service.hits] == ["/points/40.71,-74"]


def test_the_address_in_a_look_up_is_not_followed_to_another_host() -> None:
    with FakeNws(now=NOW) as service:
        found = {"gridId": "OKX", "gridX": "33", "gridY": 35}
        found |= {"forecastGridData": "https://elsewhere.example/gridpoints/OKX/33,35"}
        service.answer_next(Answer(200, json.dumps({"properties": found}).encode()))
        assert Nws(Http(MemoryAnswers()), service.base_url).fetch(HOME, NOW).hours


def test_the_last_good_forecast_outlives_the_service() -> None:
    with FakeNws(now=NOW) as service:
        source = Nws(Http(MemoryAnswers()), service.base_url)
        assert source.last_good(HOME) is None
        forecast = source.fetch(HOME, NOW)
        service.fail(500)
        with pytest.raises(OperationalError):
            source.fetch(HOME, NOW + 30 * HOUR)
        assert source.last_good(HOME) == forecast
