"""Claims about plants on a bale."""

from __future__ import annotations

import math
from itertools import combinations

import pytest
from msgspec.structs import replace

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.growing import EDGE_CM, spots
from strawbell.model.garden import Bale

BALE = Bale("two-string", length_cm=91.44, width_cm=45.72, height_cm=35.0, dry_mass_kg=20.0)
LARGE = Bale("three-string", length_cm=120.0, width_cm=60.0, height_cm=40.0, dry_mass_kg=40.0)
SMALL = Bale("half", length_cm=45.72, width_cm=45.72, height_cm=35.0, dry_mass_kg=10.0)


def test_one_plant_stands_in_the_middle() -> None:
    """Of both sides."""
    (only,) = spots(1, BALE)
    assert (only.along_cm, only.across_cm) == (
        pytest.approx(45.7, abs=0.1),
        pytest.approx(22.9, abs=0.1),
    )


def test_two_plants_stand_in_one_row_as_far_apart_as_the_edge_allows() -> None:
    """71 cm apart, in the middle of the width."""
    one, other = spots(2, BALE)
    assert other.along_cm - one.along_cm == pytest.approx(71.1, abs=0.1)
    assert one.across_cm == other.across_cm == pytest.approx(22.9, abs=0.1)


@pytest.mark.parametrize("plants", [1, 2, 3, 4, 5, 8, 12, 40, 60, 150])
def test_every_plant_has_its_own_spot_off_the_edge(plants: int) -> None:
    """Four inches from every side."""
    found = spots(plants, BALE)
    assert len(set(found)) == plants
    for spot in found:
        assert EDGE_CM - 0.1 <= spot.along_cm <= BALE.length_cm - EDGE_CM + 0.1
        assert EDGE_CM - 0.1 <= spot.across_cm <= BALE.width_cm - EDGE_CM + 0.1


def test_eight_lettuces_are_about_their_distance_apart() -> None:
    """9 in (22.9 cm) is asked; two rows of four stand 23.7 cm apart."""
    nearest = min(
        math.dist((one.along_cm, one.across_cm), (other.along_cm, other.across_cm))
        for one, other in combinations(spots(8, BALE), 2)
    )
    assert nearest >= CROPS["lettuce"].spacing_cm


@pytest.mark.parametrize("plants", [0, 151])
def test_a_number_of_plants_out_of_range_is_refused(plants: int) -> None:
    """The argument is named."""
    with pytest.raises(ValueError, match="plants"):
        spots(plants, BALE)


@pytest.mark.parametrize(
    ("length_cm", "width_cm", "name"), [(19.9, 45.0, "length_cm"), (90.0, 401.0, "width_cm")]
)
def test_a_top_that_is_no_bale_is_refused(length_cm: float, width_cm: float, name: str) -> None:
    """The side is named."""
    odd = replace(BALE, length_cm=length_cm, width_cm=width_cm)
    with pytest.raises(ValueError, match=name):
        spots(1, odd)


def test_a_narrow_top_leaves_one_row_in_its_middle() -> None:
    """20 cm wide: less than twice the edge."""
    narrow = replace(BALE, width_cm=20.0)
    assert {spot.across_cm for spot in spots(3, narrow)} == {10.0}


def test_three_plants_stand_in_a_triangle() -> None:
    """43.7 cm apart and more, where one row of three would bring them to 35.6 cm."""
    found = spots(3, BALE)
    nearest = min(
        math.dist((one.along_cm, one.across_cm), (other.along_cm, other.across_cm))
        for one, other in combinations(found, 2)
    )
    assert nearest == pytest.approx(43.7, abs=0.1)
    assert len({spot.across_cm for spot in found}) == 2
