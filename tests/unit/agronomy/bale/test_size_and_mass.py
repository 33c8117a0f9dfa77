"""The bale: size, bed, potting mix and weight."""

from __future__ import annotations

from dataclasses import replace

import pytest

from strawbell.agronomy.bale.size_and_mass import (
    BALES,
    LIFT_BY_ONE_KG,
    bales_for_area,
    bed_area_m2,
    bulk_density_kg_m3,
    first_soak_l,
    potting_mix_l,
    soaked_mass,
    top_area_m2,
    volume_l,
    wet_mass_kg,
)
from strawbell.agronomy.bale.straw import water_held_l
from strawbell.model.garden import Bale

TWO = BALES["two-string"]
THREE = BALES["three-string"]


def test_the_top_and_the_volume_follow_from_the_sides() -> None:
    """100 by 45 by 36 cm."""
    assert top_area_m2(TWO) == pytest.approx(0.45)
    assert volume_l(TWO) == pytest.approx(162.0)
    assert bulk_density_kg_m3(TWO) == pytest.approx(123.46, abs=0.01)


@pytest.mark.parametrize("bale", [TWO, THREE])
def test_bales_on_sale_are_pressed_as_tightly_as_sources_say(bale: Bale) -> None:
    """70 to 150 kg/m3."""
    assert 70 <= bulk_density_kg_m3(bale) <= 150


@pytest.mark.parametrize(
    ("area_m2", "bales"), [(0.01, 1), (0.449, 1), (0.45, 1), (0.4501, 2), (1.35, 3), (2.7, 6)]
)
def test_a_bed_takes_the_fewest_bales_that_make_it(area_m2: float, bales: int) -> None:
    """Just under, at and over whole bales."""
    assert bales_for_area(TWO, area_m2) == bales


@pytest.mark.parametrize("bales", [1, 2, 3, 7, 49, 1000])
def test_bales_make_the_bed_that_takes_them(bales: int) -> None:
    """There and back."""
    assert bales_for_area(THREE, bed_area_m2(THREE, bales)) == bales


@pytest.mark.parametrize(("layer_cm", "litres"), [(0, 0), (2.5, 67.5), (4, 108), (5, 135)])
def test_a_layer_of_mix_is_area_times_thickness(layer_cm: float, litres: float) -> None:
    """Six two-string bales are 2.7 m2."""
    assert potting_mix_l(TWO, 6, layer_cm) == pytest.approx(litres)


def test_a_soaked_bale_is_not_to_be_moved_though_it_was_carried_dry() -> None:
    """20 kg dry, 64 kg drained, 76 kg just filled."""
    mass = soaked_mass(TWO, water_held_l(TWO).value)
    assert (mass.soaked_low_kg, mass.soaked_high_kg) == pytest.approx((64.0, 76.0))
    assert mass.carry_dry_alone
    assert not mass.move_soaked


@pytest.mark.parametrize(
    ("dry_kg", "alone"),
    [(LIFT_BY_ONE_KG - 0.1, True), (LIFT_BY_ONE_KG, True), (LIFT_BY_ONE_KG + 0.1, False)],
)
def test_a_heavy_dry_bale_takes_two(dry_kg: float, alone: bool) -> None:
    """Just under, at and over 51 lb."""
    assert soaked_mass(replace(TWO, dry_mass_kg=dry_kg), 0.0).carry_dry_alone is alone


def test_only_a_toy_bale_may_be_moved_soaked() -> None:
    """6 kg take 16.8 L: 22.8 kg."""
    assert soaked_mass(replace(TWO, dry_mass_kg=6.0), 13.2).move_soaked


def test_what_drains_less_than_the_first_soak_still_gives_low_before_high() -> None:
    """Straw that keeps more than is poured at first is no contradiction."""
    mass = soaked_mass(TWO, 72.0)
    assert (mass.soaked_low_kg, mass.soaked_high_kg) == pytest.approx((76.0, 92.0))


@pytest.mark.parametrize(
    ("name", "call"),
    [
        ("length_cm", lambda: top_area_m2(replace(TWO, length_cm=9.9))),
        ("width_cm", lambda: top_area_m2(replace(TWO, width_cm=400.1))),
        ("height_cm", lambda: volume_l(replace(TWO, height_cm=float("nan")))),
        ("dry_mass_kg", lambda: first_soak_l(replace(TWO, dry_mass_kg=0.9))),
        ("dry_mass_kg", lambda: wet_mass_kg(replace(TWO, dry_mass_kg=float("inf")), 1.0)),
        ("water_l", lambda: wet_mass_kg(TWO, -0.1)),
        ("bales", lambda: bed_area_m2(TWO, 0)),
        ("area_m2", lambda: bales_for_area(TWO, 0.0)),
        ("area_m2", lambda: bales_for_area(TWO, -1.0)),
        ("layer_cm", lambda: potting_mix_l(TWO, 1, 30.1)),
    ],
)
def test_what_cannot_be_is_refused_by_name(name: str, call: object) -> None:
    """Outside its range a figure is refused, never clipped."""
    with pytest.raises(ValueError, match=name):
        call()  # type: ignore[operator]
