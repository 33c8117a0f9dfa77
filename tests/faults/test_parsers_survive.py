"""Fourteen things a forecast parser must survive, each as a claim over whole answers."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest

from strawbell.edges.forecasts import met_norway, nws, open_meteo
from strawbell.edges.forecasts.http import Http
from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Place
from support.forecast_server import (
    FakeMetNorway,
    FakeNws,
    FakeOpenMeteo,
    calm,
    from_hours,
    met_norway_body,
    nws_grid_body,
    open_meteo_body,
    rain,
)
from support.memory_answers import MemoryAnswers
from support.sound_forecast import assert_sound

PLACE = Place(43.7, -79.42, "America/Toronto")
US_PLACE = Place(40.7128, -74.006, "America/New_York")
NOW = datetime(2026, 3, 7, 12, 20, tzinfo=UTC)
HOUR = timedelta(hours=1)
Spoil = Callable[[dict[str, Any]], None]


def read_open_meteo(spoil: Spoil = lambda answer: None, **options: Any) -> Forecast:
    answer = json.loads(open_meteo_body(rain, NOW, PLACE.latitude, PLACE.longitude, **options))
    spoil(answer)
    return open_meteo.parse(json.dumps(answer).encode(), PLACE, NOW)


def read_nws(spoil: Spoil = lambda answer: None) -> Forecast:
    answer = json.loads(nws_grid_body(rain, NOW, PLACE.latitude, PLACE.longitude))
    spoil(answer)
    return nws.parse(json.dumps(answer).encode(), PLACE, NOW)


def read_met(spoil: Spoil = lambda answer: None) -> Forecast:
    answer = json.loads(met_norway_body(rain, NOW, PLACE.latitude, PLACE.longitude))
    spoil(answer)
    return met_norway.parse(json.dumps(answer).encode(), PLACE, NOW)


READERS: Mapping[str, Callable[[Spoil], Forecast]] = {
    "open-meteo": read_open_meteo,
    "nws": read_nws,
    "met-norway": read_met,
}


def at(forecast: Forecast, hour: datetime) -> Hour:
    return next(one for one in forecast.hours if one.starts_at == hour)


@pytest.mark.parametrize("offset_s", [0, -18000, -14400, 3600, 19800, 45900])
def test_01_whatever_fixed_offset_the_rows_have_over_a_clock_change_the_hours_are_the_same(
    offset_s: int,
) -> None:
    """Toronto's 02:00 of 2026-03-08 does not exist; 5 h 30 min and 12 h 45 min do."""
    forecast = read_open_meteo(offset_s=offset_s)
    assert_sound(forecast)
    # A zone with half hours has rows at half past; each still tells of its own hour.
    for hour in forecast.hours[1:-1]:
        assert hour.temperature_c == rain(hour.starts_at)["temperature_c"]
        assert hour.rain_mm == rain(hour.starts_at)["rain_mm"]
    assert {after.starts_at - before.starts_at for before, after in pairwise(forecast.hours)} == {
        HOUR
    }


def test_02_nulls_short_arrays_and_missing_blocks_are_unknown_or_refused() -> None:
    def holes(answer: dict[str, Any]) -> None:
        answer["hourly"]["temperature_2m"][40:50] = [None] * 10
        answer["hourly"]["cloud_cover"] = []
        del answer["hourly"]["wind_speed_10m"]
        del answer["elevation"]

    forecast = read_open_meteo(holes)
    unknown = [hour for hour in forecast.hours if hour.temperature_c is None]
    assert len(unknown) == 11  # ten holes, and the hour before the first row
    assert {hour.cloud_percent for hour in forecast.hours} == {None}
    assert {hour.wind_m_s for hour in forecast.hours} == {None}
    with pytest.raises(OperationalError):
        read_open_meteo(lambda answer: answer.pop("hourly"))


def test_03_one_place_or_a_list_of_places_is_the_same_answer() -> None:
    body = open_meteo_body(rain, NOW, PLACE.latitude, PLACE.longitude)
    other = open_meteo_body(calm, NOW, 10.0, 10.0)
    listed = b"[" + other + b"," + body + b"]"
    assert open_meteo.parse(listed, PLACE, NOW) == open_meteo.parse(body, PLACE, NOW)


@pytest.mark.parametrize("name", READERS)
def test_04_rain_falls_in_the_hours_it_falls_in_however_the_service_stamps_it(name: str) -> None:
    """Of 10 to 15 UTC, with nothing of it at 09 or 16; amounts over six hours keep their sum."""
    forecast = READERS[name](lambda answer: None)
    first = NOW.replace(hour=18, minute=0)
    day = [hour for hour in forecast.hours if first <= hour.starts_at < first + 24 * HOUR]
    assert len(day) == 24
    assert sum(hour.rain_mm or 0.0 for hour in day) == pytest.approx(18.0)
    if name != "nws":  # whose six-hour amounts blur the edges
        wet = [hour.starts_at.hour for hour in day if hour.rain_mm]
        assert wet == [10, 11, 12, 13, 14, 15]


@pytest.mark.parametrize(
    ("unit", "factor"), [("m/s", 1.0), ("km/h", 3.6), ("mp/h", 1 / 0.44704), ("kn", 3600 / 1852)]
)
def test_05_wind_is_the_same_in_whatever_unit_and_snow_in_centimetres(
    unit: str, factor: float
) -> None:
    def respell(answer: dict[str, Any]) -> None:
        answer["hourly_units"]["wind_speed_10m"] = unit
        rows = answer["hourly"]["wind_speed_10m"]
        answer["hourly"]["wind_speed_10m"] = [row * factor for row in rows]

    assert at(read_open_meteo(respell), NOW.replace(minute=0)).wind_m_s == pytest.approx(2.0)
    snowy = from_hours(NOW.replace(minute=0) - 24 * HOUR, [{**calm(NOW), "snow_cm": 1.5}] * 200)
    bodies = (
        open_meteo.parse(open_meteo_body(snowy, NOW, 43.7, -79.42), PLACE, NOW),
        nws.parse(nws_grid_body(snowy, NOW, 43.7, -79.42), PLACE, NOW),
    )
    for forecast in bodies:
        assert at(forecast, NOW.replace(minute=0)).snow_cm == pytest.approx(1.5)


@pytest.mark.parametrize("name", READERS)
@pytest.mark.parametrize("status", [200, 400, 429, 502, 503])
@pytest.mark.parametrize(
    "body",
    [
        b'{"error": true, "reason": "Hourly API request limit exceeded"}',
        b"<html><head><title>502 Bad Gateway</title></head></html>",
        b'{"hourly": {"time": ["2026-03-07T00:00", Unexpected error while streaming data',
        b'{"type": "about:blank", "title": "Not Found", "status": 404}',
    ],
    ids=["reason", "HTML", "garbled", "problem"],
)
def test_06_errors_of_any_shape_with_any_status_are_one_sentence(
    name: str, status: int, body: bytes
) -> None:
    kind = {"open-meteo": FakeOpenMeteo, "nws": FakeNws, "met-norway": FakeMetNorway}[name]
    adapter = {
        "open-meteo": open_meteo.OpenMeteo,
        "nws": nws.Nws,
        "met-norway": met_norway.MetNorway,
    }[name]
    with kind() as service:
        service.fail(status, body)
        source = adapter(Http(MemoryAnswers()), service.base_url)
        with pytest.raises(OperationalError) as caught:
            source.fetch(US_PLACE, NOW)
    assert str(caught.value).isprintable()
    assert str(caught.value).endswith(".")


def test_07_grid_layers_of_many_lengths_with_gaps_and_old_units_are_read() -> None:
    def respell(answer: dict[str, Any]) -> None:
        layers = answer["properties"]
        layers["gridX"], layers["gridY"] = "33", "35"
        layers["temperature"]["uom"] = "unit:degC"
        layers["windSpeed"] = {
            "uom": "unit:m_s-1",
            "values": [{"validTime": "2026-03-07T12:00:00+00:00/P1DT6H", "value": 2.0}],
        }
        del layers["quantitativePrecipitation"]["values"][2:4]
        layers["snowfallAmount"] = {"values": []}
        layers["skyCover"]["values"][0]["value"] = None

    forecast = read_nws(respell)
    assert_sound(forecast)
    assert at(forecast, NOW.replace(minute=0) + 29 * HOUR).wind_m_s == 2.0
    assert at(forecast, NOW.replace(minute=0) + 30 * HOUR).wind_m_s is None
    assert sum(hour.rain_mm is None for hour in forecast.hours) == 12
    assert {hour.snow_cm for hour in forecast.hours} == {None}


def test_08_a_stale_grid_is_refused_and_a_moved_one_is_found_again() -> None:
    def stale(answer: dict[str, Any]) -> None:
        answer["properties"]["updateTime"] = (NOW - 25 * HOUR).isoformat()

    with pytest.raises(OperationalError, match="25 hours old"):
        read_nws(stale)
    with FakeNws(calm, now=NOW) as service:
        source = nws.Nws(Http(MemoryAnswers()), service.base_url)
        source.fetch(US_PLACE, NOW)
        service.cell = "PHI/12,13"  # the old cell answers 404 now
        assert source.fetch(US_PLACE, NOW + HOUR).fetched_at == NOW + HOUR


@pytest.mark.parametrize("value", ["10 to 15 mph", "10 mph", {"unitCode": "wmoUnit:degC"}, [5]])
@pytest.mark.parametrize("layer", ["windSpeed", "temperature"])
def test_09_texts_and_objects_where_a_number_was_due_are_unknown(layer: str, value: object) -> None:
    def respell(answer: dict[str, Any]) -> None:
        for entry in answer["properties"][layer]["values"]:
            entry["value"] = value

    field = {"windSpeed": "wind_m_s", "temperature": "temperature_c"}[layer]
    assert {getattr(hour, field) for hour in read_nws(respell).hours} == {None}


def test_10_absent_keys_six_hour_steps_and_a_bare_last_step_are_read_once_each() -> None:
    def bare(answer: dict[str, Any]) -> None:
        for step in answer["properties"]["timeseries"]:
            step["data"].get("next_12_hours", {}).pop("details", None)
            step["data"]["instant"]["details"].pop("dew_point_temperature")

    forecast = read_met(bare)
    known = [hour for hour in forecast.hours if hour.rain_mm is not None]
    total = sum(rain(hour.starts_at)["rain_mm"] or 0.0 for hour in known)
    assert sum(hour.rain_mm or 0.0 for hour in known) == pytest.approx(total)
    assert forecast.hours[-1].rain_mm is None
    assert {hour.dew_point_c for hour in forecast.hours} == {None}


@pytest.mark.parametrize("temperature", [100.0, -91.0, 212.0])
def test_11_an_absurd_value_is_unknown(temperature: float) -> None:
    def boil(answer: dict[str, Any]) -> None:
        answer["hourly"]["temperature_2m"][40] = temperature
        answer["hourly"]["shortwave_radiation"][41] = -0.4

    forecast = read_open_meteo(boil)
    hour = forecast.hours[41]
    assert hour.temperature_c is None
    assert hour.radiation_w_m2 == 0.0


@pytest.mark.parametrize("name", READERS)
@pytest.mark.parametrize("change", ["swapped", "flipped", "at zero"])
def test_12_an_answer_for_another_place_is_refused(name: str, change: str) -> None:
    def move(answer: dict[str, Any]) -> None:
        north, east = {"swapped": (-79.42, 43.7), "flipped": (43.7, 79.42), "at zero": (0.0, 0.0)}[
            change
        ]
        if "latitude" in answer:
            answer["latitude"], answer["longitude"] = north, east
        elif answer["geometry"]["type"] == "Point":
            answer["geometry"]["coordinates"] = [east, north]
        else:
            answer["geometry"]["coordinates"] = [[[east, north], [east + 0.01, north + 0.01]]]

    with pytest.raises(OperationalError, match="another place"):
        READERS[name](move)


def test_13_doubles_and_overlaps_are_sorted_and_the_first_kept() -> None:
    def double(answer: dict[str, Any]) -> None:
        series = answer["properties"]["timeseries"]
        again = json.loads(json.dumps(series))
        for step in again:
            step["data"]["instant"]["details"]["air_temperature"] = 40.0
        series.extend(again)
        series.insert(0, series.pop(20))

    assert read_met(double) == read_met()


def test_14_clocks_that_differ_do_no_harm() -> None:
    """A Last-Modified of tomorrow is given back as it came; an Expires of yesterday is ours."""
    with FakeMetNorway(calm, now=NOW) as service:
        tomorrow = "Sun, 08 Mar 2026 12:00:00 GMT"
        service.headers = {"Last-Modified": tomorrow, "Expires": "Fri, 06 Mar 2026 12:00:00 GMT"}
        source = met_norway.MetNorway(Http(MemoryAnswers()), service.base_url)
        source.fetch(US_PLACE, NOW)
        source.fetch(US_PLACE, NOW + HOUR / 3)
        assert len(service.hits) == 1
        service.validator = {"If-Modified-Since": tomorrow}
        assert source.fetch(US_PLACE, NOW + HOUR).fetched_at == NOW + HOUR
        assert service.hits[-1].headers["If-Modified-Since"] == tomorrow
