"""The default service's forecast gets the age of its run."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

from strawbell.edges.forecasts.http import Http
from strawbell.edges.forecasts.open_meteo import Run, Runs, parse_run
from strawbell.errors import OperationalError
from support.forecast_server import Answer, FakeOpenMeteo
from support.memory_answers import MemoryAnswers

BEGAN = datetime(2026, 9, 14, 18, tzinfo=UTC)
THERE = datetime(2026, 9, 15, 1, 11, 44, tzinfo=UTC)
SIX_HOURS = timedelta(hours=6)
RUN = Run(BEGAN, THERE, SIX_HOURS)
TOLD = {
    "last_run_initialisation_time": int(BEGAN.timestamp()),
    "last_run_availability_time": int(THERE.timestamp()),
    "update_interval_seconds": 21600,
}


def test_a_run_is_read_from_what_is_told_of_the_model() -> None:
    assert parse_run(json.dumps(TOLD).encode()) == RUN


@pytest.mark.parametrize(
    "changes",
    [
        {"last_run_initialisation_time": None},
        {"last_run_availability_time": "soon"},
        {"last_run_availability_time": int(BEGAN.timestamp()) - 1},
        {"update_interval_seconds": 0},
        {"update_interval_seconds": 10_000_000},
    ],
)
def test_what_tells_of_no_run_is_refused(changes: dict[str, object]) -> None:
    with pytest.raises(OperationalError, match="Open-Meteo did not say"):
        parse_run(json.dumps({**TOLD, **changes}).encode())


def test_a_run_is_old_when_two_newer_ones_are_overdue() -> None:
    """The published page of the service turns red at 13:31:44."""
    assert RUN.good_until == datetime(2026, 9, 15, 13, 31, 44, tzinfo=UTC)


@pytest.mark.parametrize(
    ("after_min", "behind"), [(600, 0), (10, 0), (9, 1), (0, 1), (-350, 1), (-351, 2)]
)
def test_an_answer_fetched_before_the_run_was_everywhere_is_of_one_before_it(
    after_min: int, behind: int
) -> None:
    run = RUN.as_of(THERE + timedelta(minutes=after_min))
    assert run.began_at == BEGAN - behind * SIX_HOURS
    assert run.good_until == RUN.good_until - behind * SIX_HOURS


def test_it_is_asked_once_an_hour() -> None:
    with FakeOpenMeteo() as service:
        service.fail_at("/data/", Answer(200, json.dumps(TOLD).encode()))
        runs = Runs(Http(MemoryAnswers()), service.base_url)
        for minute in (0, 30, 59, 60):
            assert runs.newest(THERE + timedelta(minutes=minute)) == RUN
        assert [hit.path for hit in service.hits] == ["/data/ecmwf_ifs025/static/meta.json"] * 2
