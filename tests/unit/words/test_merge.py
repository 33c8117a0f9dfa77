"""What asks the same of each bale is said once, with the sum; what does not is not."""

from __future__ import annotations

from datetime import date

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Action, Also, State, Suffering
from strawbell.words.merge import importance, merge_tasks
from support.briefs import dose, feeding, frost_reason, held_feeding, protecting, watering


def test_one_feed_for_two_rows_is_one_task_with_the_sum() -> None:
    (merged,) = merge_tasks((feeding(), feeding("Row C", 3)))
    assert merged.batches == ("Row A", "Row C")
    assert merged.whole.bales == 9
    assert merged.whole.dose is not None
    assert merged.whole.dose.total_ml == pytest.approx(7500.0)


def test_rows_on_different_days_share_the_bag_when_the_dose_is_the_same() -> None:
    assert len(merge_tasks((feeding(), feeding("Row C", 3, day=3)))) == 1


@pytest.mark.parametrize(
    "changes",
    [
        {"dose": dose(3, 250.0)},
        {"dose": dose(3, feed="Other feed")},
        {"state": State.DONE},
        {"reasons": (frost_reason(),)},
        {"note": "only this row"},
        {"water_per_bale_l": 9.0},
    ],
)
def test_what_differs_in_substance_stays_apart(changes: dict[str, object]) -> None:
    assert len(merge_tasks((feeding(), feeding("Row C", 3, **changes)))) == 2


def test_holds_that_end_on_different_days_stay_apart() -> None:
    later = held_feeding("Row C", 3, held_until=date(2027, 4, 12))
    assert len(merge_tasks((held_feeding(), later))) == 2


def test_what_is_held_alike_is_held_together_whatever_the_dose() -> None:
    assert len(merge_tasks((held_feeding(), held_feeding("Row C", 3, dose=dose(3, 89.0))))) == 1


def test_one_cover_is_for_all_crops_and_a_row_counts_once() -> None:
    (merged,) = merge_tasks((protecting("tomato"), protecting("basil")))
    assert merged.whole.crops == ("tomato", "basil")
    assert (merged.whole.bales, merged.whole.plants) == (3, 12)


def test_a_number_of_plants_that_is_unknown_makes_the_sum_unknown() -> None:
    (merged,) = merge_tasks((protecting("tomato"), protecting("basil", plants=None)))
    assert merged.whole.plants is None


def test_a_volume_that_is_unknown_makes_the_sum_unknown() -> None:
    unknown = replace(dose(3), per_bale_ml=None, total_ml=None)
    (merged,) = merge_tasks((feeding(), feeding("Row C", 3, dose=unknown)))
    assert merged.whole.dose is not None
    assert merged.whole.dose.total_ml is None


def test_a_feeding_comes_before_water_and_what_is_done_comes_last() -> None:
    tasks = (feeding(state=State.DONE), watering("Row C", 3), feeding("Row C", 3))
    order = [(each.whole.action, each.whole.state) for each in merge_tasks(tasks)]
    assert order == [
        (Action.FEED, State.DUE),
        (Action.WATER, State.DUE),
        (Action.FEED, State.DONE),
    ]


def test_what_is_to_do_comes_before_what_is_to_wait() -> None:
    order = [each.whole.state for each in merge_tasks((held_feeding(), watering("Row C", 3)))]
    assert order == [State.DUE, State.HELD]


def test_no_water_stands_with_what_is_left_to_wait() -> None:
    none = watering(action=Action.SOAK, water_per_bale_l=0.0)
    assert merge_tasks((none, watering("Row C", 3)))[0].whole.action is Action.WATER


def test_one_walk_picks_all_that_is_ripe() -> None:
    picked = [watering(action=Action.HARVEST, crops=(crop,)) for crop in ("tomato", "basil")]
    (merged,) = merge_tasks(picked)
    assert merged.whole.crops == ("tomato", "basil")


def test_how_warm_it_is_inside_goes_first_only_where_something_goes_in() -> None:
    look = watering(action=Action.INSPECT, water_per_bale_l=None)
    assert merge_tasks((look, watering()))[0].whole.action is Action.WATER
    plant = watering("Row C", 3, action=Action.PLANT)
    assert merge_tasks((plant, look))[0].whole.action is Action.INSPECT


@pytest.mark.parametrize("action", Action)
@pytest.mark.parametrize("state", State)
def test_every_action_and_state_has_its_rank(action: Action, state: State) -> None:
    assert importance(watering(action=action, state=state))


def test_a_dry_bale_is_soaked_before_it_is_fed() -> None:
    tasks = (feeding(day=1), watering(action=Action.SOAK, day=1))
    assert [each.whole.action for each in merge_tasks(tasks)] == [Action.SOAK, Action.FEED]


def test_merging_loses_no_task_and_no_bale() -> None:
    tasks = (feeding(), feeding("Row C", 3), watering("Row D", 2), held_feeding("Row E", 4))
    merged = merge_tasks(tasks)
    assert {task.key for group in merged for task in group.tasks} == {task.key for task in tasks}


@pytest.mark.parametrize(
    "changes", [{"also": (Also.SHADE,)}, {"suffering": (Suffering("kale", "bolts"),)}]
)
def test_what_heat_does_in_one_row_is_not_said_of_another(changes: dict[str, object]) -> None:
    """Only the row with the kale is told of it."""
    assert len(merge_tasks([watering(), watering("Row C", 3, **changes)])) == 2
