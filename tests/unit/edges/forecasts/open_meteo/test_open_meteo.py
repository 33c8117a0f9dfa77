"""Open-Meteo's answers become hours that begin at their time."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest

from strawbell.edges.forecasts.http import Http
from strawbell.edges.forecasts.open_meteo import OpenMeteo, parse
from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Place
from support.memory_answers import MemoryAnswers

PLACE = Place(43.7, -79.42, "America/Toronto")
NOW = datetime(2026, 3, 7, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)
ROWS = 72


def answer(start: str = "2026-03-07T00:00", offset_s: int = 0) -> dict[str, Any]:
    """Three days; each value tells its row: temperature -row/10, rain row/10 (mm)."""
    first = datetime.fromisoformat(start)
    rows = range(ROWS)
    return {
        "latitude": 43.70455,
        "longitude": -79.404625,
        "utc_offset_seconds": offset_s,
        "timezone": "GMT",
        "hourly_units": {
            "time": "iso8601",
            "temperature_2m": "°C",
            "relative_humidity_2m": "%",
            "wind_speed_10m": "m/s",
            "precipitation": "mm",
            "precipitation_probability": "%",
            "snowfall": "cm",
            "shortwave_radiation": "W/m²",
        },
        "hourly": {
            "time": [(first + row * HOUR).strftime("%Y-%m-%dT%H:%M") for row in rows],
            "temperature_2m": [-row / 10 for row in rows],
            "relative_humidity_2m": [50 for _ in rows],
            "wind_speed_10m": [2.0 for _ in rows],
            "precipitation": [row / 10 for row in rows],
            "precipitation_probability": list(rows),
            "snowfall": [0.7 for _ in rows],
            "shortwave_radiation": [100.0 for _ in rows],
        },
    }


def read(value: object) -> Forecast:
    return parse(json.dumps(value).encode(), PLACE, NOW)


def hour_at(forecast: Forecast, text: str) -> Hour:
    wanted = datetime.fromisoformat(text).replace(tzinfo=UTC)
    return next(hour for hour in forecast.hours if hour.starts_at == wanted)


def test_sums_of_the_preceding_hour_are_moved_to_the_hour_they_fell_in() -> None:
    """The row stamped 10:00 holds the temperature at 10:00 and the rain of 09:00 to 10:00."""
    forecast = read(answer())
    ten = hour_at(forecast, "2026-03-07T10:00")
    nine = hour_at(forecast, "2026-03-07T09:00")
    assert ten.temperature_c == -1.0
    assert nine.rain_mm == 1.0
    assert nine.rain_chance_percent == 10.0
    assert ten.rain_mm == 1.1
    assert (ten.relative_humidity_percent, ten.wind_m_s) == (50.0, 2.0)
    assert (ten.snow_cm, ten.radiation_w_m2) == (0.7, 100.0)


def test_the_last_hour_has_no_sum_and_the_hour_before_the_first_has_no_instant() -> None:
    forecast = read(answer())
    assert forecast.hours[-1].temperature_c == -7.1
    assert forecast.hours[-1].rain_mm is None
    assert forecast.hours[0] == Hour(
        datetime(2026, 3, 6, 23, tzinfo=UTC),
        rain_mm=0.0,
        rain_chance_percent=0.0,
        snow_cm=0.7,
        radiation_w_m2=100.0,
    )


def test_a_fixed_offset_is_taken_off_and_the_clock_change_is_ignored() -> None:
    """Toronto's clocks went forward at 02:00 on 2026-03-08; the service still writes 02:00."""
    shifted = answer("2026-03-07T00:00", offset_s=-18000)
    forecast = read(shifted)
    assert hour_at(forecast, "2026-03-08T07:00").temperature_c == -2.6  # "02:00" of the 8th
    assert hour_at(forecast, "2026-03-08T08:00").temperature_c == -2.7
    steps = {after.starts_at - before.starts_at for before, after in pairwise(forecast.hours)}
    assert steps == {HOUR}


def test_unix_times_are_true_utc_whatever_the_offset() -> None:
    value = answer(offset_s=-18000)
    start = int(datetime(2026, 3, 7, tzinfo=UTC).timestamp())
    value["hourly"]["time"] = [start + 3600 * row for row in range(ROWS)]
    value["hourly_units"]["time"] = "unixtime"
    assert hour_at(read(value), "2026-03-07T10:00").temperature_c == -1.0


def test_the_forecast_says_where_it_is_from_and_takes_the_fetch_for_its_issue() -> None:
    forecast = read(answer())
    assert (forecast.source, forecast.issued_at, forecast.fetched_at) == ("open-meteo", NOW, NOW)
    assert "CC BY 4.0" in forecast.attribution
    assert forecast.attribution_url == "https://open-meteo.com/"
    assert forecast.wind_height_m == 10.0


@pytest.mark.parametrize(
    ("variable", "unit", "raw", "field", "value"),
    [
        ("temperature_2m", "°F", 14.0, "temperature_c", -10.0),
        ("precipitation", "inch", 0.5, "rain_mm", 12.7),
        ("snowfall", "inch", 1.0, "snow_cm", 2.54),
        ("wind_speed_10m", "km/h", 36.0, "wind_m_s", 10.0),
        ("wind_speed_10m", "mp/h", 10.0, "wind_m_s", 4.4704),
        ("wind_speed_10m", "kn", 3600.0 / 1852.0, "wind_m_s", 1.0),
        ("temperature_2m", "K", 280.0, "temperature_c", None),
        ("temperature_2m", "", 5.0, "temperature_c", None),
        ("temperature_2m", None, 5.0, "temperature_c", None),
        ("precipitation", "kg", 5.0, "rain_mm", None),
        ("wind_speed_10m", ["m/s"], 5.0, "wind_m_s", None),
    ],
)
def test_units_are_read_and_an_unknown_unit_makes_the_variable_unknown(
    variable: str, unit: object, raw: float, field: str, value: float | None
) -> None:
    body = answer()
    body["hourly_units"][variable] = unit
    body["hourly"][variable] = [raw] * ROWS
    found = getattr(hour_at(read(body), "2026-03-07T15:00"), field)
    assert found == (None if value is None else pytest.approx(value))


def without_units(value: dict[str, Any]) -> None:
    del value["hourly_units"]


def without_hourly(value: dict[str, Any]) -> None:
    del value["hourly"]


def without_offset(value: dict[str, Any]) -> None:
    del value["utc_offset_seconds"]


def with_monstrous_offset(value: dict[str, Any]) -> None:
    value["utc_offset_seconds"] = 10**9


def all_null(value: dict[str, Any]) -> None:
    for key in value["hourly"]:
        if key != "time":
            value["hourly"][key] = [None] * ROWS


def in_the_past(value: dict[str, Any]) -> None:
    value["hourly"]["time"] = answer("2025-03-07T00:00")["hourly"]["time"]


def elsewhere(value: dict[str, Any]) -> None:
    value["latitude"], value["longitude"] = value["longitude"], value["latitude"]


def with_an_error(value: dict[str, Any]) -> None:
    value.clear()
    value.update({"error": True, "reason": "Daily API request limit exceeded.\n\x1b[31m"})


def with_texts(value: dict[str, Any]) -> None:
    for key in value["hourly"]:
        if key != "time":
            value["hourly"][key] = ["5"] * ROWS


def with_times_of_nonsense(value: dict[str, Any]) -> None:
    value["hourly"]["time"] = ["soon", None, 5, {}] * 18


@pytest.mark.parametrize(
    "spoil",
    [
        without_units,
        without_hourly,
        without_offset,
        with_monstrous_offset,
        all_null,
        in_the_past,
        elsewhere,
        with_an_error,
        with_texts,
        with_times_of_nonsense,
    ],
)
def test_an_answer_that_is_no_forecast_of_here_and_now_is_refused(
    spoil: Callable[[dict[str, Any]], None],
) -> None:
    value = answer()
    spoil(value)
    with pytest.raises(OperationalError, match=r"^Open-Meteo [^\n\x1b]+\.$"):
        read(value)


@pytest.mark.parametrize("value", [[], [5], 5, "text", None, {}, {"hourly": 5}, {"hourly": []}])
def test_json_of_another_shape_is_refused(value: object) -> None:
    with pytest.raises(OperationalError, match=r"^Open-Meteo "):
        read(value)


def test_nulls_are_unknown_and_not_zero() -> None:
    value = answer()
    value["hourly"]["precipitation"][11] = None
    value["hourly"]["temperature_2m"][10] = None
    ten = hour_at(read(value), "2026-03-07T10:00")
    assert (ten.rain_mm, ten.temperature_c) == (None, None)
    assert ten.relative_humidity_percent == 50.0


def test_an_array_shorter_than_the_times_leaves_the_rest_unknown() -> None:
    value = answer()
    value["hourly"]["precipitation"] = value["hourly"]["precipitation"][:30]
    forecast = read(value)
    assert hour_at(forecast, "2026-03-08T04:00").rain_mm == 2.9
    assert hour_at(forecast, "2026-03-08T05:00").rain_mm is None


def test_an_array_longer_than_the_times_adds_nothing() -> None:
    value = answer()
    value["hourly"]["temperature_2m"] += [55.0] * 10
    assert read(value) == read(answer())


def test_absurd_values_cost_only_their_hour() -> None:
    value = answer()
    value["hourly"]["temperature_2m"][10] = 999
    value["hourly"]["precipitation"][11] = -5
    forecast = read(value)
    assert hour_at(forecast, "2026-03-07T10:00").temperature_c is None
    assert hour_at(forecast, "2026-03-07T10:00").rain_mm is None
    assert hour_at(forecast, "2026-03-07T11:00").temperature_c == -1.1


def test_numbers_that_are_no_json_numbers_are_unknown() -> None:
    text = json.dumps(answer())
    text = text.replace("-1.0,", "NaN,", 1).replace("-1.1,", "Infinity,", 1)
    text = text.replace("-1.2,", "1e999,", 1).replace("-1.3,", "9" * 400 + ",", 1)
    forecast = parse(text.encode(), PLACE, NOW)
    found = [hour_at(forecast, f"2026-03-07T{hour}:00").temperature_c for hour in range(10, 15)]
    assert found == [None, None, None, None, -1.4]


def test_rows_in_disorder_are_sorted_and_the_first_of_doubles_counts() -> None:
    value = answer()
    for rows in value["hourly"].values():
        rows.append(rows[10])
        rows.reverse()
    value["hourly"]["temperature_2m"][0] = 33.0
    forecast = read(value)
    assert [hour.starts_at for hour in forecast.hours] == sorted(
        hour.starts_at for hour in forecast.hours
    )
    assert hour_at(forecast, "2026-03-07T10:00").temperature_c == 33.0


def test_of_a_list_of_places_the_nearest_is_taken() -> None:
    other = answer() | {"latitude": 10.0}
    assert read([other, "noise", answer()]) == read(answer())


def test_a_missing_elevation_does_no_harm_and_a_negative_radiation_is_zero() -> None:
    value = answer()
    value["hourly"]["shortwave_radiation"] = [-0.3] * ROWS
    assert hour_at(read(value), "2026-03-07T10:00").radiation_w_m2 == 0.0


def test_one_request_asks_for_greenwich_time_and_metric_units() -> None:
    source = OpenMeteo(Http(MemoryAnswers()))
    url = source.question(Place(43.70455, -79.404625, "America/Toronto", elevation_m=165.4)).url
    assert url.startswith("https://api.open-meteo.com/v1/forecast?latitude=43.7&longitude=-79.4&")
    for part in (
        "timezone=GMT",
        "wind_speed_unit=ms",
        "precipitation_unit=mm",
        "temperature_unit=celsius",
        "elevation=165",
    ):
        assert part in url.split("&")
    assert source.covers(PLACE)
