"""Claims about the water in a bale."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from strawbell.agronomy.bale.water import (
    Canopy,
    Stage,
    canopy_at,
    daily_need,
)

GALLON_L = 3.785


@pytest.mark.parametrize(("et_mm", "canopy_m2", "litres"), [(5.0, 1.0, 5.0), (7.0, 1.5, 10.5)])
def test_the_need_is_depth_times_leaves(et_mm: float, canopy_m2: float, litres: float) -> None:
    """By hand, give or take a quarter: the arithmetic behind one to three gallons a day."""
    need = daily_need(et_mm, 0.0, Canopy(canopy_m2, 0.0), 0.41)
    assert need.low == pytest.approx(0.75 * litres)
    assert need.high == pytest.approx(1.25 * litres)


def test_rain_on_the_top_counts_and_that_beside_it_does_not() -> None:
    """10 mm over 0.41 m2 are 4.1 L, of which at least seven tenths arrive."""
    dry = daily_need(5.0, 0.0, Canopy(2.0, 0.0), 0.41)
    wet = daily_need(5.0, 10.0, Canopy(2.0, 0.0), 0.41)
    assert dry.low - wet.low == pytest.approx(4.1)
    assert dry.high - wet.high == pytest.approx(0.7 * 4.1)


def test_a_wet_day_needs_nothing_not_less_than_nothing() -> None:
    """Both ends stop at zero."""
    need = daily_need(1.0, 50.0, Canopy(1.0, 0.5), 0.41)
    assert (need.low, need.high) == (0.0, 0.0)


def test_the_need_grows_from_stage_to_stage() -> None:
    """Seedlings a tenth, the full canopy all of it."""
    needs = [daily_need(5.0, 0.0, canopy_at(stage, 1.0, 1.2), 0.41).high for stage in Stage]
    assert needs == sorted(needs)
    assert canopy_at(Stage.FULL, 1.0, 1.2) == Canopy(1.0, 1.2)


@pytest.mark.parametrize(
    ("named", "call"),
    [
        ("area_m2", lambda: Canopy(10.1, 1.0)),
        ("height_m", lambda: Canopy(1.0, -0.1)),
        ("full_area_m2", lambda: canopy_at(Stage.FULL, 11.0, 1.0)),
        ("mature_height_m", lambda: canopy_at(Stage.FULL, 1.0, 11.0)),
        ("et_mm", lambda: daily_need(-0.1, 0.0, Canopy(1.0, 1.0), 0.4)),
        ("rain_mm", lambda: daily_need(5.0, -0.1, Canopy(1.0, 1.0), 0.4)),
        ("bale_top_area_m2", lambda: daily_need(5.0, 0.0, Canopy(1.0, 1.0), 0.0)),
    ],
)
def test_what_lies_outside_is_refused_by_name(named: str, call: Callable[[], object]) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        call()
