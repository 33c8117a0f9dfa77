"""Amounts, temperatures and lengths as the grower wants them: metric or US customary.

Rounding keeps what a kitchen scale, a jug, a rain gauge and a thermometer can show; of US cups and
spoons the measure nearest to a volume that a kitchen drawer can give [1]. None, and what is not a
number, is "unknown", never 0; nothing is ever "-0".

References:
[1] 21 CFR 101.9(b)(5)(viii) rounds cups and spoons to 240, 15 and 5 mL for labels; here the
    customary sizes are used: 1 US gal = 231 cubic inches = 3785.411784 mL, 16 cups to the gallon,
    16 tablespoons to the cup, 3 teaspoons to the tablespoon (NIST Handbook 44, Appendix C).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from functools import cache, lru_cache
from typing import overload

from msgspec import Struct

from strawbell.model.details import Band
from strawbell.model.feeds import LabelRate
from strawbell.model.garden import Units
from strawbell.words.catalogue import AMERICAN, BRITISH, Tongue

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


G_PER_OUNCE = 28.349523125
"""International avoirdupois ounce (NIST Handbook 44, Appendix C)."""
OUNCES_PER_POUND = 16
MOST_POUNDS_WITH_OUNCES = 10
"""Under so many pounds a scale in a kitchen shows the ounces too."""
G_PER_POUND = OUNCES_PER_POUND * G_PER_OUNCE
MM_PER_INCH = 25.4
CM_PER_INCH, CM_PER_M = 2.54, 100.0
INCHES_PER_FOOT = 12
LEAST_FEET_IN = 47.5
"""From this on a length is said in halves of a foot."""
HALVES_CM, ROUGH_CM = 5.0, 30.0
"""Below these a length is said in half and in whole centimetres."""
SCALE_G, SCALE_OZ = 5.0, 0.5
"""Feed is weighed out in these steps, from ten of them on: within 5 %."""
SQUARE_FEET_PER_M2 = 10.7639

MINUS = "\N{MINUS SIGN}"
HARD_BLANK = "\N{NO-BREAK SPACE}"
FEW = 10.0
"""Below this a number is shown with its tenths."""
LEAST_TENTH = 0.1
"""The least that is shown of a mass."""
MANY = 100.0
"""From this on a number is shown whole."""
LEAST_GALLONS = 0.95
"""Below this water is measured in quarts."""
LEAST_JUG_ML = 99.5
"""From this on a volume is read off a jug, to 10 ml."""
LEAST_LITRE_ML = 995.0
"""From this on a volume is said in litres."""
SIDE_OF_FREEZING_C = 0.05
"""A temperature at least this far from 0 degC is never shown as 0 degC."""
LEAST_HOURS = 0.95
LEAST_DAYS_H = 47.5
"""From these on a span is said in hours, and in days."""


class Measures(Struct, frozen=True):
    """How numbers are shown; `typographic` uses a real minus and holds number and unit together."""

    units: Units = Units.METRIC
    typographic: bool = False

    @property
    def us(self) -> bool:
        """Whether US customary units are wanted."""
        return self.units is Units.US

    @property
    def tongue(self) -> Tongue:
        """Return the locale that goes with the units."""
        return AMERICAN if self.us else BRITISH

    def number(self, value: float | None, digits: int = 1) -> str:
        """Return a number with at most `digits` decimals, none of them an idle zero."""
        if value is None or not math.isfinite(value):
            return self.tongue.say("amount.unknown")
        shown = self.tongue.number(value, digits)
        return shown.replace("-", MINUS) if self.typographic else shown

    def amount(self, unit: str, value: float | None, digits: int = 1) -> str:
        """Return a number with its unit, a row of the table "unit" of the catalogue."""
        if value is None or not math.isfinite(value):
            return self.tongue.say("amount.unknown")
        return self.joined(unit, self.number(value, digits), value)

    def joined(self, unit: str, number: str, count: float = 2) -> str:
        """Return a number that is said already with its unit; `count` decides the plural."""
        return self._spaced(self.tongue.say(f"unit.{unit}", n=number, count=count))

    def _spaced(self, said: str) -> str:
        return said if self.typographic else said.replace(HARD_BLANK, " ")

    def mass(self, mass_g: float | None) -> str:
        """Return a mass [g] in g and kg, or oz, lb with oz as a scale shows it, and lb."""
        if mass_g is None or not math.isfinite(mass_g):
            return self.tongue.say("amount.unknown")
        if not self.us:
            small, unit, limit, large, large_unit = mass_g, "g", 1000.0, mass_g / 1000, "kg"
            digits = 0 if abs(small) >= FEW else 1
        else:
            ounces = round(mass_g / G_PER_OUNCE)
            if OUNCES_PER_POUND <= ounces < OUNCES_PER_POUND * MOST_POUNDS_WITH_OUNCES:
                pounds, left = divmod(ounces, OUNCES_PER_POUND)
                return self.tongue.say(
                    "amount.pounds",
                    pounds=self.amount("lb", pounds),
                    ounces=self.amount("oz", left) if left else None,
                )
            small, unit, limit = mass_g / G_PER_OUNCE, "oz", float(OUNCES_PER_POUND)
            large, large_unit, digits = mass_g / G_PER_POUND, "lb", 1
        if abs(round(small, digits)) >= limit:
            return self.amount(large_unit, large, _digits(large))
        if 0 < small < LEAST_TENTH / 2:
            return self.tongue.say("amount.under", amount=self.amount(unit, LEAST_TENTH, 1))
        return self.amount(unit, small, digits)

    def dose_g(self, mass_g: float) -> float:
        """Return a mass of feed [g] as it is weighed out: to 5 g or half an ounce where it can."""
        step = SCALE_OZ * G_PER_OUNCE if self.us else SCALE_G
        if mass_g >= 10 * step:
            return round(mass_g / step) * step
        return mass_g if self.us or mass_g < FEW else float(round(mass_g))

    def mass_in_column(self, mass_g: float | None, digits: int) -> str:
        """Return a mass [g] in g, or oz with one decimal more, without its unit: for a column."""
        if mass_g is None or not math.isfinite(mass_g):
            return self.tongue.say("amount.unknown")
        if self.us:
            return self.tongue.number(mass_g / G_PER_OUNCE, digits + 1, padded=True)
        return self.tongue.number(mass_g, digits, padded=True)

    def water(self, volume_l: float | None) -> str:
        """Return a volume of water [L] in L, or US qt and gal."""
        if volume_l is None or not self.us:
            digits = 2 if volume_l is not None and abs(volume_l) < 1 else _tenths(volume_l)
            return self.amount("L", volume_l, digits)
        gallons = volume_l * 1000 / ML_PER_US_GALLON
        if abs(gallons) < LEAST_GALLONS:
            return self.amount("qt", gallons * 4)
        return self.amount("gal", gallons, _tenths(gallons))

    def volume(self, volume_ml: float | None) -> str:
        """Return a volume of feed [mL] as a kitchen measures it: ml and L, or cups and spoons.

        Within 5 % from a teaspoon on (6 % between 1 and 1 1/4 US tsp).
        """
        if volume_ml is None or not math.isfinite(volume_ml):
            return self.tongue.say("amount.unknown")
        if volume_ml <= 0:
            return self.tongue.say("amount.none")
        if self.us:
            return self._spaced(cups_and_spoons(volume_ml, self.tongue))
        if volume_ml < LEAST_JUG_ML:
            return self.amount("ml", volume_ml, 1 if volume_ml < FEW else 0)
        if volume_ml < LEAST_LITRE_ML:
            return self.amount("ml", round(volume_ml, -1), 0)
        return self.amount("L", volume_ml / 1000, _tenths(volume_ml / 1000))

    def rate(self, rate: LabelRate | None) -> str:
        """Return a rate of mixing as feed to a litre, or to a US gallon, of water."""
        if rate is None:
            return self.tongue.say("amount.unknown")
        litres = ML_PER_US_GALLON / 1000 if self.us else 1.0
        by_mass = rate.ml_per_l is None
        of_one = (rate.g_per_l if by_mass else rate.ml_per_l) or 0.0
        feed = self.mass(of_one * litres) if by_mass else self.volume(of_one * litres)
        return self.tongue.say("amount.rate", volume=feed)

    def temperature(self, temperature_c: float | None, digits: int = 1) -> str:
        """Return a temperature [degC] in degC or degF, with its unit."""
        return self.amount(self.degree, self.in_degrees(temperature_c), digits)

    def whole_degrees(self, temperature_c: float | None) -> str:
        """Return a temperature in whole degrees, but never hide on which side of 0 degC it is.

        Without its unit.
        """
        value = self.in_degrees(temperature_c)
        whole = self.number(value, 0)
        if temperature_c is None or abs(temperature_c) < SIDE_OF_FREEZING_C:
            return whole
        return self.number(value, 1) if whole == self.number(self.in_degrees(0.0), 0) else whole

    def warmth(self, temperature_c: float | None) -> str:
        """Return a temperature in whole degrees with its unit; `whole_degrees` says how."""
        known = temperature_c is not None and math.isfinite(temperature_c)
        whole = self.whole_degrees(temperature_c)
        return self.joined(self.degree, whole) if known else whole

    @overload
    def in_degrees(self, temperature_c: float) -> float: ...
    @overload
    def in_degrees(self, temperature_c: float | None) -> float | None: ...
    def in_degrees(self, temperature_c: float | None) -> float | None:
        """Return a temperature [degC] as a number of the degrees in use."""
        return temperature_c * 1.8 + 32 if self.us and temperature_c is not None else temperature_c

    @property
    def degree(self) -> str:
        """Return the row of the degree in use in the table of units."""
        return "degF" if self.us else "degC"

    def rain(self, rain_mm: float | None) -> str:
        """Return an amount of rain [mm] in mm or in, with its unit."""
        unit, value, digits = ("in", rain_mm, 2) if self.us else ("mm", rain_mm, 1)
        if value is not None and self.us:
            value /= MM_PER_INCH
        least = 10.0**-digits
        if value is not None and 0 < value < least / 2:
            return self.tongue.say("amount.under", amount=self.amount(unit, least, digits))
        return self.amount(unit, value, digits)

    def whole_rain(self, rain_mm: float) -> str:
        """Return an amount of rain [mm] as it is spoken of: whole mm, or tenths of an inch."""
        value, digits = (rain_mm / MM_PER_INCH, 1) if self.us else (rain_mm, 0)
        if round(value, digits) == 0:
            return self.rain(rain_mm)
        return self.amount("in" if self.us else "mm", value, digits)

    def length(self, length_cm: float | None) -> str:
        """Return a length [cm] as a rule shows it: mm, cm and m, or in with quarters and ft.

        From 30 cm on in steps of 5, since a tape laid on straw shows no less.
        """
        if length_cm is None or not math.isfinite(length_cm):
            return self.tongue.say("amount.unknown")
        if not self.us:
            if abs(length_cm) < 1:
                return self.amount("mm", length_cm * 10, 0)
            if length_cm >= CM_PER_M:
                return self.amount("m", length_cm / CM_PER_M, 1)
            step = 0.5 if length_cm < HALVES_CM else 1.0 if length_cm < ROUGH_CM else 5.0
            return self.amount("cm", round(length_cm / step) * step)
        inches = length_cm / CM_PER_INCH
        if inches >= LEAST_FEET_IN:
            return self.amount("ft", round(inches / INCHES_PER_FOOT * 2) / 2)
        quarters = round(inches * 4)
        if inches >= FEW or quarters < 1:
            return self.amount("in", inches, 0 if quarters else 2)
        return self.joined("in", fraction_said(Fraction(quarters, 4)))

    def band(self, ends: Band, digits: int = 1) -> str:
        """Return the two ends of a value as numbers: "3 to 5", "at least 3"."""
        high = "" if ends.high is None else self.number(ends.high, digits)
        return self.from_to(self.number(ends.low, digits), high)

    def from_to(self, low: str, high: str) -> str:
        """Return two ends that are said already; without a high one, the least."""
        return self.tongue.say("amount.band", low=low, high="same" if low == high else high)

    def area(self, area_m2: float | None) -> str:
        """Return an area [m2] in m2 or square feet."""
        if self.us and area_m2 is not None:
            return self.amount("sq-ft", area_m2 * SQUARE_FEET_PER_M2, 0)
        return self.amount("m2", area_m2)

    def area_band(self, area_m2: Band) -> str:
        """Return an area [m2] in whole square metres, or feet."""
        scale, unit = (SQUARE_FEET_PER_M2, "square-feet") if self.us else (1.0, "square-metres")
        high = None if area_m2.high is None else area_m2.high * scale
        return self.joined(unit, self.band(Band(area_m2.low * scale, high), 0))

    def percent(self, percent: float | None) -> str:
        """Return a percentage in whole numbers."""
        return self.amount("percent", percent, 0)

    def hours(self, hours: float | None) -> str:
        """Return a span [h] in minutes, hours or days, as it is said."""
        if hours is None or hours >= LEAST_DAYS_H:
            return self.amount("days", None if hours is None else hours / 24, 0)
        if not hours < LEAST_HOURS:
            return self.amount("h", hours, 0)
        minutes = max(round(hours * 60), 0) if math.isfinite(hours) else None
        return self.tongue.say("amount.moment") if minutes == 0 else self.amount("min", minutes, 0)


def _digits(value: float) -> int:
    """Return how many decimals make about three figures of a number."""
    if abs(value) >= MANY:
        return 0
    return 1 if abs(value) >= FEW else 2


def _tenths(value: float | None) -> int:
    """Return how many decimals, at most one, make about three figures of a number."""
    return 1 if value is None or abs(value) < MANY else 0
