"""MET Norway's steps of one and six hours become hours."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from strawbell.edges.forecasts.http import Http
from strawbell.edges.forecasts.met_norway import MetNorway, parse
from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Place
from support.memory_answers import MemoryAnswers

PLACE = Place(59.91, 10.75, "Europe/Oslo")
NOW = datetime(2026, 2, 6, 20, 40, tzinfo=UTC)
HOUR = timedelta(hours=1)
UNITS = {
    "air_temperature": "celsius",
    "air_temperature_min": "celsius",
    "air_temperature_max": "celsius",
    "dew_point_temperature": "celsius",
    "relative_humidity": "%",
    "cloud_area_fraction": "%",
    "wind_speed": "m/s",
    "precipitation_amount": "mm",
    "probability_of_precipitation": "%",
}


def step(
    when: str,
    temperature: float,
    *,
    one: dict[str, Any] | None = None,
    six: dict[str, Any] | None = None,
) -> dict[str, Any]:
    details = {"air_temperature": temperature, "relative_humidity": 70.5, "wind_speed": 3.0}
    data: dict[str, Any] = {"instant": {"details": details}}
    if one is not None:
        data["next_1_hours"] = {"summary": {"symbol_code": "snow"}, "details": one}
    if six is not None:
        data["next_6_hours"] = {"summary": {"symbol_code": "snow"}, "details": six}
    data["next_12_hours"] = {"summary": {"symbol_code": "snow"}, "details": {}}
    return {"time": when, "data": data}


def answer() -> dict[str, Any]:
    """Fifteen hourly steps, then two of six hours, then a bare one."""
    hourly = [
        step(
            (datetime(2026, 2, 6, 21, tzinfo=UTC) + number * HOUR).strftime("%Y-%m-%dT%H:00:00Z"),
            -float(number),
            one={"precipitation_amount": 0.5, "probability_of_precipitation": 60.0},
            six={"precipitation_amount": 99.0},
        )
        for number in range(15)
    ]
    later = [
        step(
            "2026-02-07T12:00:00Z",
            -2.0,
            six={
                "precipitation_amount": 3.0,
                "probability_of_precipitation": 40.0,
                "air_temperature_min": -7.0,
                "air_temperature_max": -1.0,
            },
        ),
        step("2026-02-07T18:00:00Z", -5.0, six={"precipitation_amount": 0.6}),
        step("2026-02-08T00:00:00Z", -6.0),
    ]
    del later[-1]["data"]["next_12_hours"]
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [10.7522, 59.9139, 5]},
        "properties": {
            "meta": {"updated_at": "2026-02-06T20:27:06Z", "units": dict(UNITS)},
            "timeseries": hourly + later,
        },
    }


def read(value: object) -> Forecast:
    return parse(json.dumps(value).encode(), PLACE, NOW)


def hour_at(forecast: Forecast, text: str) -> Hour:
    wanted = datetime.fromisoformat(text).replace(tzinfo=UTC)
    return next(hour for hour in forecast.hours if hour.starts_at == wanted)


def test_rain_is_that_of_the_coming_hour_while_the_service_gives_it() -> None:
    first = hour_at(read(answer()), "2026-02-06T21:00")
    assert first == Hour(
        datetime(2026, 2, 6, 21, tzinfo=UTC),
        temperature_c=0.0,
        rain_mm=0.5,
        rain_chance_percent=60.0,
        relative_humidity_percent=70.5,
        wind_m_s=3.0,
    )


def test_overlapping_six_hour_amounts_of_hourly_steps_are_never_added() -> None:
    total = sum(hour.rain_mm or 0.0 for hour in read(answer()).hours)
    assert total == pytest.approx(15 * 0.5 + 3.0 + 0.6)


def test_a_six_hour_amount_is_spread_evenly_and_its_chance_holds_for_each_hour() -> None:
    forecast = read(answer())
    for hour in range(12, 18):
        found = hour_at(forecast, f"2026-02-07T{hour}:00")
        assert (found.rain_mm, found.rain_chance_percent) == (0.5, 40.0)
    assert hour_at(forecast, "2026-02-07T18:00").rain_mm == pytest.approx(0.1)
    assert hour_at(forecast, "2026-02-07T18:00").rain_chance_percent is None


def test_between_six_hour_steps_the_services_own_extremes_are_kept() -> None:
    """From -2 to -5 with extremes -7 and -1: each stands beside the end it is nearer to."""
    forecast = read(answer())
    found = [hour_at(forecast, f"2026-02-07T{hour}:00").temperature_c for hour in range(12, 19)]
    assert found == pytest.approx([-2.0, -1.0, -3.0, -3.5, -4.0, -7.0, -5.0])


def test_between_six_hour_steps_without_extremes_the_temperature_is_unknown() -> None:
    forecast = read(answer())
    found = [hour_at(forecast, f"2026-02-07T{hour}:00").temperature_c for hour in range(19, 24)]
    assert found == [None] * 5


def test_a_lowest_without_a_highest_is_not_lost() -> None:
    value = answer()
    del value["properties"]["timeseries"][15]["data"]["next_6_hours"]["details"][
        "air_temperature_max"
    ]
    forecast = read(value)
    found = [hour_at(forecast, f"2026-02-07T{hour}:00").temperature_c for hour in range(13, 18)]
    assert found == [None, None, -7.0, None, None]


def test_the_last_bare_step_is_an_hour_with_unknown_rain() -> None:
    last = read(answer()).hours[-1]
    assert (last.temperature_c, last.rain_mm) == (-6.0, None)


def test_an_hourly_step_without_its_own_amount_is_unknown_not_a_sixth_of_six_hours() -> None:
    value = answer()
    del value["properties"]["timeseries"][3]["data"]["next_1_hours"]
    value["properties"]["timeseries"][4]["data"]["next_1_hours"]["details"] = {}
    forecast = read(value)
    assert hour_at(forecast, "2026-02-07T00:00").rain_mm is None
    assert hour_at(forecast, "2026-02-07T01:00").rain_mm is None
    assert hour_at(forecast, "2026-02-07T02:00").rain_mm == 0.5


def test_an_absent_chance_is_unknown_and_not_zero() -> None:
    value = answer()
    for one in value["properties"]["timeseries"]:
        for period in one["data"].values():
            period.get("details", {}).pop("probability_of_precipitation", None)
    assert {hour.rain_chance_percent for hour in read(value).hours} == {None}


def test_old_bodies_without_details_of_twelve_hours_are_read() -> None:
    value = answer()
    for one in value["properties"]["timeseries"]:
        one["data"].get("next_12_hours", {}).pop("details", None)
    assert read(value) == read(answer())


def test_steps_in_disorder_are_sorted_and_the_first_of_doubles_counts() -> None:
    value = answer()
    series = value["properties"]["timeseries"]
    series.append(step("2026-02-06T21:00:00Z", 30.0, one={"precipitation_amount": 9.0}))
    series.append(series.pop(5))
    assert read(value) == read(answer())


@pytest.mark.parametrize("unit", ["fahrenheit", "K", "", None, 5, ["celsius"]])
def test_an_unknown_unit_makes_the_variable_unknown(unit: object) -> None:
    value = answer()
    value["properties"]["meta"]["units"]["air_temperature"] = unit
    forecast = read(value)
    assert hour_at(forecast, "2026-02-06T21:00").temperature_c is None
    assert hour_at(forecast, "2026-02-06T21:00").rain_mm == 0.5


def test_the_time_of_issue_is_the_services_and_the_credit_names_both_licences() -> None:
    forecast = read(answer())
    assert forecast.issued_at == datetime(2026, 2, 6, 20, 27, 6, tzinfo=UTC)
    assert forecast.fetched_at == NOW
    assert "MET Norway" in forecast.attribution
    assert "NLOD" in forecast.attribution
    assert "CC BY 4.0" in forecast.attribution


def swapped(value: dict[str, Any]) -> None:
    value["geometry"]["coordinates"] = [59.9139, 10.7522, 5]


def nowhere(value: dict[str, Any]) -> None:
    del value["geometry"]


def with_old_issue(value: dict[str, Any]) -> None:
    value["properties"]["meta"]["updated_at"] = "2026-02-05T20:39:00Z"


def without_units(value: dict[str, Any]) -> None:
    del value["properties"]["meta"]["units"]


def without_series(value: dict[str, Any]) -> None:
    value["properties"]["timeseries"] = {}


def with_bare_steps(value: dict[str, Any]) -> None:
    for one in value["properties"]["timeseries"]:
        one["data"] = {}


def with_times_of_nonsense(value: dict[str, Any]) -> None:
    for one in value["properties"]["timeseries"]:
        one["time"] = "21 o'clock"


@pytest.mark.parametrize(
    "spoil",
    [
        swapped,
        nowhere,
        with_old_issue,
        without_units,
        without_series,
        with_bare_steps,
        with_times_of_nonsense,
    ],
)
def test_an_answer_that_is_no_forecast_of_here_and_now_is_refused(
    spoil: Callable[[dict[str, Any]], None],
) -> None:
    value = answer()
    spoil(value)
    with pytest.raises(OperationalError, match=r"^MET Norway [^\n]+\.$"):
        read(value)


def test_the_request_has_two_decimals_and_whole_metres() -> None:
    source = MetNorway(Http(MemoryAnswers()))
    url = source.question(Place(59.913912, 10.752245, "Europe/Oslo", elevation_m=5.4)).url
    assert url == (
        "https://api.met.no/weatherapi/locationforecast/2.0/complete?lat=59.91&lon=10.75&altitude=5"
    )
    assert source.covers(PLACE)
