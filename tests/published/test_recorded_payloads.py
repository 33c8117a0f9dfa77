"""The parsers on answers recorded from the real services, where those are at hand.

They are looked for in the folder named by STRAWBELL_RECORDED_ANSWERS, else in `shared/payloads`
beside the checkout. They are not part of the project. Expected values are worked out here from
the recorded numbers by another way than the parsers': by the rule of the service's
documentation, value by value.
"""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from strawbell.edges.forecasts import met_norway, nws, open_meteo
from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Place
from support.sound_forecast import assert_sound

HOUR = timedelta(hours=1)
FOLDER = Path(
    os.environ.get("STRAWBELL_RECORDED_ANSWERS")
    or Path(__file__).resolve().parents[2].parent / "shared" / "payloads"
)
TORONTO = "open-meteo/toronto_2026-03_dst_rain_freeze_fahrenheit.json"
BERLIN = "open-meteo/berlin_2025-07_et0_40_variables.json"
FLORIDA = "nws/gridpoint_florida_2022-02_rain.json"
WASHINGTON = "nws/points_washington_2026-02.json"
OSLO = "met-norway/oslo_2026-02_compact_snow_freeze.json"
GERMANY = "met-norway/germany_2022-08_complete_heat_35C.json"

pytestmark = pytest.mark.skipif(
    not FOLDER.is_dir(),
    reason="recorded answers of the services are not at hand (STRAWBELL_RECORDED_ANSWERS)",
)


def body(name: str) -> bytes:
    path = FOLDER / name
    if not path.is_file():
        pytest.skip(f"{name} is not among the recorded answers")
    return path.read_bytes()


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)  # type: ignore[misc, arg-type]


def by_hour(forecast: Forecast) -> dict[datetime, Hour]:
    return {hour.starts_at: hour for hour in forecast.hours}


def test_toronto_over_the_clock_change_is_read_hour_by_hour_from_fahrenheit_and_inches() -> None:
    raw = body(TORONTO)
    place = Place(43.7, -79.42, "America/Toronto")
    forecast = open_meteo.parse(raw, place, utc(2026, 3, 5, 12))
    assert_sound(forecast)
    hours = by_hour(forecast)
    rows = json.loads(raw)["hourly"]
    for row, text in enumerate(rows["time"]):
        at = datetime.fromisoformat(text).replace(tzinfo=UTC) + 5 * HOUR  # fixed offset, -18000 s
        assert hours[at].temperature_c == pytest.approx((rows["temperature_2m"][row] - 32) * 5 / 9)
        assert hours[at].wind_m_s == pytest.approx(rows["wind_speed_10m"][row] * 0.44704)
        assert hours[at - HOUR].rain_mm == pytest.approx(rows["precipitation"][row] * 25.4)
    assert len(hours) == 8 * 24 + 1
    wettest = max(forecast.hours, key=lambda hour: hour.rain_mm or 0.0)
    assert wettest.rain_mm == pytest.approx(25.6, abs=0.05)  # 1.008 in


def test_berlin_in_greenwich_time_and_kilometres_an_hour() -> None:
    raw = body(BERLIN)
    place = Place(52.52, 13.41, "Europe/Berlin")
    forecast = open_meteo.parse(raw, place, utc(2025, 7, 27, 3))
    assert_sound(forecast)
    hours = by_hour(forecast)
    rows = json.loads(raw)["hourly"]
    for row, text in enumerate(rows["time"]):
        at = datetime.fromisoformat(text).replace(tzinfo=UTC)
        assert hours[at].temperature_c == pytest.approx(rows["temperature_2m"][row])
        assert hours[at].relative_humidity_percent == rows["relative_humidity_2m"][row]
        assert hours[at].dew_point_c == rows["dew_point_2m"][row]
        assert hours[at].cloud_percent == rows["cloud_cover"][row]
        assert hours[at].wind_m_s == pytest.approx(rows["wind_speed_10m"][row] / 3.6)
        assert hours[at - HOUR].rain_mm == rows["precipitation"][row]
        assert hours[at - HOUR].rain_chance_percent == rows["precipitation_probability"][row]
    assert len(hours) == 7 * 24 + 1
    assert {hour.radiation_w_m2 for hour in forecast.hours} == {None}


def test_florida_keeps_its_rain_when_intervals_are_spread_over_their_hours() -> None:
    raw = body(FLORIDA)
    place = Place(30.02, -84.98, "America/New_York")
    forecast = nws.parse(raw, place, utc(2022, 2, 4, 4))
    assert_sound(forecast)
    properties = json.loads(raw)["properties"]
    amounts = properties["quantitativePrecipitation"]["values"]
    recorded = sum(entry["value"] for entry in amounts)
    assert sum(hour.rain_mm or 0.0 for hour in forecast.hours) == pytest.approx(recorded)
    assert recorded > 20.0
    assert forecast.issued_at == utc(2022, 2, 4, 3, 15, 41)
    hours = by_hour(forecast)
    assert hours[utc(2022, 2, 3, 21)].temperature_c == pytest.approx(22.8, abs=0.05)
    assert hours[utc(2022, 2, 3, 21)].wind_m_s == pytest.approx(20.372 / 3.6)
    assert hours[utc(2022, 2, 11, 10)].temperature_c == pytest.approx(4.4, abs=0.05)
    # The last amount begins 2022-02-10 06:00 and lasts six hours: then rain is unknown.
    assert hours[utc(2022, 2, 10, 11)].rain_mm == 0.0
    assert hours[utc(2022, 2, 10, 12)].rain_mm is None
    assert hours[utc(2022, 2, 10, 12)].temperature_c is not None


def test_florida_a_day_later_is_an_old_answer_and_refused() -> None:
    place = Place(30.02, -84.98, "America/New_York")
    with pytest.raises(OperationalError, match="hours old"):
        nws.parse(body(FLORIDA), place, utc(2022, 2, 5, 4))


def test_the_look_up_of_washington_names_its_cell() -> None:
    assert nws._read_grid(body(WASHINGTON), utc(2026, 2, 6)) == "/gridpoints/LWX/97,71"


def test_a_problem_document_is_no_forecast() -> None:
    with pytest.raises(OperationalError, match="no forecast"):
        nws.parse(body("nws/error_400_problem.json"), Place(30.0, -85.0, "UTC"), utc(2026, 2, 6))


def steps(raw: bytes) -> list[dict[str, Any]]:
    found = json.loads(raw)["properties"]["timeseries"]
    assert isinstance(found, list)
    return found


def test_oslo_counts_hourly_snow_once_and_six_hourly_amounts_after_it() -> None:
    raw = body(OSLO)
    place = Place(59.9139, 10.7522, "Europe/Oslo")
    forecast = met_norway.parse(raw, place, utc(2026, 2, 6, 20, 40))
    assert_sound(forecast)
    expected = 0.0
    for step in steps(raw):
        period = step["data"].get("next_1_hours")
        if period is None and datetime.fromisoformat(step["time"]).hour % 6 == 0:
            period = step["data"].get("next_6_hours")
        expected += period["details"]["precipitation_amount"] if period else 0.0
    assert sum(hour.rain_mm or 0.0 for hour in forecast.hours) == pytest.approx(expected)
    hours = by_hour(forecast)
    assert hours[utc(2026, 2, 6, 21)].rain_mm == 0.5
    assert hours[utc(2026, 2, 6, 21)].temperature_c == -5.8
    assert hours[utc(2026, 2, 9, 6)].temperature_c == -4.4
    assert hours[utc(2026, 2, 9, 7)].temperature_c is None  # compact: no extremes in between
    assert forecast.hours[-1] == Hour(
        utc(2026, 2, 16, 18),
        temperature_c=-5.9,
        relative_humidity_percent=82.0,
        wind_m_s=1.9,
        cloud_percent=100.0,
    )


def test_germany_keeps_the_services_own_extremes_between_six_hourly_steps() -> None:
    raw = body(GERMANY)
    place = Place(53.5, 13.0, "Europe/Berlin")
    forecast = met_norway.parse(raw, place, utc(2022, 8, 2, 15, 50))
    assert_sound(forecast)
    hours = by_hour(forecast)
    series = steps(raw)
    checked = 0
    for step, after in pairwise(series):
        at, then = (datetime.fromisoformat(one["time"]) for one in (step, after))
        details = step["data"].get("next_6_hours", {}).get("details", {})
        if then - at != 6 * HOUR or "air_temperature_min" not in details:
            continue
        inside = [hours[at + n * HOUR].temperature_c for n in range(1, 6)]
        known = [one for one in inside if one is not None]
        assert len(known) == 5
        assert min(known) == details["air_temperature_min"]
        assert max(known) == details["air_temperature_max"]
        checked += 1
    assert checked > 20
    assert max(hour.temperature_c or 0.0 for hour in forecast.hours) >= 34.0
    assert hours[utc(2022, 8, 2, 16)].rain_chance_percent == 0.0
    assert hours[utc(2022, 8, 2, 16)].dew_point_c == 7.4


@pytest.mark.parametrize("name", [TORONTO, BERLIN, OSLO, GERMANY, FLORIDA])
def test_a_recorded_answer_is_refused_for_a_place_with_swapped_coordinates(name: str) -> None:
    parse = {"open-meteo": open_meteo.parse, "nws": nws.parse, "met-norway": met_norway.parse}
    with pytest.raises(OperationalError, match="another place"):
        parse[name.partition("/")[0]](body(name), Place(12.0, 52.0, "UTC"), utc(2026, 3, 5))
