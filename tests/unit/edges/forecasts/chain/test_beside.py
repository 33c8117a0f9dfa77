"""What stands beside a forecast: its run, its members, and a casting vote."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.edges.forecasts.chain import FAR_APART_C, Beside, best_forecast, build_beside
from strawbell.edges.forecasts.http import Http
from strawbell.edges.forecasts.open_meteo import Ensembles, Runs
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Place
from support.forecast_server import Answer, FakeOpenMeteo
from support.memory_answers import MemoryAnswers, MemoryForecasts

PLACE = Place(47.05, 8.31, "Europe/Zurich")
NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
MIDNIGHT = datetime(2027, 4, 9, tzinfo=UTC)
HOUR = timedelta(hours=1)
RUN = {
    "last_run_initialisation_time": int(datetime(2027, 4, 8, 18, tzinfo=UTC).timestamp()),
    "last_run_availability_time": int(datetime(2027, 4, 9, 1, tzinfo=UTC).timestamp()),
    "update_interval_seconds": 21600,
}


def forecast(source: str, air_c: float = 10.0) -> Forecast:
    hours = tuple(Hour(MIDNIGHT + n * HOUR, temperature_c=air_c, rain_mm=0.0) for n in range(72))
    return Forecast(source, NOW, NOW, hours, "")


def ensemble_body(air_c: float) -> bytes:
    names = ["temperature_2m", *(f"temperature_2m_member{n:02}" for n in range(1, 6))]
    times = [int((MIDNIGHT + n * HOUR).timestamp()) for n in range(72)]
    return json.dumps(
        {
            "latitude": 47.0,
            "longitude": 8.25,
            "utc_offset_seconds": 0,
            "hourly_units": {"time": "unixtime", **dict.fromkeys(names, "°C")},
            "hourly": {"time": times, **{name: [air_c] * 72 for name in names}},
        }
    ).encode()


def service_of(air_c: float | None = 10.0, *, run: bool = True) -> FakeOpenMeteo:
    service = FakeOpenMeteo()
    if run:
        service.fail_at("/data/", Answer(200, json.dumps(RUN).encode()))
    if air_c is not None:
        service.fail_at("/v1/ensemble", Answer(200, ensemble_body(air_c)))
    return service


def best(
    service: FakeOpenMeteo, *sources: MemoryForecasts
) -> tuple[Forecast | None, tuple[str, ...]]:
    http = Http(MemoryAnswers())
    beside = Beside(Runs(http, service.base_url), Ensembles(http, service.base_url))
    return best_forecast(sources, PLACE, NOW, beside)


def test_the_default_services_forecast_gets_its_run_and_members() -> None:
    with service_of() as service:
        found, complaints = best(service, MemoryForecasts("open-meteo", forecast("open-meteo")))
    assert found is not None
    assert found.issued_at == datetime(2027, 4, 8, 18, tzinfo=UTC)
    assert found.good_until == datetime(2027, 4, 9, 13, 20, tzinfo=UTC)
    assert found.ensemble is not None
    assert len(found.ensemble.members) == 6
    assert complaints == ()


def test_another_services_forecast_keeps_its_own_time() -> None:
    with service_of() as service:
        found, _ = best(service, MemoryForecasts("nws", forecast("nws")))
    assert found is not None
    assert (found.issued_at, found.good_until) == (NOW, None)
    assert found.ensemble is not None


def test_the_day_goes_on_without_either() -> None:
    with service_of(None, run=False) as service:
        found, complaints = best(service, MemoryForecasts("open-meteo", forecast("open-meteo")))
    assert found == forecast("open-meteo")
    assert complaints == ()


def test_without_a_forecast_nothing_stands_beside_it() -> None:
    with service_of() as service:
        assert best(service, MemoryForecasts("a", "A is down.")) == (None, ("A is down.",))
        assert service.hits == []


@pytest.mark.parametrize(("off_c", "taken"), [(FAR_APART_C, "frozen"), (FAR_APART_C + 0.1, "b")])
def test_a_forecast_far_from_its_members_gives_way_to_a_third_that_is_with_them(
    off_c: float, taken: str
) -> None:
    """As where a cell of the service was frozen days ago."""
    old = forecast("frozen", 10.0 + off_c)
    with service_of() as service:
        found, complaints = best(
            service, MemoryForecasts("frozen", old), MemoryForecasts("b", forecast("b"))
        )
    assert found is not None
    assert found.source == taken
    assert found.ensemble is not None
    assert len(complaints) == (taken == "b")


@pytest.mark.parametrize(
    "others",
    [
        (),
        (MemoryForecasts("b", forecast("b", 20.0)),),
        (MemoryForecasts("b", "B is down."),),
        (MemoryForecasts("far", forecast("far"), everywhere=False),),
    ],
)
def test_members_that_nobody_is_with_are_left_out(others: tuple[MemoryForecasts, ...]) -> None:
    with service_of() as service:
        found, complaints = best(
            service, MemoryForecasts("a", replace(forecast("a", 20.0))), *others
        )
    assert found == forecast("a", 20.0)
    assert complaints == ()


def test_nobody_is_asked_beside_where_the_grower_does_not_want_the_default_service() -> None:
    http = Http(MemoryAnswers())
    assert build_beside(("nws", "met-norway"), http) is None
    assert build_beside(("nws", "open-meteo"), http) is not None
