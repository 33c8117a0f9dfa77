"""Gardens that differ in nothing but their names share a decision."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.app import neighbours
from strawbell.app.neighbours import MOST_PLANS, Neighbours
from strawbell.decision.brief import brief
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.journal_index import JournalIndex
from support.gardens import at, batch, forecast, garden, on_day, planting, tell_whole

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

    monkeypatch.setattr(neighbours, "brief", counted)
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
