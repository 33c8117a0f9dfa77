"""US cups and spoons: the measure nearest to a volume that a kitchen drawer can give.

References:
----------
[1] 21 CFR 101.9(b)(5)(viii) rounds them to 240, 15 and 5 mL for labels; here the customary
    sizes are used: 1 US gal = 231 cubic inches = 3785.411784 mL, 16 cups to the gallon, 16
    tablespoons to the cup, 3 teaspoons to the tablespoon (NIST Handbook 44, Appendix C).
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import cache, lru_cache

from strawbell.words.catalogue import Tongue

ML_PER_US_GALLON = 3785.411784
ML_PER_CUP = ML_PER_US_GALLON / 16.0
ML_PER_TABLESPOON = ML_PER_CUP / 16.0
ML_PER_TEASPOON = ML_PER_TABLESPOON / 3.0
ML = {"tsp": ML_PER_TEASPOON, "tbsp": ML_PER_TABLESPOON, "cups": ML_PER_CUP}

GOOD_ENOUGH = 0.04
"""Relative error up to which the simplest measure is taken instead of the nearest."""
LARGEST_CUPS = 16
"""From a gallon on cups are no longer counted."""
MANY_GALLONS = 10
"""From this on gallons are counted whole."""
FINE = 8
MOST_CUPS_AND_SPOONS = 5
"""From this on spoons more make no difference worth a second measure [cups]."""

_EIGHTHS = tuple(Fraction(number, 8) for number in range(24))
_TEASPOONS = tuple(Fraction(number, 4) for number in (1, 2, 3, 4, 5, 6, 7, 8, 10))
_CUP_PARTS = tuple(map(Fraction, ("0", "1/4", "1/3", "1/2", "2/3", "3/4")))
_CUPS = tuple(whole + part for whole in range(LARGEST_CUPS) for part in _CUP_PARTS)
Amount = tuple[str, Fraction]
"""A unit of the catalogue, and how many."""


@lru_cache(maxsize=256)
def cups_and_spoons(volume_ml: float, tongue: Tongue) -> str:
    """Return a volume [mL] in US measures: "2 tsp", "1 tbsp + 1 tsp", "2 1/4 cups", "1.3 gal".

    Within 5 % from 1 1/4 tsp on, and 6 % from 1 tsp, where spoons have no finer step than an
    eighth; what is nearer to nothing than to 1/8 tsp is said to be under it.
    """
    if volume_ml >= LARGEST_CUPS * ML_PER_CUP * (1 - GOOD_ENOUGH):
        gallons = volume_ml / ML_PER_US_GALLON
        shown = tongue.number(gallons, 0 if gallons >= MANY_GALLONS else 1)
        return tongue.say("unit.gal", n=shown)
    if volume_ml < ML_PER_TEASPOON / 16:
        return tongue.say("amount.under_spoon")

    def worth(measure: tuple[float, int, tuple[Amount, ...]]) -> tuple[float, float]:
        error = abs(measure[0] - volume_ml)
        near = error <= volume_ml * GOOD_ENOUGH
        return (measure[1], error) if near else (LARGEST_CUPS, error)

    said = [
        tongue.say(f"unit.{unit}", n=fraction_said(number), count=1 if number <= 1 else 2)
        for unit, number in min(_measures(), key=worth)[2]
    ]
    first, *beside = said
    return tongue.say("amount.together", first=first, second=beside[0]) if beside else first


@cache
def _measures() -> tuple[tuple[float, int, tuple[Amount, ...]], ...]:
    """Return every measure as its volume [mL], how many moves it takes, and its amounts."""
    return tuple(
        (sum(ML[unit] * float(number) for unit, number in each), _moves(each), each)
        for each in _amounts()
    )


def _amounts() -> Iterator[tuple[Amount, ...]]:
    for spoons in _EIGHTHS[1:]:
        yield (("tsp", spoons),)
    for spoons in map(Fraction, (1, 2, 3)):
        yield (("tbsp", spoons),)
        for more in _TEASPOONS:
            yield ("tbsp", spoons), ("tsp", more)
    for cups in _CUPS[1:]:
        yield (("cups", cups),)
        for beside in _beside(cups):
            yield ("cups", cups), beside


def _beside(cups: Fraction) -> Iterator[Amount]:
    """Yield the spoons worth measuring beside so many cups."""
    if cups < MOST_CUPS_AND_SPOONS:
        yield from (("tbsp", Fraction(number)) for number in (1, 2, 3))
    if cups < 1:
        yield from (("tsp", Fraction(1)), ("tsp", Fraction(2)), ("tbsp", Fraction(3, 2)))


def _moves(measure: tuple[Amount, ...]) -> int:
    """Return how much handling a measure takes; an eighth is a fine spoon of its own."""
    (unit, number), *beside = measure
    whole, part = divmod(number, 1)
    moves = (whole > 0) + (part > 0) + (part.denominator == FINE)
    for _, spoons in beside:
        moves += 2 if unit == "cups" else 1 + (spoons * 2 % 1 > 0)
    return moves


def fraction_said(number: Fraction) -> str:
    """Return a number with a fraction as a measure shows it: "2 1/4", held together."""
    whole, part = divmod(number, 1)
    return "\N{NO-BREAK SPACE}".join(str(each) for each in (whole, part) if each)
