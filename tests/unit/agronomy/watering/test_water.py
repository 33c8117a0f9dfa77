"""Claims about the water in a bale."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from strawbell.agronomy.watering import (
    Canopy,
    Stage,
    canopy_at,
    in_the_open,
    transpired_l,
)


@pytest.mark.parametrize(("et_mm", "canopy_m2", "litres"), [(5.0, 1.0, 5.0), (7.0, 1.5, 10.5)])
def test_plants_take_depth_times_leaves(et_mm: float, canopy_m2: float, litres: float) -> None:
    """By hand: the arithmetic behind one to three gallons a day (common practice)."""
    assert transpired_l(et_mm, Canopy(canopy_m2, 0.0)) == pytest.approx(litres)


@pytest.mark.parametrize(("height_m", "factor"), [(0.0, 1.0), (1.0, 1.1), (2.0, 1.2), (3.0, 1.2)])
def test_tall_plants_take_more_up_to_a_fifth(height_m: float, factor: float) -> None:
    """FAO-56, chapter 9: 1.0 and 0.1 for every metre, at most 1.2 (from memory)."""
    assert transpired_l(4.0, Canopy(1.0, height_m)) == pytest.approx(4.0 * factor)


def test_plants_take_more_from_stage_to_stage() -> None:
    """Seedlings a tenth, the full canopy all of it."""
    taken = [transpired_l(5.0, canopy_at(stage, 1.0, 1.2)) for stage in Stage]
    assert taken == sorted(taken)
    assert canopy_at(Stage.FULL, 1.0, 1.2) == Canopy(1.0, 1.2)


@pytest.mark.parametrize(
    ("stage", "share"),
    [(Stage.SEEDLING, 0.1), (Stage.YOUNG, 0.35), (Stage.GROWING, 0.7), (Stage.FULL, 1.0)],
)
def test_leaves_grow_in_width_and_height_alike(stage: Stage, share: float) -> None:
    """By the same share of the grown plants (design choice)."""
    leaves = canopy_at(stage, 3.0, 2.0)
    assert leaves.area_m2 == pytest.approx(3.0 * share)
    assert leaves.height_m == pytest.approx(2.0 * share)


@pytest.mark.parametrize(("area_m2", "share"), [(0.0, 1.0), (0.205, 0.5), (0.4, 0.1), (2.0, 0.1)])
def test_leaves_shade_the_top_but_for_a_tenth(area_m2: float, share: float) -> None:
    assert in_the_open(Canopy(area_m2, 0.5), 0.41) == pytest.approx(share)


@pytest.mark.parametrize(
    ("named", "call"),
    [
        ("area_m2", lambda: Canopy(10.1, 1.0)),
        ("height_m", lambda: Canopy(1.0, -0.1)),
        ("full_area_m2", lambda: canopy_at(Stage.FULL, 11.0, 1.0)),
        ("mature_height_m", lambda: canopy_at(Stage.FULL, 1.0, 11.0)),
        ("et_mm", lambda: transpired_l(-0.1, Canopy(1.0, 1.0))),
        ("et_mm", lambda: transpired_l(30.1, Canopy(1.0, 1.0))),
        ("top_m2", lambda: in_the_open(Canopy(1.0, 1.0), 0.0)),
    ],
)
def test_what_lies_outside_is_refused_by_name(named: str, call: Callable[[], object]) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        call()
