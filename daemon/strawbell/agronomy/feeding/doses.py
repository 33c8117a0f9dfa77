"""Doses: from the nitrogen wanted and the label to grams, volume and water.

References:
[1] By definition: mass of feed = mass of nutrient / share of the nutrient in the feed.
[2] University of Georgia CAES (1997) and Orangeburg County, South Carolina: 1 US cup of 10-10-10
    per bale on the last feeding day.
"""

from __future__ import annotations

from functools import lru_cache

from msgspec.structs import replace

from strawbell.agronomy.feeding.feeds import (
    PHOSPHORUS_IN_PHOSPHATE,
    POTASSIUM_IN_POTASH,
    WHOLE_PERCENT,
    label_g_per_l,
)
from strawbell.agronomy.ranges import within
from strawbell.model.feeds import Dose, Feed

FINISHING_NITROGEN_G = 22.7
"""Nitrogen of 1 US cup (227 g) of 10-10-10, the last feeding of a bale [g] [2]."""
LARGEST_FEEDING_G = 1500.0
"""More feed than this at once cannot be worked into a bale's top (common practice) [g]; the
last feeding is cut to it when a label is weak."""
MOST_NITROGEN_AT_ONCE_G = 1000.0
"""More nitrogen in one feeding of one bale is a slip of the pen: four times any published whole
sequence [g]."""
MOST_BALES = 10_000
MOST_WATER_L = 1000.0
"""More water for one bale is a slip of the pen [L]."""


@lru_cache(maxsize=512)
def nitrogen_dose(
    feed: Feed,
    nitrogen_per_bale_g: float,
    bales: int,
    water_per_bale_l: float = 0.0,
) -> Dose:
    """Return what one feeding with a wanted mass of nitrogen takes.

    Args:
        feed: With its label [percent] and, for a kitchen measure, its density [kg/L].
        nitrogen_per_bale_g: Wanted nitrogen [g per bale], over 0 to 1000.
        bales: Bales of the batch, 1 to 10 000.
        water_per_bale_l: Water to wash it in [L per bale], 0 to 1000 (`bale.watering`); none by
            default. A feed that is poured gets what its label's rate needs when that is more, so
            that it is never stronger.

    Returns:
        Masses [g], volumes [mL], nitrogen, phosphorus and potassium as elements [g per bale].

    Raises:
        ValueError: When the feed has no nitrogen, or an argument is out of range.

    Source: by definition: mass of feed = mass of nitrogen / share of nitrogen.
    """
    if nitrogen_per_bale_g == 0:
        raise ValueError("nitrogen_per_bale_g must be over 0 g, got 0")
    within("nitrogen_per_bale_g", nitrogen_per_bale_g, 0.0, MOST_NITROGEN_AT_ONCE_G, "g")
    if feed.label.nitrogen_percent <= 0:
        raise ValueError(f"feed {feed.name!r} has no nitrogen on its label")
    per_bale_g = nitrogen_per_bale_g * WHOLE_PERCENT / feed.label.nitrogen_percent
    return _dose(feed, per_bale_g, bales, water_per_bale_l)


@lru_cache(maxsize=512)
def drench_dose(feed: Feed, bales: int, water_per_bale_l: float, strength: float = 1.0) -> Dose:
    """Return a feed poured as strong as its label has it.

    Args:
        feed: Liquid or soluble, with the rate of its label.
        bales: Bales of the batch, 1 to 10 000.
        water_per_bale_l: Water it is stirred into [L per bale], over 0 to 1000.
        strength: Share of the label's strength, 0 to 1.

    Returns:
        Fish emulsion 5-1-1 at 15 mL/L in 3.8 L: 57 mL, 3.3 g of nitrogen.

    Raises:
        ValueError: When the feed is not poured or has no rate, or an argument is out of range.

    Source: by definition; the label decides.
    """
    g_per_l = label_g_per_l(feed)
    if g_per_l is None or not feed.form.is_poured:
        raise ValueError(f"feed {feed.name!r} has no rate at which it is poured")
    within("water_per_bale_l", water_per_bale_l, 0.0, MOST_WATER_L, "L")
    within("strength", strength, 0.0, 1.0, "")
    dose = _dose(feed, g_per_l * water_per_bale_l * strength, bales, water_per_bale_l)
    if feed.rate is None or feed.rate.ml_per_l is None:
        return dose
    # By the label's own measure, whatever the feed weighs.
    per_bale_ml = feed.rate.ml_per_l * water_per_bale_l * strength
    return replace(dose, per_bale_ml=per_bale_ml, total_ml=per_bale_ml * bales)


@lru_cache(maxsize=512)
def finishing_dose(
    feed: Feed, bales: int, water_per_bale_l: float = 0.0, share: float = 1.0
) -> Dose:
    """Return the last, balanced feeding by its own rule.

    Args:
        feed: A balanced feed; of one without nitrogen the phosphate, else the potash is matched.
        bales: Bales of the batch, at least 1.
        water_per_bale_l: As for `nitrogen_dose`.
        share: How large it is over that of a two-string bale, by the straw
            (`dosing.finishing_share`).

    Returns:
        As much nutrient as 1 US cup of 10-10-10, 22.7 g of N per bale, but never more than 1.5 kg
        of feed; of one with a label's rate a drench.

    Raises:
        ValueError: When the label shows no nutrient at all.

    Source: University of Georgia CAES news (2 June 1997); Orangeburg County (SC) Master Gardeners
        (2011): 1 cup of 10-10-10 per bale on day 10.
    """
    if feed.rate is not None and feed.form.is_poured:
        return drench_dose(feed, bales, water_per_bale_l)
    label = feed.label
    shares = (label.nitrogen_percent, label.phosphate_percent, label.potash_percent)
    percent = next((share for share in shares if share > 0), None)
    if percent is None:
        raise ValueError(f"feed {feed.name!r} has no nutrient on its label")
    wanted_g = FINISHING_NITROGEN_G * WHOLE_PERCENT / percent
    per_bale_g = min(wanted_g, LARGEST_FEEDING_G) * share
    return _dose(feed, per_bale_g, bales, water_per_bale_l)


def scaled(dose: Dose, share: float, water_share: float = 1.0) -> Dose:
    """Return a part of a dose, in the same water or in a part of it.

    Args:
        dose: The whole.
        share: 0 to 1; outside ValueError.
        water_share: 0 to 1; outside ValueError.

    Returns:
        All masses and volumes of feed times `share`, the water times `water_share`.
    """
    within("share", share, 0.0, 1.0, "")
    within("water_share", water_share, 0.0, 1.0, "")
    return replace(
        dose,
        water_per_bale_l=dose.water_per_bale_l * water_share,
        per_bale_g=dose.per_bale_g * share,
        total_g=dose.total_g * share,
        per_bale_ml=None if dose.per_bale_ml is None else dose.per_bale_ml * share,
        total_ml=None if dose.total_ml is None else dose.total_ml * share,
        nitrogen_per_bale_g=dose.nitrogen_per_bale_g * share,
        phosphorus_per_bale_g=dose.phosphorus_per_bale_g * share,
        potassium_per_bale_g=dose.potassium_per_bale_g * share,
    )


def _dose(feed: Feed, per_bale_g: float, bales: int, water_per_bale_l: float) -> Dose:
    within("bales", bales, 1, MOST_BALES, "")
    rate = feed.rate if feed.form.is_poured else None
    per_bale_ml = None if feed.density_kg_per_l is None else per_bale_g / feed.density_kg_per_l
    label = feed.label
    phosphorus = per_bale_g * label.phosphate_percent / WHOLE_PERCENT * PHOSPHORUS_IN_PHOSPHATE
    potassium = per_bale_g * label.potash_percent / WHOLE_PERCENT * POTASSIUM_IN_POTASH
    return Dose(
        feed=feed.name,
        form=feed.form,
        bales=bales,
        per_bale_g=per_bale_g,
        total_g=per_bale_g * bales,
        per_bale_ml=per_bale_ml,
        total_ml=None if per_bale_ml is None else per_bale_ml * bales,
        nitrogen_per_bale_g=per_bale_g * label.nitrogen_percent / WHOLE_PERCENT,
        phosphorus_per_bale_g=phosphorus,
        potassium_per_bale_g=potassium,
        water_per_bale_l=_water(feed, per_bale_g, water_per_bale_l),
        rate=rate,
        material=feed.material,
    )


def _water(feed: Feed, per_bale_g: float, wanted_l: float) -> float:
    """Return the water of a feeding [L per bale]; what is poured is no stronger than its label."""
    within("water_per_bale_l", wanted_l, 0.0, MOST_WATER_L, "L")
    g_per_l = label_g_per_l(feed) if feed.form.is_poured else None
    return max(wanted_l, per_bale_g / g_per_l) if g_per_l else wanted_l
