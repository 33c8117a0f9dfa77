"""Claims about plants on a bale."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.agronomy.growing import rows_on
from strawbell.model.garden import Bale

BALE = Bale("two-string", length_cm=91.44, width_cm=45.72, height_cm=35.0, dry_mass_kg=20.0)


@pytest.mark.parametrize(
    ("plants", "rows"),
    [
        (1, 1),
        # By hand on the 71.1 by 25.4 cm inside the edge. Two stand 71 cm apart in one row, 25 in
        # two. Three stand 43.7 cm apart in a triangle, 35.6 in one row. Four: 25.4 in two rows of
        # two, 23.7 in one.
        (2, 1),
        (3, 2),
        (4, 2),
        # Eight lettuces in two rows of four are 23.7 cm apart, over the 9 in (22.9 cm) asked for.
        (8, 2),
    ],
)
def test_plants_stand_in_the_rows_that_bring_them_furthest_apart(plants: int, rows: int) -> None:
    """By their nearest neighbours."""
    assert rows_on(BALE, plants) == rows


@pytest.mark.parametrize("plants", [1, 2, 3, 12, 150])
def test_a_narrow_top_leaves_one_row_in_its_middle(plants: int) -> None:
    """20 cm wide: less than twice the edge."""
    assert rows_on(replace(BALE, width_cm=20.0), plants) == 1


def test_a_square_bale_carries_a_square_of_plants() -> None:
    """Four, nine and sixteen."""
    square = replace(BALE, length_cm=60.0, width_cm=60.0)
    assert [rows_on(square, plants) for plants in (4, 9, 16)] == [2, 3, 4]


def test_many_plants_on_a_broad_bale_stand_in_more_rows_than_a_square_has() -> None:
    """60 cm long and 120 wide inside: eight rows of three, 20 to 24 cm apart."""
    broad = replace(BALE, length_cm=60.0, width_cm=140.0)
    assert rows_on(broad, 24) > 5
