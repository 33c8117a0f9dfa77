"""Feeds: what a label says and how strong it has them mixed, the generic feeds, what to warn of.

References:
[1] Loose bulk densities of fertilisers, "Estimated physical characteristics of fertilizer"
    (extension table): granular urea 44 to 48 lb/ft3, granular ammonium sulfate 47 to 53 and
    crystals 63 to 66 lb/ft3.
[2] Louisiana State University AgCenter, fertilizer conversion for small areas, and Walter
    Reeves (Georgia): 3 cups of 10-10-10 weigh about 1.5 lb, 0.96 kg/L.
[3] Blood meal about 0.6 kg/L (0.55 to 0.75), from memory.
[4] IUPAC standard atomic weights, abridged: P 30.974, K 39.098, O 15.999.
[5] Hartz and Johnston (2006): 47 to 60 % of the nitrogen of blood meal, fish and feather meal is
    set free in two weeks between 10 and 25 C.
[6] USDA National Organic Program, 7 CFR 205.203(c): raw manure at least 120 days before picking
    what touches it, 90 days before picking other food.
[7] NIST Handbook 44, Appendix C: 1 US gallon = 3.785411784 L, 4 quarts, 16 cups, 128 fl oz; 1 cup
    = 16 tablespoons = 48 teaspoons; 1 oz = 28.349523125 g, 1 lb = 16 oz.
[8] UK Units of Measurement Regulations: 1 imperial gallon = 4.54609 L.
[9] Safety data of ammonium nitrate: oxidiser (H272), to be kept from straw and hay.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import StrEnum

from msgspec import Struct

from strawbell.model.feeds import Feed, FeedForm, Label, LabelRate, Material
from strawbell.model.garden import Work

_P, _K, _O = 30.974, 39.098, 15.999
PHOSPHORUS_IN_PHOSPHATE = 2 * _P / (2 * _P + 5 * _O)
"""Mass of P in P2O5, 0.4364 [4]."""
POTASSIUM_IN_POTASH = 2 * _K / (2 * _K + _O)
"""Mass of K in K2O, 0.8301 [4]."""

LEAST_NITROGEN_PERCENT = 3.0
"""Under this a nitrogen feed cannot condition a bale: a full dose of 41 g N would be over
1.4 kg a day (common practice)."""
WHOLE_PERCENT = 100.0
"""All of a bag [percent by mass]."""
UNKNOWN_KG_PER_L = 1.0
"""Density a poured feed is taken to have where it is not known [kg/L]: a liquid as water, so that
the water it is stirred into is not set too low; a soluble powder as its label's spoons have it,
15 g a tablespoon (from memory)."""
MANURE_WAIT_DAYS = 120
"""From raw manure to picking what grows in it [d] [6]: straw splashes, and so the longer wait."""

_BUILT_IN = (
    Feed(
        name="Urea",
        label=Label(46, 0, 0),
        material=Material.UREA,
        density_kg_per_l=0.75,  # 44 to 48 lb/ft3 is 0.70 to 0.77 [1]
    ),
    Feed(
        name="Ammonium sulfate",
        label=Label(21, 0, 0),
        material=Material.AMMONIUM_SULFATE,
        density_kg_per_l=1.0,  # crystals 1.01 to 1.06 [1], other tables 0.96 to 1.03
    ),
    Feed(
        name="Blood meal",
        label=Label(12, 0, 0),
        material=Material.BLOOD_MEAL,
        density_kg_per_l=0.6,  # [3]
    ),
    Feed(
        name="Calcium nitrate",
        label=Label(15.5, 0, 0),
        material=Material.CALCIUM_NITRATE,
        density_kg_per_l=1.05,  # from memory
    ),
    Feed(
        name="Fish emulsion",
        label=Label(5, 1, 1),
        form=FeedForm.LIQUID,
        material=Material.FISH,
        density_kg_per_l=1.15,  # from memory
        rate=LabelRate(ml_per_l=15.0),  # 1 tbsp per US quart, common practice; the label decides
    ),
    Feed(
        name="Balanced",
        label=Label(10, 10, 10),
        material=Material.BALANCED,
        density_kg_per_l=0.96,  # [2]
    ),
)
FEEDS: Mapping[str, Feed] = {feed.name: feed for feed in _BUILT_IN}
"""Generic feeds by name; a grower's own of the same name takes its place."""


class Forms(Struct, frozen=True):
    """In which forms the nitrogen of a feed comes: shares that add up to 1."""

    urea: float = 0.0
    ammonium: float = 0.0
    nitrate: float = 0.0
    organic: float = 0.0


_ORGANIC = Forms(organic=1.0)
FORMS: Mapping[Material, Forms] = {
    Material.UREA: Forms(urea=1.0),
    Material.AMMONIUM_SULFATE: Forms(ammonium=1.0),
    Material.AMMONIUM_NITRATE: Forms(ammonium=0.5, nitrate=0.5),
    Material.CALCIUM_NITRATE: Forms(ammonium=0.07, nitrate=0.93),
    Material.BLOOD_MEAL: _ORGANIC,
    Material.BONE_MEAL: _ORGANIC,
    Material.FEATHER_MEAL: _ORGANIC,
    Material.FISH: _ORGANIC,
    Material.POULTRY_MANURE: _ORGANIC,
    Material.LAWN_FEED: Forms(urea=0.7, ammonium=0.3),
}
"""By material: salts by their formula, calcium nitrate 15.5 % with 1.1 % ammonium (from memory),
organic feeds set free over weeks [5], lawn feeds mostly urea (common practice)."""
MIXED = Forms(urea=0.3, ammonium=0.45, nitrate=0.25)
"""Balanced feeds and those whose make is unknown (from memory: labels vary)."""


def nitrogen_forms(feed: Feed) -> Forms:
    """Return in which forms the nitrogen of a feed comes.

    Args:
        feed: With its material; one sold as slow counts as organic.

    Returns:
        Shares of its nitrogen.
    """
    if feed.slow_release or sounds_slow(feed.name):
        return _ORGANIC
    return FORMS.get(feed.material, MIXED)


_SHARE = r"(\d{1,2}(?:[.,]\d{1,3})?|100(?:[.,]0{1,3})?)"
_DASH = r"\s*[-\u2010-\u2015\u2212:/]\s*"
_LABEL = rf"\s*{_SHARE}{_DASH}{_SHARE}{_DASH}{_SHARE}(?:\s*\(?\+.*)?\s*"


def parse_label(text: str) -> Label:
    """Read the three figures of a label.

    Args:
        text: N-P2O5-K2O in percent as printed, such as "12-0-0" or "6,5-3-4"; further nutrients
            after a plus sign ("21-0-0 + 24 S") are passed over.

    Returns:
        Percent by mass, phosphate and potash as oxides.

    Raises:
        ValueError: When there are not three figures, or they add up to over 100 %.

    Source: common practice: labels print N, P2O5 and K2O in this order.
    """
    found = re.fullmatch(_LABEL, text)
    if found is None:
        raise ValueError(f"label {text!r} is not three figures such as 12-0-0")
    nitrogen, phosphate, potash = (float(part.replace(",", ".")) for part in found.groups())
    total = nitrogen + phosphate + potash
    if total > WHOLE_PERCENT:
        raise ValueError(f"label {text!r} adds up to {total:g} %, more than a bag can hold")
    return Label(nitrogen, phosphate, potash)


_WORDS: tuple[tuple[Material, tuple[str, ...]], ...] = (
    (Material.AMMONIUM_NITRATE, ("ammonium nitrate", "nitrolime", "calcium ammonium")),
    (Material.AMMONIUM_SULFATE, ("ammonium sulfate", "ammonium sulphate", "sulfate of ammonia")),
    (Material.CALCIUM_NITRATE, ("calcium nitrate", "nitrate of lime")),
    (Material.UREA, ("urea",)),
    (Material.BLOOD_MEAL, ("blood",)),
    (Material.BONE_MEAL, ("bone",)),
    (Material.FEATHER_MEAL, ("feather", "horn")),
    (Material.FISH, ("fish",)),
    (Material.POULTRY_MANURE, ("poultry", "chicken", "hen ", "guano", "manure")),
    (Material.LAWN_FEED, ("lawn", "turf", "grass")),
    (Material.BALANCED, ("balanced", "all-purpose", "all purpose")),
)


def guess_material(name: str, label: Label) -> Material:
    """Guess what a feed is made of from its name, else from its label.

    Args:
        name: As the grower calls it.
        label: Percent by mass.

    Returns:
        `OTHER` when nothing tells; 34-0-0 and the like counts as ammonium nitrate, since the
        caution matters more than the guess.

    Source: common practice.
    """
    low = name.lower()
    for material, words in _WORDS:
        if any(word in low for word in words):
            return material
    only_nitrogen = label.phosphate_percent == 0 and label.potash_percent == 0
    for nitrogen, material in _BY_LABEL:
        if only_nitrogen and nitrogen[0] <= label.nitrogen_percent <= nitrogen[1]:
            return material
    if min(label.nitrogen_percent, label.phosphate_percent, label.potash_percent) > 0:
        return Material.BALANCED
    return Material.OTHER


_BY_LABEL: tuple[tuple[tuple[float, float], Material], ...] = (
    ((45.0, 46.6), Material.UREA),
    ((32.0, 35.0), Material.AMMONIUM_NITRATE),
    ((20.0, 21.5), Material.AMMONIUM_SULFATE),
)


class FeedConcern(StrEnum):
    """What speaks against a feed for its work; worded in the table "concern" of the catalogue."""

    OXIDISER = "oxidiser"
    SLOW_RELEASE = "slow-release"
    LITTLE_NITROGEN = "little-nitrogen"
    NO_NITROGEN = "no-nitrogen"
    NO_DENSITY = "no-density"
    NOT_BALANCED = "not-balanced"
    NO_RATE = "no-rate"
    NOT_POURED = "not-poured"
    WEED_KILLER = "weed-killer"


_SLOW = (
    "slow", "coated", "controlled", "timed", "methylene", "formaldehyde", "ureaform", "ibdu",
    "insoluble", "extended", "long-lasting", "long lasting", "season-long", "all season", "crf",
    "stabilised", "stabilized",
)  # fmt: skip
_LASTS = r"\d\s*(?:-\s*)?(?:weeks?|months?)\b"


def sounds_slow(name: str) -> bool:
    """Say whether a name tells that the nitrogen is set free over weeks or months.

    Args:
        name: As the grower calls the feed.

    Returns:
        Whether a word such as "coated" or "slowly available" is in it, or how many weeks or months
        it feeds.

    Source: common practice: coated, condensed and stabilised feeds are sold under these words.
    """
    low = name.lower()
    return any(word in low for word in _SLOW) or re.search(_LASTS, low) is not None


def feed_warnings(feed: Feed, work: Work) -> tuple[FeedConcern, ...]:
    """Return what to warn of before a feed goes on a bale.

    Args:
        feed: The feed with its label [percent].
        work: What it is for: a share of the nitrogen, a drench, or the last, balanced feeding.

    Returns:
        Empty when nothing speaks against it.

    Sources: [9] Safety data of ammonium nitrate: oxidiser (H272), to be kept from straw and hay.
        Common practice: only nitrogen that is set free within days heats a bale.
    """
    label, slow = feed.label, feed.slow_release or sounds_slow(feed.name)
    found = {
        FeedConcern.OXIDISER: feed.material is Material.AMMONIUM_NITRATE,
        FeedConcern.SLOW_RELEASE: slow and work is not Work.DRENCH,
        FeedConcern.WEED_KILLER: feed.material is Material.LAWN_FEED,
        FeedConcern.NO_DENSITY: feed.density_kg_per_l is None and feed.rate is None,
    }
    if work is Work.FEED:
        found[FeedConcern.NO_NITROGEN] = label.nitrogen_percent <= 0
        found[FeedConcern.LITTLE_NITROGEN] = 0 < label.nitrogen_percent < LEAST_NITROGEN_PERCENT
    elif work is Work.FINISH:
        found[FeedConcern.NOT_BALANCED] = min(label.phosphate_percent, label.potash_percent) <= 0
    if work is Work.DRENCH and not feed.form.is_poured:
        found[FeedConcern.NOT_POURED] = True
    elif feed.form.is_poured:
        found[FeedConcern.NO_RATE] = feed.rate is None
    return tuple(concern for concern in FeedConcern if found.get(concern))


def label_g_per_l(feed: Feed) -> float | None:
    """Return how much of a feed its label has in each litre of water.

    Args:
        feed: With its rate; by volume it is weighed with its density, else with 1 kg/L.

    Returns:
        g per L of water, None where there is no rate.
    """
    rate = feed.rate
    if rate is None or rate.ml_per_l is None:
        return None if rate is None else rate.g_per_l
    return rate.ml_per_l * (feed.density_kg_per_l or UNKNOWN_KG_PER_L)


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
