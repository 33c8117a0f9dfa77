"""US measures are ones a kitchen drawer has, and near enough to what was asked for."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from strawbell.model.garden import Units
from strawbell.words.units import (
    ML_PER_CUP,
    ML_PER_TABLESPOON,
    ML_PER_TEASPOON,
    ML_PER_US_GALLON,
    Measures,
)

SIZES = {
    "tsp": ML_PER_TEASPOON,
    "tbsp": ML_PER_TABLESPOON,
    "cup": ML_PER_CUP,
    "cups": ML_PER_CUP,
    "gal": ML_PER_US_GALLON,
}


def volume_of(words: str) -> float:
    """Read a measure back [mL]."""
    total = 0.0
    for part in words.split(" + "):
        *numbers, unit = part.split()
        total += float(sum(Fraction(number) for number in numbers)) * SIZES[unit]
    return total


cups_and_spoons = Measures(Units.US).volume


@pytest.mark.parametrize(
    ("volume_ml", "words"),
    [
        (ML_PER_TEASPOON, "1 tsp"),
        (ML_PER_TEASPOON / 2, "1/2 tsp"),
        (ML_PER_TABLESPOON, "1 tbsp"),
        (ML_PER_TABLESPOON * 2, "2 tbsp"),
        (ML_PER_CUP / 4, "1/4 cup"),
        (ML_PER_CUP / 3, "1/3 cup"),
        (ML_PER_CUP / 2, "1/2 cup"),
        (ML_PER_CUP * 2 / 3, "2/3 cup"),
        (ML_PER_CUP * 3 / 4, "3/4 cup"),
        (ML_PER_CUP, "1 cup"),
        (ML_PER_CUP * 2.25, "2 1/4 cups"),
        (ML_PER_US_GALLON, "1 gal"),
        (ML_PER_US_GALLON * 12.3, "12 gal"),
        (0.1, "under 1/8 tsp"),
    ],
)
def test_round_measures_are_said_plainly(volume_ml: float, words: str) -> None:
    assert cups_and_spoons(volume_ml) == words


@pytest.mark.parametrize("step", range(389))
def test_the_measure_is_within_five_percent_from_a_good_teaspoon_on(step: int) -> None:
    """From 1 tsp to 20 gal in steps of 2.5 %; 6 % between 1 and 1 1/4 tsp."""
    volume_ml = ML_PER_TEASPOON * 1.025**step
    allowed = 0.06 if volume_ml < ML_PER_TEASPOON * 1.25 else 0.05
    assert volume_of(cups_and_spoons(volume_ml)) == pytest.approx(volume_ml, rel=allowed)


@pytest.mark.parametrize("step", range(200))
def test_only_fractions_that_spoons_have_are_asked_for(step: int) -> None:
    words = cups_and_spoons(1.0 * 1.045**step)
    fractions = set(re.findall(r"\d+/\d+", words))
    assert fractions <= {"1/8", "1/4", "1/3", "3/8", "1/2", "5/8", "2/3", "3/4", "7/8"}
    if "cup" in words:
        assert fractions <= {"1/4", "1/3", "1/2", "2/3", "3/4"}
