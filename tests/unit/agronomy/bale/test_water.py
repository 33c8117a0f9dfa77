"""Claims about the water in a bale."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from strawbell.agronomy.bale.water import (
    Canopy,
    Stage,
    canopy_at,
    canopy_coefficient,
    conditioning_loss,
    daily_need,
    store_after_day,
    store_capacity_l,
)

GALLON_L = 3.785


@pytest.mark.parametrize(("dry_kg", "litres"), [(16.0, 35.2), (25.0, 55.0)])
def test_a_two_string_bale_holds_35_to_55_litres(dry_kg: float, litres: float) -> None:
    """2.2 kg of water for each kg of straw."""
    assert store_capacity_l(dry_kg) == pytest.approx(litres)


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
    ("cover", "height", "coefficient"),
    [(0.0, 0.5, 0.15), (1.0, 0.0, 1.0), (1.0, 1.0, 1.1), (1.0, 3.0, 1.2), (0.25, 0.3, 0.441)],
)
def test_the_coefficient_follows_cover_and_height(
    cover: float, height: float, coefficient: float
) -> None:
    """Bare 0.15, full 1.0 to 1.2; by hand from equation 98: 0.15 + 0.88 times 0.25^(1/1.3)."""
    assert canopy_coefficient(cover, height) == pytest.approx(coefficient, abs=0.015)


def test_a_bale_in_conditioning_loses_about_a_gallon_on_a_fair_day() -> None:
    """Common practice is a gallon per bale and day; it lies within the range."""
    loss = conditioning_loss(5.0, 0.9, 0.45, 0.35)
    assert loss.low < GALLON_L < loss.high


def test_a_full_bale_sheds_and_an_empty_one_leaves_the_plants_short() -> None:
    """Water comes first, then it is taken."""
    full = store_after_day(40.0, 44.0, 5.0, 10.0)
    assert (full.held_l, full.run_off_l, full.short_l) == (39.0, 6.0, 0.0)
    empty = store_after_day(3.0, 44.0, 5.0, 0.0)
    assert (empty.held_l, empty.run_off_l, empty.short_l) == (0.0, 0.0, 2.0)


@pytest.mark.parametrize(
    ("named", "call"),
    [
        ("dry_mass_kg", lambda: store_capacity_l(0.9)),
        ("area_m2", lambda: Canopy(10.1, 1.0)),
        ("height_m", lambda: Canopy(1.0, -0.1)),
        ("full_area_m2", lambda: canopy_at(Stage.FULL, 11.0, 1.0)),
        ("mature_height_m", lambda: canopy_at(Stage.FULL, 1.0, 11.0)),
        ("cover", lambda: canopy_coefficient(1.01, 1.0)),
        ("height_m", lambda: canopy_coefficient(0.5, 10.1)),
        ("et_mm", lambda: daily_need(-0.1, 0.0, Canopy(1.0, 1.0), 0.4)),
        ("rain_mm", lambda: daily_need(5.0, -0.1, Canopy(1.0, 1.0), 0.4)),
        ("bale_top_area_m2", lambda: daily_need(5.0, 0.0, Canopy(1.0, 1.0), 0.0)),
        ("et_mm", lambda: conditioning_loss(30.1, 0.9, 0.45, 0.35)),
        ("width_m", lambda: conditioning_loss(5.0, 0.9, 45.0, 0.35)),
        ("held_l", lambda: store_after_day(45.0, 44.0, 5.0, 0.0)),
        ("need_l", lambda: store_after_day(40.0, 44.0, -5.0, 0.0)),
        ("gained_l", lambda: store_after_day(40.0, 44.0, 5.0, -1.0)),
        ("capacity_l", lambda: store_after_day(0.0, 0.0, 5.0, 0.0)),
    ],
)
def test_what_lies_outside_is_refused_by_name(named: str, call: Callable[[], object]) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        call()
