"""One weather cell, one request, however many gardens lie in it."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.app.neighbours import CELL_DECIMALS, cell_of, shared
from strawbell.app.pipeline import Pipeline
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Place
from support.fake_clock import sender
from support.gardens import PLACE, at, forecast, garden, on_day
from support.memory_store import MemoryStore

NOW = at(on_day(3))


class Asked:
    """Forecasts that count how often they are asked for."""

    def __init__(self) -> None:
        self.places: list[Place] = []

    def __call__(self, place: Place, now: datetime) -> tuple[Forecast | None, tuple[str, ...]]:
        self.places.append(place)
        return forecast(now), ()


def test_neighbours_share_a_forecast_and_others_do_not() -> None:
    """Within the cell one answer; over its edge, another height or a later look: another."""
    asked = Asked()
    ask = shared(asked)
    beside = replace(PLACE, latitude=PLACE.latitude + 0.004)
    assert ask(PLACE, NOW) is ask(beside, NOW)
    assert len(asked.places) == 1
    ask(replace(PLACE, latitude=PLACE.latitude + 0.006), NOW)
    ask(replace(PLACE, elevation_m=460.0), NOW)
    ask(PLACE, NOW + timedelta(minutes=60))
    assert len(asked.places) == 4


def test_a_failure_is_not_kept_for_the_neighbour() -> None:
    """A forecast that could not be asked for is asked for again."""
    calls = []

    def fail(place: Place, now: datetime) -> tuple[Forecast | None, tuple[str, ...]]:
        calls.append(place)
        raise RuntimeError("defect")

    ask = shared(fail)
    for _ in range(2):
        with pytest.raises(RuntimeError):
            ask(PLACE, NOW)
    assert len(calls) == 2


def test_a_cell_is_where_it_is_asked_for() -> None:
    """Two decimals and ten metres; a height nobody told stays unknown."""
    cell = cell_of(Place(47.05499, -122.30501, "Europe/Zurich", 444.0))
    assert (cell.latitude, cell.longitude, cell.elevation_m) == (47.05, -122.31, 440.0)
    assert cell_of(replace(PLACE, elevation_m=None)).elevation_m is None
    assert CELL_DECIMALS == 2


def test_a_morning_of_many_gardens_asks_once_a_cell() -> None:
    """Whatever order the gardens stand in the configuration."""
    asked = Asked()
    gardens = [
        replace(garden(), name=f"{cell}-{number}", place=replace(PLACE, latitude=47.0 + cell / 10))
        for number in range(3)
        for cell in range(4)
    ]
    told = Pipeline(gardens, MemoryStore(), (), asked, sender()).tick(NOW)
    assert {each.garden for each in told} == {each.name for each in gardens}
    assert len(asked.places) == 4
