"""Degree days against published rows."""

from __future__ import annotations

import pytest

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.growing import (
    degree_days,
)

F_PER_C = 1.8


def celsius(degrees_f: float) -> float:
    return (degrees_f - 32.0) / F_PER_C


# (low, high, base, degree days), all in deg F. Tolerance: the last printed digit.
# Rows 1 to 6: Wilson and Barnett, California Agriculture (1983), Table 1, as quoted by the test
# suite of the USGS Soil-Water-Balance model (github.com/smwesten-usgs/swb2,
# test_growing_degree_day.F90); rows 7 and 8 from the same test suite. Row 9: corn, AMS Glossary,
# "Corn heat unit". Looked up 2026-11-25.
SIMPLE_ROWS_F = [
    (55, 65, 50, 10.0), (55, 70, 50, 12.5), (60, 70, 50, 15.0), (60, 75, 50, 17.5),
    (65, 80, 50, 22.5), (65, 85, 50, 25.0), (30, 40, 50, 0.0), (55, 75, 32, 33.0),
    (60, 85, 50, 22.5),
]  # fmt: skip


@pytest.mark.parametrize(("low", "high", "base", "expected"), SIMPLE_ROWS_F)
def test_degree_days_under_the_ceiling_come_out_as_published(
    low: float, high: float, base: float, expected: float
) -> None:
    """The plain mean over a base, where no temperature lies over 86 F."""
    found = degree_days(celsius(high), celsius(low), celsius(base))
    assert found * F_PER_C == pytest.approx(expected, abs=0.05)


# (low, high, degree days) [F], method 86/50. Row 1: the test suite named above, where the plain
# mean gives 5. Row 2 by hand: 90 counts as 86, 48 as 50: (86 + 50)/2 - 50 = 18. Row 3: corn row of
# the AMS Glossary. Row 4 by hand: both over the ceiling, 36.
CAPPED_ROWS_F = [(30, 80, 15.0), (48, 90, 18.0), (60, 85, 22.5), (88, 101, 36.0), (20, 45, 0.0)]


@pytest.mark.parametrize(("low", "high", "expected"), CAPPED_ROWS_F)
def test_capped_degree_days_come_out_as_published(low: float, high: float, expected: float) -> None:
    """Temperatures are moved into 50 to 86 F first."""
    found = degree_days(celsius(high), celsius(low), celsius(50))
    assert found * F_PER_C == pytest.approx(expected, abs=0.05)


# Bases [F]: Peet, NC State University, app. 2: bean, corn 50; cabbage, pea, turnip 40; pepper 65.
BASES_F = [
    ("bean", 50), ("sweet corn", 50), ("cabbage", 40), ("pea", 40), ("turnip", 40), ("pepper", 65),
]  # fmt: skip


@pytest.mark.parametrize(("crop", "base"), BASES_F)
def test_the_base_of_a_crop_is_the_published_one(crop: str, base: float) -> None:
    """Bases to the whole degree F printed."""
    found = CROPS[crop].degree_day_base_c
    assert found is not None
    assert found * F_PER_C + 32.0 == pytest.approx(base, abs=0.5)


def test_sweet_corn_needs_the_published_total() -> None:
    """1539 F days to fresh harvest: Oregon State University Extension Small Farms, 50/86 F."""
    found = CROPS["sweet corn"].degree_days_to_maturity
    assert found is not None
    assert found * F_PER_C == pytest.approx(1539, abs=1.0)
