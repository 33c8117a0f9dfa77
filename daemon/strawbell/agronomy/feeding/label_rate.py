"""How strong a label has a feed mixed, read as it is printed.

References:
[1] NIST Handbook 44, Appendix C: 1 US gallon = 3.785411784 L, 4 quarts, 16 cups, 128 fl oz; 1 cup
    = 16 tablespoons = 48 teaspoons; 1 oz = 28.349523125 g, 1 lb = 16 oz.
[2] UK Units of Measurement Regulations: 1 imperial gallon = 4.54609 L.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from strawbell.model.feeds import FeedForm, LabelRate

US_GALLON_ML = 3785.411784
MOST_PER_L = 100.0
"""No feed is watered on stronger than one part in ten (common practice) [mL or g per L]."""

_VOLUMES_ML: Mapping[str, float] = {
    "ml": 1.0, "cc": 1.0, "millilitre": 1.0, "milliliter": 1.0,
    "l": 1000.0, "litre": 1000.0, "liter": 1000.0, "ltr": 1000.0,
    "tsp": US_GALLON_ML / 768, "teaspoon": US_GALLON_ML / 768,
    "tbsp": US_GALLON_ML / 256, "tbs": US_GALLON_ML / 256, "tablespoon": US_GALLON_ML / 256,
    "fl oz": US_GALLON_ML / 128, "fluid ounce": US_GALLON_ML / 128,
    "cup": US_GALLON_ML / 16, "pt": US_GALLON_ML / 8, "pint": US_GALLON_ML / 8,
    "qt": US_GALLON_ML / 4, "quart": US_GALLON_ML / 4,
    "gal": US_GALLON_ML, "gallon": US_GALLON_ML, "imperial gallon": 4546.09,
}  # fmt: skip
_MASSES_G: Mapping[str, float] = {
    "g": 1.0, "gram": 1.0, "gramme": 1.0, "kg": 1000.0, "oz": 28.349523125, "ounce": 28.349523125,
    "lb": 453.59237, "pound": 453.59237,
}  # fmt: skip
_OUNCES = ("oz", "ounce")
_NUMBER = r"\d+\s+\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?"
_RATE = re.compile(
    rf"(?P<amount>{_NUMBER})(?:\s*(?:-|\u2013|to)\s*(?:{_NUMBER}))?\s*(?P<unit>[a-z][a-z. ]*?)\s*"
    rf"(?:\bper\b|/|\bin\b|\bto\b|\ba\b|\bfor\b|\beach\b)\s*(?:each\b|every\b|a\b|an\b|one\b)?\s*"
    rf"(?P<of>{_NUMBER})?\s*(?P<water>[a-z][a-z. ]*?)(?:\s*(?:of\s+)?water)?"
)
_PARTS = re.compile(rf"1\s*(?::|part to|part in)\s*(?P<of>{_NUMBER})(?:\s*parts?)?")
_PERCENT = re.compile(rf"(?P<amount>{_NUMBER})\s*(?:%|per ?cent)")


def parse_rate(text: str, form: FeedForm) -> LabelRate:
    """Read a rate of mixing as a label prints it.

    Args:
        text: Such as "1 tbsp per gal", "15 mL per L", "10 g in 4.5 litres", "1:100" or "0.5 %". Of
            a range such as "1-2 tbsp" the weaker end counts.
        form: How the feed is sold: an ounce of a liquid is a fluid ounce, a percent of it is of
            volume.

    Returns:
        mL or g per litre of water, over 0 to 100.

    Raises:
        ValueError: When it cannot be read, or is stronger than anybody mixes.

    Source: NIST Handbook 44, Appendix C.
    """
    low = " ".join(text.lower().replace("\u00bd", " 1/2").replace("\u00bc", " 1/4").split())
    liquid = form is FeedForm.LIQUID
    if (parts := _PARTS.fullmatch(low)) is not None:
        water = _number(parts["of"])
        return _checked(text, 1000.0 / water if water else 0.0, by_volume=liquid)
    if (percent := _PERCENT.fullmatch(low)) is not None:
        return _checked(text, _number(percent["amount"]) * 10.0, by_volume=liquid)
    found = _RATE.fullmatch(low)
    if found is None:
        raise ValueError(f"rate {text!r} is not an amount of feed to an amount of water")
    unit = _unit(found["unit"])
    water_ml = _VOLUMES_ML.get(_unit(found["water"]), 0.0) * _number(found["of"] or "1")
    if liquid and unit in _OUNCES:
        unit = "fl oz"
    each = _VOLUMES_ML.get(unit, _MASSES_G.get(unit, 0.0))
    if not each or not water_ml:
        raise ValueError(f"rate {text!r} has a unit that is not known")
    amount = _number(found["amount"]) * each * 1000.0 / water_ml
    return _checked(text, amount, by_volume=unit in _VOLUMES_ML)


def _checked(text: str, amount: float, *, by_volume: bool) -> LabelRate:
    if not 0.0 < amount <= MOST_PER_L:
        raise ValueError(f"rate {text!r} must be over 0 and at most 1 part in 10")
    return LabelRate(ml_per_l=amount) if by_volume else LabelRate(g_per_l=amount)


def _unit(text: str) -> str:
    """Return a unit without its dots and its plural."""
    plain = " ".join(text.replace(".", " ").split())
    plain = {"imp gal": "imperial gallon", "us gal": "gal", "us gallon": "gal"}.get(plain, plain)
    known = plain in _VOLUMES_ML or plain in _MASSES_G
    return plain if known else plain.removesuffix("s")


def _number(text: str) -> float:
    """Return "1 1/2", "1/2", "0.5" or "0,5" as a number; a part of nothing is 0."""
    total = 0.0
    for part in text.split():
        above, slash, below = part.replace(",", ".").partition("/")
        if slash and not float(below):
            return 0.0
        total += float(above) / float(below) if slash else float(above)
    return total
