"""Gardens of one weather cell share a forecast, and a decision where nothing else differs."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.app import looks
from strawbell.app.looks import CELL_DECIMALS, MOST_PLANS, Neighbours, cell_of, shared
from strawbell.app.pipeline import Pipeline
from strawbell.decision.brief import brief
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Garden, Place
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.journal_index import JournalIndex
from support.fake_clock import sender
from support.gardens import PLACE, at, batch, forecast, garden, on_day, planting, tell_whole
from support.memory_store import MemoryStore

HERE = garden(batch(plantings=(planting(),)))
NEXT_DOOR = replace(HERE, name="Next door")
NOW = at(on_day(9))


def told(plan: Garden) -> Journal:
    journal: Journal = ()
    for day in range(1, 9):
        journal = tell_whole(journal, plan, forecast(at(on_day(day))), at(on_day(day)))
    return journal


@pytest.fixture
def decisions(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the names of gardens that were decided for themselves."""
    made: list[str] = []

    def counted(plan: Garden, *rest: object, **options: object) -> object:
        made.append(plan.name)
        return brief(plan, *rest, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(looks, "brief", counted)
    return made


def test_a_neighbour_of_the_same_plan_and_history_gets_the_same_brief_under_its_own_name(
    decisions: list[str],
) -> None:
    seen, shared = forecast(NOW), Neighbours()
    for plan in (HERE, NEXT_DOOR):
        found = shared.brief(plan, JournalIndex.of(told(plan)), seen, NOW, whole=True)
        assert found == brief(plan, told(plan), seen, NOW)
    assert decisions == ["Orchard corner"]


def other_plan(plan: Garden, journal: Journal, seen: Forecast) -> tuple[Garden, Journal, Forecast]:
    return replace(plan, batches=(batch(bales=5),)), journal, seen


def other_place(plan: Garden, journal: Journal, seen: Forecast) -> tuple[Garden, Journal, Forecast]:
    return replace(plan, place=replace(plan.place, latitude=47.051)), journal, seen


def other_history(
    plan: Garden, journal: Journal, seen: Forecast
) -> tuple[Garden, Journal, Forecast]:
    rain = JournalEntry(at(on_day(8), 20), plan.name, on_day(8), EntryKind.RAIN, value=12.0)
    return plan, (*journal, rain), seen


def other_sky(plan: Garden, journal: Journal, seen: Forecast) -> tuple[Garden, Journal, Forecast]:
    return plan, journal, replace(seen)


@pytest.mark.parametrize("other", [other_plan, other_place, other_history, other_sky])
def test_whatever_is_different_is_decided_for_itself(decisions: list[str], other) -> None:  # type: ignore[no-untyped-def]
    seen, shared = forecast(NOW), Neighbours()
    shared.brief(HERE, JournalIndex.of(told(HERE)), seen, NOW, whole=True)
    plan, journal, sky = other(NEXT_DOOR, told(NEXT_DOOR), seen)
    found = shared.brief(plan, JournalIndex.of(journal), sky, NOW, whole=True)
    assert found == brief(plan, journal, sky, NOW)
    assert decisions == ["Orchard corner", "Next door"]


def test_a_watch_is_not_taken_for_the_whole_morning(decisions: list[str]) -> None:
    seen, shared = forecast(NOW), Neighbours()
    for whole in (False, True):
        shared.brief(HERE, JournalIndex.of(told(HERE)), seen, NOW, whole=whole)
    assert len(decisions) == 2


def test_only_so_many_plans_of_a_cell_are_held(decisions: list[str]) -> None:
    seen, shared = forecast(NOW), Neighbours()
    for bales in (*range(1, MOST_PLANS + 2), 1):
        shared.brief(
            replace(HERE, batches=(batch(bales=bales),)), JournalIndex(), seen, NOW, whole=False
        )
    assert len(decisions) == MOST_PLANS + 2


THEN = at(on_day(3))


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
    assert ask(PLACE, THEN) is ask(beside, THEN)
    assert len(asked.places) == 1
    ask(replace(PLACE, latitude=PLACE.latitude + 0.006), THEN)
    ask(replace(PLACE, elevation_m=460.0), THEN)
    ask(PLACE, THEN + timedelta(minutes=60))
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
            ask(PLACE, THEN)
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
    told = Pipeline(gardens, MemoryStore(), (), asked, sender()).tick(THEN)
    assert {each.garden for each in told} == {each.name for each in gardens}
    assert len(asked.places) == 4
