"""What a crop that goes in is told with: its water, its depth, how many to a bale."""

from __future__ import annotations

import pytest

from strawbell.agronomy.bales import top_area_m2
from strawbell.model.brief import Action, Task
from strawbell.model.details import Band, PlantDetail
from strawbell.model.garden import Method, Planting
from strawbell.season.planting import planting as put_in
from support.gardens import RADISH, TOMATO, batch, planting
from support.planted import after, day


def going_in(own: Planting) -> tuple[Task, PlantDetail]:
    """Return the planting of a crop that was ready to go in."""
    *_, task = put_in(day(after(0), own, since=None))
    assert isinstance(task.detail, PlantDetail)
    return task, task.detail


def test_seed_gets_five_millimetres_and_its_depth() -> None:
    """Common practice: it wets a layer of mix through."""
    task, told = going_in(planting(RADISH, method=Method.SEED))
    assert task.action is Action.SOW
    assert task.water_per_bale_l == pytest.approx(5.0 * top_area_m2(batch().bale), abs=0.05)
    assert told.depth_cm == RADISH.depth_cm
    assert told.up_in_days is not None


def test_each_transplant_is_settled_with_a_pint_and_has_no_depth() -> None:
    """Half a litre (common practice); two to a bale are a litre."""
    task, told = going_in(planting(TOMATO, plants=12, method=Method.TRANSPLANT))
    assert task.action is Action.PLANT
    assert task.water_per_bale_l == 1.0
    assert (told.depth_cm, told.up_in_days) == (None, None)


@pytest.mark.parametrize(
    ("plants", "per_bale"), [(12, Band(2, 2)), (13, Band(2, 3)), (6, Band(1, 1)), (5, None)]
)
def test_plants_are_shared_out_over_six_bales(plants: int, per_bale: Band | None) -> None:
    """Fewer plants than bales are in no row of any bale."""
    _, told = going_in(planting(TOMATO, plants=plants))
    assert told.per_bale == per_bale
    assert (told.rows is None) is (per_bale is None)
