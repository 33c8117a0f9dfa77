"""What a crop that goes in is told with: its water, its depth, how many to a bale."""

from __future__ import annotations

from datetime import timedelta

import pytest

from strawbell.agronomy.bales import top_area_m2
from strawbell.model.brief import Action, Task
from strawbell.model.details import Band, PlantDetail, TopWaterDetail
from strawbell.model.garden import Method, Planting
from strawbell.season.planting import planting as put_in
from strawbell.season.planting import surface_watering
from strawbell.season.stage import FIRST_WEEKS_DAYS
from support.gardens import RADISH, TOMATO, batch, planting
from support.planted import BEAN, after, day, weather


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


def wetted(own: Planting, age_days: int, mean_c: float | None = None) -> TopWaterDetail | None:
    """Return what the watering of the top says so many days after a crop went in."""
    on = after(age_days)
    known = {} if mean_c is None else weather(on - timedelta(days=7), 7, mean_c - 5, mean_c + 5)
    found = surface_watering(day(on, own, weather=known))
    detail = found[0].detail if found else None
    assert detail is None or isinstance(detail, TopWaterDetail)
    return detail


def test_while_seed_may_not_be_up_the_watering_says_when_it_will_be() -> None:
    """To the last of it, even where that is past the first weeks; never of plants set out."""
    sown = planting(RADISH, method=Method.SEED)
    first = wetted(sown, 1)
    assert first is not None
    assert first.up_in_days is not None
    latest = first.up_in_days.high
    assert latest is not None
    assert 1 < first.up_in_days.low < FIRST_WEEKS_DAYS < latest
    assert wetted(sown, int(latest)) == first
    assert wetted(sown, int(latest) + 1) is None
    assert wetted(planting(TOMATO), 1) == TopWaterDetail()


def test_in_a_warm_bed_the_top_is_kept_moist_after_the_seed_is_up() -> None:
    """For its first weeks; of coming up it says no more."""
    sown = planting(RADISH, method=Method.SEED)
    first = wetted(sown, 1, mean_c=18.0)
    assert first is not None
    assert first.up_in_days is not None
    latest = first.up_in_days.high
    assert latest is not None
    assert latest < FIRST_WEEKS_DAYS
    assert wetted(sown, int(latest), mean_c=18.0) == first
    assert wetted(sown, int(latest) + 1, mean_c=18.0) == TopWaterDetail()
    assert wetted(sown, FIRST_WEEKS_DAYS + 1, mean_c=18.0) is None


def test_of_seed_that_may_never_come_up_the_watering_says_so_for_the_first_weeks() -> None:
    """Beans in a bed of 12 to 20 degC come up in the warmest of them only."""
    beans = planting(BEAN, method=Method.SEED)
    first = wetted(beans, FIRST_WEEKS_DAYS)
    assert first is not None
    assert first.up_in_days is not None
    assert first.up_in_days.high is None
    assert wetted(beans, FIRST_WEEKS_DAYS + 1) is None
