"""Days to emerge against the published trials, and interpolation against hand calculation."""

from __future__ import annotations

import pytest

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.growing import days_to_emerge

# Harrington, J. F. and Minges, P. A., Vegetable Seed Germination, California Agricultural
# Extension Mimeo Leaflet (1954), as adapted in Knott's Handbook for Vegetable Growers (1997) and
# reprinted in "Teaching Organic Farming and Gardening", Unit 1.3, Appendix 4 (looked up
# 2026-11-25): days from seed at 1/2 in. None: no germination or not tested.
TEMPERATURES_F = (32, 41, 50, 59, 68, 77, 86, 95, 104)
TRIALS = {
    "bean": (None, None, None, 16, 11, 8, 6, 6, None),
    "beet": (None, 42, 17, 10, 6, 5, 5, 5, None),
    "cabbage": (None, None, 15, 9, 6, 5, 4, None, None),
    "carrot": (None, 51, 17, 10, 7, 6, 6, 9, None),
    "cauliflower": (None, None, 20, 10, 6, 5, 5, None, None),
    "sweet corn": (None, None, 22, 12, 7, 4, 4, 3, None),
    "cucumber": (None, None, None, 13, 6, 4, 3, 3, None),
    "eggplant": (None, None, None, None, 13, 8, 5, None, None),
    "lettuce": (49, 15, 7, 4, 3, 2, 3, None, None),
    "melon": (None, None, None, None, 8, 4, 3, None, None),
    "okra": (None, None, None, 27, 17, 13, 7, 6, 7),
    "onion": (136, 31, 13, 7, 5, 4, 4, 13, None),
    "parsley": (None, None, 29, 17, 14, 13, 12, None, None),
    "pea": (None, 36, 14, 9, 8, 6, 6, None, None),
    "pepper": (None, None, None, 25, 13, 8, 8, 9, None),
    "radish": (None, 29, 11, 6, 4, 4, 3, None, None),
    "spinach": (63, 23, 12, 7, 6, 5, 6, None, None),
    "tomato": (None, None, 43, 14, 8, 6, 6, 9, None),
    "turnip": (None, None, 5, 3, 2, 1, 1, 1, 3),
    "watermelon": (None, None, None, None, 12, 5, 4, 3, None),
}
# The same trials as a seed house reprints them with four more crops (looked up 2026-11-25);
# basil is from memory and has no row.
REPRINTED = {
    "broccoli": (None, None, 20, 10, 6, 5, 5, None, None),
    "chard": (None, None, 20, 15, 12, 10, 7, None, None),
    "pumpkin": (None, None, None, None, 15, 6, 4, 3, None),
    "summer squash": (None, None, None, None, 15, 6, 4, 3, None),
}
TOLERANCE_DAYS = 0.5
"""The source prints whole days."""
CELLS = [
    pytest.param(crop, degrees_f, days, id=f"{crop} at {degrees_f} F")
    for table in (TRIALS, REPRINTED)
    for crop, row in table.items()
    for degrees_f, days in zip(TEMPERATURES_F, row, strict=True)
]


def celsius(degrees_f: float) -> float:
    return (degrees_f - 32.0) * 5.0 / 9.0


@pytest.mark.parametrize(("crop", "degrees_f", "expected"), CELLS)
def test_days_to_emerge_come_out_as_the_trials_found_them(
    crop: str, degrees_f: int, expected: int | None
) -> None:
    """Every printed figure is met, and nothing is claimed where none is printed."""
    found = days_to_emerge(CROPS[crop], celsius(degrees_f))
    if expected is None:
        assert found is None
    else:
        assert found == pytest.approx(expected, abs=TOLERANCE_DAYS)


def test_there_are_more_than_a_hundred_published_figures() -> None:
    """The table above is not a token."""
    assert sum(cell.values[2] is not None for cell in CELLS) > 100


# By hand, 1/days linear: tomato at 63.5 F lies halfway from 59 F (14 d) to 68 F (8 d):
# 2 / (1/14 + 1/8) = 10.18. Radish at 43.25 F a quarter of the way from 41 F (29 d) to 50 F (11 d):
# 1 / (0.75/29 + 0.25/11) = 20.58. Onion at 90.5 F halfway from 86 (4 d) to 95 F (13 d): 6.118.
BY_HAND = [("tomato", 63.5, 10.18), ("radish", 43.25, 20.58), ("onion", 90.5, 6.118)]


@pytest.mark.parametrize(("crop", "degrees_f", "expected"), BY_HAND)
def test_days_between_two_printed_temperatures_follow_the_rate(
    crop: str, degrees_f: float, expected: float
) -> None:
    """The rate, not the time, is linear."""
    found = days_to_emerge(CROPS[crop], celsius(degrees_f))
    assert found == pytest.approx(expected, abs=0.005)


# Harrington, J. F., Oregon State University Extension (2013, reviewed 2024): minimum, maximum [F].
# Lettuce: maximum 85 F of UC ANR Pub. 3382 stands, not the 95 F printed there.
LIMITS_F = [
    ("bean", 60, 95), ("beet", 40, 95), ("cabbage", 40, 100), ("carrot", 40, 95),
    ("chard", 40, 95), ("sweet corn", 50, 105), ("cucumber", 60, 105), ("eggplant", 60, 95),
    ("lettuce", 35, 85), ("melon", 60, 100), ("onion", 35, 95), ("parsley", 40, 90),
    ("pea", 40, 85), ("pepper", 60, 95), ("pumpkin", 60, 100), ("radish", 40, 95),
    ("spinach", 35, 85), ("summer squash", 60, 100), ("tomato", 50, 95), ("turnip", 40, 105),
    ("watermelon", 60, 105),
]  # fmt: skip
