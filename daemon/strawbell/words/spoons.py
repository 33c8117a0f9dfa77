"""US cups and spoons: the measure nearest to a volume that a kitchen drawer can give.

References:
[1] 21 CFR 101.9(b)(5)(viii) rounds them to 240, 15 and 5 mL for labels; here the customary
    sizes are used: 1 US gal = 231 cubic inches = 3785.411784 mL, 16 cups to the gallon, 16
    tablespoons to the cup, 3 teaspoons to the tablespoon (NIST Handbook 44, Appendix C).
"""

from __future__ import annotations

from bisect import bisect_left
from functools import cache, lru_cache

from strawbell.words.catalogue import Tongue

ML_PER_US_GALLON = 3785.411784
ML_PER_CUP = ML_PER_US_GALLON / 16.0
ML_PER_TABLESPOON = ML_PER_CUP / 16.0
ML_PER_TEASPOON = ML_PER_TABLESPOON / 3.0

GOOD_ENOUGH = 0.04
"""Relative error up to which the simplest measure is taken instead of the nearest."""
LARGEST_CUPS = 16
"""From a gallon on cups are no longer counted."""
MANY_GALLONS = 10
"""From this on gallons are counted whole."""
SPOONS_A_TABLESPOON = 3
TABLESPOONS_A_QUARTER_CUP = 4
MOST_CUPS_AND_SPOONS = 5
"""From this on spoons more make no difference worth a second measure [cups]."""

_FRACTIONS = ((0.0, ""), (1 / 4, "1/4"), (1 / 3, "1/3"), (1 / 2, "1/2"), (2 / 3, "2/3"))
_CUP_FRACTIONS = (*_FRACTIONS, (3 / 4, "3/4"))
_SPOON_FRACTIONS = (
    (0.0, ""),
    (1 / 8, "1/8"),
    (1 / 4, "1/4"),
    (3 / 8, "3/8"),
    (1 / 2, "1/2"),
    (5 / 8, "5/8"),
    (3 / 4, "3/4"),
    (7 / 8, "7/8"),
)
_TEASPOONS = (0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5)
_PARTS = dict((*_CUP_FRACTIONS, *_SPOON_FRACTIONS))


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
    measures = _measures(tongue)
    volumes = [volume for volume, _, _ in measures]
    low = bisect_left(volumes, volume_ml * (1 - GOOD_ENOUGH))
    high = bisect_left(volumes, volume_ml * (1 + GOOD_ENOUGH))
    near = measures[low:high] or measures[max(low - 1, 0) : low + 1]
    found = bool(measures[low:high])

    def preference(measure: tuple[float, int, str]) -> tuple[int, float]:
        error = abs(measure[0] - volume_ml)
        return (measure[1] if found else 0, error)

    return min(near, key=preference)[2]


@cache
def _measures(tongue: Tongue) -> tuple[tuple[float, int, str], ...]:
    """Return every measure as (volume in mL, how many moves it takes, its words), ascending."""
    found: list[tuple[float, int, str]] = []
    for whole in range(SPOONS_A_TABLESPOON):
        for part, _ in _SPOON_FRACTIONS:
            amount = whole + part
            if 0 < amount < SPOONS_A_TABLESPOON:
                moves = (whole > 0) + (part > 0) + (part % 0.25 > 0)
                found.append((amount * ML_PER_TEASPOON, moves, _said("tsp", amount, tongue)))
    for whole in range(1, TABLESPOONS_A_QUARTER_CUP):
        volume, said = whole * ML_PER_TABLESPOON, _said("tbsp", whole, tongue)
        found.append((volume, 1, said))
        for part in _TEASPOONS:
            both = tongue.say("amount.together", first=said, second=_said("tsp", part, tongue))
            found.append((volume + part * ML_PER_TEASPOON, 2 + (part % 0.5 > 0), both))
    for whole in range(LARGEST_CUPS):
        for part, _ in _CUP_FRACTIONS:
            amount = whole + part
            if amount:
                said = _said("cups", amount, tongue)
                volume, moves = amount * ML_PER_CUP, (whole > 0) + (part > 0)
                found.append((volume, moves, said))
                for more, unit, number in _beside_cups(amount):
                    spoons = _said(unit, number, tongue)
                    both = tongue.say("amount.together", first=said, second=spoons)
                    found.append((volume + more * number, moves + 2, both))
    return tuple(sorted(found))


def _beside_cups(cups: float) -> tuple[tuple[float, str, float], ...]:
    """Return the spoons worth measuring beside so many cups: [mL], unit and number."""
    if cups >= MOST_CUPS_AND_SPOONS:
        return ()
    spoons = tuple((ML_PER_TABLESPOON, "tbsp", float(number)) for number in (1, 2, 3))
    if cups >= 1:
        return spoons
    few = tuple((ML_PER_TEASPOON, "tsp", float(number)) for number in (1, 2))
    return (*few, *spoons, (ML_PER_TABLESPOON, "tbsp", 1.5))


def _said(unit: str, amount: float, tongue: Tongue) -> str:
    whole = int(amount)
    part = min(_PARTS, key=lambda each: abs(each - (amount - whole)))
    shown = with_fraction(whole, _PARTS[part])
    return tongue.say(f"unit.{unit}", n=shown, count=1 if amount <= 1 else 2)


def with_fraction(whole: int, part: str) -> str:
    """Return a number with a fraction as a measure shows it: "2 1/4", held together."""
    return "\N{NO-BREAK SPACE}".join(word for word in (str(whole) if whole else "", part) if word)
