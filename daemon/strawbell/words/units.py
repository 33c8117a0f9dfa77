"""Amounts, temperatures and lengths as the grower wants them: metric or US customary.

Rounding keeps what a kitchen scale, a jug, a rain gauge and a thermometer can show. None, and
what is not a number, is "unknown", never 0; nothing is ever "-0".
"""

from __future__ import annotations

import math

from msgspec import Struct

from strawbell.model.garden import Units
from strawbell.words.spoons import ML_PER_US_GALLON, cups_and_spoons

UNKNOWN = "unknown"
G_PER_OUNCE = 28.349523125
"""International avoirdupois ounce (NIST Handbook 44, Appendix C)."""
G_PER_POUND = 16 * G_PER_OUNCE
MM_PER_INCH = 25.4
CM_PER_INCH = 2.54

MINUS = "\N{MINUS SIGN}"
HARD_BLANK = "\N{NO-BREAK SPACE}"
FEW = 10.0
"""Below this a number is shown with its tenths."""
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
_QUARTERS = ("", "1/4", "1/2", "3/4")


class Measures(Struct, frozen=True):
    """How numbers are shown; `typographic` uses a real minus and holds number and unit together."""

    units: Units = Units.METRIC
    typographic: bool = False

    @property
    def us(self) -> bool:
        """Whether US customary units are wanted."""
        return self.units is Units.US

    def number(self, value: float | None, digits: int = 1) -> str:
        """Return a number with at most `digits` decimals, none of them an idle zero."""
        if value is None or not math.isfinite(value):
            return UNKNOWN
        text = f"{value:.{digits}f}"
        if digits:
            text = text.rstrip("0").rstrip(".")
        if text == "-0":
            text = "0"
        return text.replace("-", MINUS) if self.typographic else text

    def mass(self, mass_g: float | None) -> str:
        """Return a mass [g] in g and kg, or oz and lb."""
        if mass_g is None or not math.isfinite(mass_g):
            return UNKNOWN
        if self.us:
            return self._stepped(mass_g / G_PER_OUNCE, "oz", 16, mass_g / G_PER_POUND, "lb")
        return self._stepped(mass_g, "g", 1000, mass_g / 1000, "kg", small_digits=10)

    def small_mass_number(self, mass_g: float | None, digits: int) -> str:
        """Return a mass [g] in g, or oz with one decimal more, without its unit: for a column."""
        if mass_g is None or not math.isfinite(mass_g):
            return UNKNOWN
        value, digits = (mass_g / G_PER_OUNCE, digits + 1) if self.us else (mass_g, digits)
        return f"{round(value, digits) + 0.0:.{digits}f}"

    @property
    def small_mass_unit(self) -> str:
        """Return the unit of `small_mass_number` in use."""
        return "oz" if self.us else "g"

    def water(self, volume_l: float | None) -> str:
        """Return a volume of water [L] in L, or US qt and gal."""
        if volume_l is None or not math.isfinite(volume_l):
            return UNKNOWN
        if not self.us:
            digits = 2 if abs(volume_l) < 1 else min(_digits(volume_l), 1)
            return self.joined(self.number(volume_l, digits), "L")
        gallons = volume_l * 1000 / ML_PER_US_GALLON
        if abs(gallons) < LEAST_GALLONS:
            return self.joined(self.number(gallons * 4, 1), "qt")
        return self.joined(self.number(gallons, min(_digits(gallons), 1)), "gal")

    def volume(self, volume_ml: float | None) -> str:
        """Return a volume of feed [mL] as a kitchen measures it: ml and L, or cups and spoons.

        Within 5 % from a teaspoon on (6 % between 1 and 1 1/4 US tsp).
        """
        if volume_ml is None or not math.isfinite(volume_ml):
            return UNKNOWN
        if volume_ml <= 0:
            return "none"
        if self.us:
            return cups_and_spoons(volume_ml).replace(" ", HARD_BLANK if self.typographic else " ")
        if volume_ml < LEAST_JUG_ML:
            return self.joined(self.number(volume_ml, 1 if volume_ml < FEW else 0), "ml")
        if volume_ml < LEAST_LITRE_ML:
            return self.joined(self.number(round(volume_ml, -1), 0), "ml")
        return self.joined(self.number(volume_ml / 1000, min(_digits(volume_ml / 1000), 1)), "L")

    def rate(self, dilution_ml_per_l: float | None) -> str:
        """Return a dilution [mL/L] as feed to a litre, or to a US gallon, of water."""
        if dilution_ml_per_l is None or not math.isfinite(dilution_ml_per_l):
            return UNKNOWN
        if self.us:
            per_gallon_ml = dilution_ml_per_l * ML_PER_US_GALLON / 1000
            return f"{self.volume(per_gallon_ml)} to each gallon of water"
        return f"{self.volume(dilution_ml_per_l)} to each litre of water"

    def temperature(self, temperature_c: float | None, digits: int = 1) -> str:
        """Return a temperature [degC] in degC or degF, with its unit."""
        shown = self.degrees(temperature_c, digits)
        return shown if shown == UNKNOWN else self.joined(shown, self.degree_unit)

    def degrees(self, temperature_c: float | None, digits: int = 1) -> str:
        """Return a temperature [degC] in degC or degF, without its unit."""
        if temperature_c is None:
            return UNKNOWN
        return self.number(temperature_c * 1.8 + 32 if self.us else temperature_c, digits)

    def whole_degrees(self, temperature_c: float | None) -> str:
        """Return a temperature in whole degrees, but never hide on which side of 0 degC it is."""
        if temperature_c is None or not math.isfinite(temperature_c):
            return UNKNOWN
        whole = self.degrees(temperature_c, 0)
        hides = whole == self.degrees(0.0, 0) and abs(temperature_c) >= SIDE_OF_FREEZING_C
        return self.degrees(temperature_c, 1) if hides else whole

    @property
    def degree_unit(self) -> str:
        """Return the sign of the degree in use."""
        return "°F" if self.us else "°C"

    def rain(self, rain_mm: float | None) -> str:
        """Return an amount of rain [mm] in mm or in, with its unit."""
        if rain_mm is None or not math.isfinite(rain_mm):
            return UNKNOWN
        shown = self.rain_number(rain_mm)
        if shown == "0" and rain_mm > 0:
            return f"under {self.joined('0.01' if self.us else '0.1', self.rain_unit)}"
        return self.joined(shown, self.rain_unit)

    def rain_number(self, rain_mm: float | None) -> str:
        """Return an amount of rain [mm] in mm or in, without its unit."""
        if rain_mm is None:
            return UNKNOWN
        return self.number(rain_mm / MM_PER_INCH, 2) if self.us else self.number(rain_mm, 1)

    def whole_rain(self, rain_mm: float) -> str:
        """Return an amount of rain [mm] as it is spoken of: whole mm, or tenths of an inch."""
        shown = self.number(rain_mm / MM_PER_INCH, 1) if self.us else self.number(rain_mm, 0)
        return self.rain(rain_mm) if shown == "0" else self.joined(shown, self.rain_unit)

    @property
    def rain_unit(self) -> str:
        """Return the unit of rain in use."""
        return "in" if self.us else "mm"

    def length(self, length_cm: float | None) -> str:
        """Return a length [cm] in mm and cm, or in with quarters."""
        if length_cm is None or not math.isfinite(length_cm):
            return UNKNOWN
        if not self.us:
            if abs(length_cm) < 1:
                return self.joined(self.number(length_cm * 10, 0), "mm")
            return self.joined(self.number(length_cm, 1 if length_cm < FEW else 0), "cm")
        inches = length_cm / CM_PER_INCH
        quarters = round(inches * 4)
        if inches >= FEW or quarters < 1:
            return self.joined(self.number(inches, 0 if quarters else 2), "in")
        whole, part = divmod(quarters, 4)
        shown = " ".join(word for word in (str(whole) if whole else "", _QUARTERS[part]) if word)
        return self.joined(shown, "in")

    def percent(self, percent: float | None) -> str:
        """Return a percentage in whole numbers."""
        shown = self.number(percent, 0)
        return shown if shown == UNKNOWN else self.joined(shown, "%")

    def hours(self, hours: float | None) -> str:
        """Return a span [h] in minutes, hours or days, as it is said."""
        if hours is None or not math.isfinite(hours):
            return UNKNOWN
        if hours < LEAST_HOURS:
            minutes = max(round(hours * 60), 0)
            return "less than a minute" if minutes == 0 else self.joined(str(minutes), "min")
        if hours < LEAST_DAYS_H:
            return self.joined(self.number(hours, 0), "h")
        return self.joined(self.number(hours / 24, 0), "days")

    def joined(self, number: str, unit: str) -> str:
        """Return number and unit with the blank between them that the medium wants."""
        return f"{number}{HARD_BLANK if self.typographic else ' '}{unit}"

    def _stepped(
        self,
        small: float,
        small_unit: str,
        small_limit: float,
        large: float,
        large_unit: str,
        small_digits: float = math.inf,
    ) -> str:
        """Return a mass in the small unit below its limit, else in the large one.

        `small_digits` is the amount from which the small unit needs no decimal.
        """
        digits = 0 if abs(small) >= small_digits else 1
        if abs(round(small, digits)) < small_limit:
            shown = self.number(small, digits)
            if shown == "0" and small > 0:
                return f"under {self.joined('0.1', small_unit)}"
            return self.joined(shown, small_unit)
        return self.joined(self.number(large, _digits(large)), large_unit)


def _digits(value: float) -> int:
    """Return how many decimals make about three figures of a number."""
    if abs(value) >= MANY:
        return 0
    return 1 if abs(value) >= FEW else 2
