"""Service by service, in the configured order."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime, timedelta

import pytest

from strawbell.app.ports import ForecastSource
from strawbell.edges.forecasts.chain import ADAPTERS, build_sources, first_forecast
from strawbell.edges.forecasts.http import Http
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Place
from support.forecast_server import Answer, FakeService
from support.memory_answers import MemoryAnswers, MemoryForecasts

PLACE = Place(40.71, -74.0, "America/New_York")
NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
HOUR = timedelta(hours=1)


def forecast(source: str, *, issued: datetime = NOW, hours: int = 48, rain_h: int = 48) -> Forecast:
    start = NOW.replace(minute=0)
    return Forecast(
        source=source,
        issued_at=issued,
        fetched_at=issued,
        hours=tuple(
            Hour(start + n * HOUR, temperature_c=5.0, rain_mm=0.0 if n < rain_h else None)
            for n in range(hours)
        ),
        attribution="",
    )


def test_the_first_that_knows_is_taken_and_the_others_are_not_asked() -> None:
    first, second = MemoryForecasts("a", forecast("a")), MemoryForecasts("b", forecast("b"))
    found, complaints = first_forecast((first, second), PLACE, NOW)
    assert found == forecast("a")
    assert complaints == ()
    assert second.asked == 0


def test_one_that_fails_is_complained_of_and_the_next_is_taken() -> None:
    sources = (MemoryForecasts("a", "A is down."), MemoryForecasts("b", forecast("b")))
    found, complaints = first_forecast(sources, PLACE, NOW)
    assert found == forecast("b")
    assert complaints == ("A is down.",)


def test_one_that_does_not_cover_the_place_is_passed_over_in_silence() -> None:
    far = MemoryForecasts("far", forecast("far"), everywhere=False)
    found, complaints = first_forecast((far, MemoryForecasts("b", forecast("b"))), PLACE, NOW)
    assert found == forecast("b")
    assert complaints == ()
    assert far.asked == 0


def test_when_all_fail_the_youngest_last_good_answer_is_returned_with_its_own_times() -> None:
    old, older = (forecast(name, issued=NOW - age * HOUR) for name, age in (("b", 20), ("a", 30)))
    sources = (
        MemoryForecasts("a", "A is down.", kept=older),
        MemoryForecasts("b", "B is down.", kept=old),
        MemoryForecasts("c", "C is down."),
    )
    found, complaints = first_forecast(sources, PLACE, NOW)
    assert found == old
    assert complaints == ("A is down.", "B is down.", "C is down.")


def test_without_any_answer_ever_there_is_no_forecast_but_there_are_complaints() -> None:
    assert first_forecast((MemoryForecasts("a", "A is down."),), PLACE, NOW) == (
        None,
        ("A is down.",),
    )
    assert first_forecast((), PLACE, NOW) == (None, ())


@pytest.mark.parametrize(("rain_h", "taken"), [(24, "b"), (25, "a")])
def test_one_that_leaves_rain_of_the_next_day_unknown_gives_way_to_one_that_knows(
    rain_h: int, taken: str
) -> None:
    """From 04:30 the next 24 hours touch 25 hours of the clock."""
    sources = (
        MemoryForecasts("a", forecast("a", rain_h=rain_h)),
        MemoryForecasts("b", forecast("b")),
    )
    found, complaints = first_forecast(sources, PLACE, NOW)
    assert found is not None
    assert found.source == taken
    assert len(complaints) == (taken == "b")


def test_one_that_knows_only_a_part_is_better_than_none() -> None:
    sources = (
        MemoryForecasts("a", forecast("a", hours=14)),
        MemoryForecasts("b", forecast("b", rain_h=3)),
        MemoryForecasts("c", "C is down."),
    )
    found, complaints = first_forecast(sources, PLACE, NOW)
    assert found == forecast("a", hours=14)
    assert complaints == (
        "The forecast of a leaves the rain and temperature of the next 24 hours partly unknown.",
        "The forecast of b leaves the rain of the next 24 hours partly unknown.",
        "C is down.",
    )


def test_on_the_full_hour_twenty_four_hours_are_enough() -> None:
    source = MemoryForecasts("a", forecast("a", hours=24))
    assert first_forecast((source,), PLACE, NOW.replace(minute=0))[1] == ()


def test_all_configured_names_are_built_in_order_and_only_those_are_imported() -> None:
    code = (
        "import sys; from strawbell.edges.forecasts.chain import build_sources;"
        "from strawbell.edges.forecasts.http import Http;"
        "print([s.name for s in build_sources(['met-norway', 'open-meteo'], Http(None))],"
        "'strawbell.edges.forecasts.nws' in sys.modules)"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert found.stdout.strip() == "['met-norway', 'open-meteo'] False"


def test_the_three_services_stand_in_for_each_other_and_the_last_answer_for_all() -> None:
    with FakeService(now=NOW) as service:
        http = Http(MemoryAnswers())
        urls = dict.fromkeys(ADAPTERS, service.base_url)
        sources: tuple[ForecastSource, ...] = build_sources(ADAPTERS, http, urls)
        service.fail_at("/v1", Answer(502))
        service.fail_at("/gridpoints", Answer(503))
        found, complaints = first_forecast(sources, PLACE, NOW)
        assert found is not None
        assert found.source == "met-norway"
        assert [text.split(" has")[0] for text in complaints] == [
            "Open-Meteo",
            "The US National Weather Service",
        ]
        service.fail(500)
        later, complaints = first_forecast(sources, PLACE, NOW + timedelta(days=5))
        assert later == found
        assert len(complaints) == 3
