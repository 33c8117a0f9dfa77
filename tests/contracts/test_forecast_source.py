"""What every forecast source promises; run on the three adapters and on the in-memory fake."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import pytest

from strawbell.app.ports import ForecastSource
from strawbell.edges.forecasts.chain import ADAPTERS, build_sources
from strawbell.edges.forecasts.http import Http
from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Place
from support.forecast_server import (
    FakeService,
    Weather,
    calm,
    freeze,
    heat,
    rain,
)
from support.memory_answers import MemoryAnswers, MemoryForecasts
from support.sound_forecast import assert_sound

PLACE = Place(40.712812, -74.006015, "America/New_York")
NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
THIS_HOUR = NOW.replace(minute=0)
HOUR = timedelta(hours=1)


@dataclass
class Case:
    """A source, and how to give it weather or failure."""

    source: ForecastSource
    give: Callable[[Weather], None]
    break_down: Callable[[], None]
    service: FakeService | None = None


@pytest.fixture(params=[*ADAPTERS, "memory"])
def case(request: pytest.FixtureRequest) -> Iterator[Case]:
    if request.param == "memory":
        source = MemoryForecasts("memory", as_forecast(calm))

        def give(weather: Weather) -> None:
            source.answer = as_forecast(weather)

        def break_down() -> None:
            source.kept = source.answer
            source.answer = "The memory is down."

        yield Case(source, give, break_down)
        return
    with FakeService(now=NOW) as service:
        urls = {request.param: service.base_url}
        (adapter,) = build_sources([request.param], Http(MemoryAnswers()), urls)
        yield Case(adapter, service.set_weather, lambda: service.fail(503), service)


def as_forecast(weather: Weather) -> Forecast:
    start = THIS_HOUR - 3 * HOUR
    hours = tuple(Hour(start + n * HOUR, **weather(start + n * HOUR)) for n in range(170))
    return Forecast("memory", NOW, NOW, hours, "From memory")


def next_day(forecast: Forecast) -> list[Hour]:
    return [h for h in forecast.hours if THIS_HOUR <= h.starts_at < THIS_HOUR + 24 * HOUR]


def test_it_answers_with_a_sound_forecast_of_its_own_name(case: Case) -> None:
    forecast = case.source.fetch(PLACE, NOW)
    assert_sound(forecast)
    assert forecast.source == case.source.name
    assert forecast.fetched_at == NOW
    assert NOW - 24 * HOUR <= forecast.issued_at <= NOW
    assert forecast.wind_height_m == 10.0
    assert case.source.covers(PLACE) is True


@pytest.mark.parametrize("weather", [calm, freeze, rain, heat])
def test_every_service_tells_the_same_weather_for_the_same_hour(
    case: Case, weather: Weather
) -> None:
    """Preceding hours, intervals and coming hours all become the hour that begins."""
    case.give(weather)
    hours = next_day(case.source.fetch(PLACE, NOW))
    assert len(hours) == 24
    for hour in hours:
        true = weather(hour.starts_at)
        assert hour.temperature_c == pytest.approx(true["temperature_c"])
        assert hour.rain_chance_percent == true["rain_chance_percent"]
        assert hour.relative_humidity_percent == true["relative_humidity_percent"]
        assert hour.wind_m_s == pytest.approx(true["wind_m_s"])
        assert hour.dew_point_c == true["dew_point_c"]
        assert hour.cloud_percent == true["cloud_percent"]


@pytest.mark.parametrize("weather", [calm, rain])
def test_the_rain_of_the_coming_week_is_neither_lost_nor_doubled(
    case: Case, weather: Weather
) -> None:
    """Amounts over six hours are spread, so days are compared from 04 UTC, not single hours."""
    case.give(weather)
    hours = case.source.fetch(PLACE, NOW).hours
    end = THIS_HOUR + timedelta(days=5)
    known = [h for h in hours if THIS_HOUR + 2 * HOUR <= h.starts_at < end + 2 * HOUR]
    true = sum(weather(hour.starts_at)["rain_mm"] or 0.0 for hour in known)
    assert len(known) == 120
    assert sum(hour.rain_mm or 0.0 for hour in known) == pytest.approx(true)


@pytest.mark.parametrize(
    "name",
    [
        "rain_mm",
        "rain_chance_percent",
        "temperature_c",
        "relative_humidity_percent",
        "wind_m_s",
        "dew_point_c",
        "cloud_percent",
        "radiation_w_m2",
        "snow_cm",
    ],
)
def test_what_the_service_does_not_know_is_unknown_and_never_zero(case: Case, name: str) -> None:
    def lacking(hour: datetime) -> Mapping[str, float | None]:
        return {key: value for key, value in calm(hour).items() if key != name}

    case.give(lacking)
    hours = case.source.fetch(PLACE, NOW).hours
    assert {getattr(hour, name) for hour in hours} == {None}
    assert any(hour.temperature_c is not None or hour.rain_mm is not None for hour in hours)


def test_a_failure_is_an_operational_error_in_one_sentence_and_the_last_good_answer_stays(
    case: Case,
) -> None:
    good = case.source.fetch(PLACE, NOW)
    case.break_down()
    with pytest.raises(OperationalError) as caught:
        case.source.fetch(PLACE, NOW + 7 * HOUR)
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)
    assert case.source.last_good(PLACE) == good


def test_no_request_carries_more_than_two_decimals(case: Case) -> None:
    case.source.fetch(PLACE, NOW)
    for hit in case.service.hits if case.service else []:
        assert "40.712" not in hit.path
        assert "gridpoints" in hit.path or ("40.71" in hit.path and "-74.01" in hit.path)


def test_asked_again_within_the_interval_it_answers_from_what_it_kept(case: Case) -> None:
    first = case.source.fetch(PLACE, NOW)
    asked = len(case.service.hits) if case.service else 0
    assert case.source.fetch(PLACE, NOW + timedelta(minutes=20)) == first
    assert (len(case.service.hits) if case.service else 0) == asked


@pytest.mark.parametrize("name", ADAPTERS)
def test_a_restart_keeps_what_was_kept(name: str) -> None:
    """A new adapter over the same cache asks nothing anew."""
    with FakeService(now=NOW) as service:
        cache = MemoryAnswers()
        (before,) = build_sources([name], Http(cache), {name: service.base_url})
        first = before.fetch(PLACE, NOW)
        asked = len(service.hits)
        (after,) = build_sources([name], Http(cache), {name: service.base_url})
        assert after.fetch(PLACE, NOW + timedelta(minutes=20)) == first
        assert len(service.hits) == asked
