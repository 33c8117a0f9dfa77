"""Mixes: moisture and carbon-to-nitrogen, forwards and backwards."""

from __future__ import annotations

import pytest

from strawbell.agronomy.feeding.mixes import (
    Ingredient,
    mass_for_moisture,
    mass_for_ratio,
    mix_carbon_to_nitrogen,
    mix_moisture,
    moisture_percent,
    nitrogen_lacking_percent,
)

GRASS = Ingredient(10.0, 77.0, 45.0, 2.4)
LEAVES = Ingredient(1.0, 35.0, 50.0, 0.75)


def leaves(mass_kg: float) -> Ingredient:
    return Ingredient(mass_kg, 35.0, 50.0, 0.75)


def test_the_mass_for_a_moisture_brings_the_mix_to_it() -> None:
    """Put back into the sum, the answer is the goal."""
    mass = mass_for_moisture(GRASS, 35.0, 60.0)
    assert mix_moisture([GRASS, leaves(mass)]) == pytest.approx(60.0)


def test_the_mass_for_a_ratio_brings_the_mix_to_it() -> None:
    """Put back into the sum, the answer is the goal."""
    mass = mass_for_ratio(GRASS, LEAVES, 30.0)
    assert mix_carbon_to_nitrogen([GRASS, leaves(mass)]) == pytest.approx(30.0)


def test_water_has_neither_carbon_nor_nitrogen() -> None:
    """It changes the moisture and leaves the ratio."""
    water = Ingredient(5.0, 100.0)
    assert mix_carbon_to_nitrogen([GRASS, water]) == pytest.approx(45 / 2.4)
    assert mix_moisture([GRASS, water]) == pytest.approx((770 + 500) / 15)


def test_a_goal_that_is_met_takes_nothing() -> None:
    """Zero, not an error."""
    assert mass_for_moisture(GRASS, 35.0, 77.0) == 0.0
    assert mass_for_ratio(Ingredient(10.0, 77.0, 60.0, 2.0), LEAVES, 30.0) == 0.0


@pytest.mark.parametrize("goal", [34.9, 35.0, 77.1])
def test_a_moisture_outside_both_materials_is_refused(goal: float) -> None:
    """Mixing only goes between."""
    with pytest.raises(ValueError, match="between the moistures"):
        mass_for_moisture(GRASS, 35.0, goal)


@pytest.mark.parametrize("goal", [18.0, 66.7, 70.0])
def test_a_ratio_outside_both_materials_is_refused(goal: float) -> None:
    """Grass is 18.75:1 and leaves 66.7:1."""
    with pytest.raises(ValueError, match="not reached"):
        mass_for_ratio(GRASS, LEAVES, goal)


@pytest.mark.parametrize(
    ("name", "call"),
    [
        ("mass_kg", lambda: Ingredient(-1.0, 50.0)),
        ("moisture_percent", lambda: Ingredient(1.0, 100.1)),
        ("carbon_percent", lambda: Ingredient(1.0, 50.0, -1.0)),
        ("nitrogen_percent", lambda: Ingredient(1.0, 50.0, 60.0, 40.1)),
        ("parts", lambda: mix_moisture([])),
        ("parts", lambda: mix_carbon_to_nitrogen([Ingredient(1.0, 50.0, 40.0, 0.0)])),
        ("wet_mass", lambda: moisture_percent(0.0, 0.0)),
        ("dry_mass", lambda: moisture_percent(1.0, 1.1)),
        ("goal", lambda: mass_for_ratio(GRASS, LEAVES, float("nan"))),
        ("goal", lambda: nitrogen_lacking_percent(42.0, 0.6, 0.5)),
    ],
)
def test_what_cannot_be_is_refused_by_name(name: str, call: object) -> None:
    """Outside its range a figure is refused."""
    with pytest.raises(ValueError, match=name):
        call()  # type: ignore[operator]


def test_straw_rich_enough_lacks_nothing() -> None:
    """Never a negative amount."""
    assert nitrogen_lacking_percent(30.0, 1.0, 30.0) == 0.0
    assert nitrogen_lacking_percent(30.0, 1.1, 30.0) == 0.0
