"""Doses: from the nitrogen wanted and the label to grams, volume and water.

References
----------
[1] By definition: mass of feed = mass of nutrient / share of the nutrient in the feed.
[2] University of Georgia CAES (1997) and Orangeburg County, South Carolina: 1 US cup of 10-10-10
    per bale on the last feeding day.
[3] Montana State University, urea volatilization research: at least 0.5 in of water in one event
    moves urea in. Over a bale top of 0.42 m2 that is 5.3 L, a little over 1 US gal.
[4] Common practice: about 1 US gal (3.8 L) of water per bale on a day of conditioning.
"""

from __future__ import annotations

from functools import lru_cache
from math import isfinite

from strawbell.agronomy.feeds import PHOSPHORUS_IN_PHOSPHATE, POTASSIUM_IN_POTASH
from strawbell.model.feeds import Dose, Feed, FeedForm

WASH_IN_WATER_L = 4.0
"""Water that washes a dry feed into a bale, per bale [L] [4]; [3] asks for 5.3 L for urea."""
UREA_WASH_IN_WATER_L = 5.3
"""Water that washes urea in, so that it is not lost to the air, per bale [L] [3]."""
FINISHING_NITROGEN_G = 22.7
"""Nitrogen of 1 US cup (227 g) of 10-10-10, the last feeding of a bale [g] [2]."""
LARGEST_FEEDING_G = 1500.0
"""More feed than this at once cannot be worked into a bale's top (common practice) [g]; the
last feeding is cut to it when a label is weak."""
US_CUP_ML = 236.588
"""1 US cup [mL]."""


@lru_cache(maxsize=512)
def nitrogen_dose(
    feed: Feed,
    nitrogen_per_bale_g: float,
    bales: int,
    water_per_bale_l: float | None = None,
) -> Dose:
    """Return what one feeding with a wanted mass of nitrogen takes.

    Parameters
    ----------
    feed : Feed
        With its label [percent] and, for a kitchen measure, its density [kg/L].
    nitrogen_per_bale_g : float
        Wanted nitrogen [g per bale], over 0.
    bales : int
        Bales of the batch, at least 1.
    water_per_bale_l : float, optional
        Water to wash it in [L per bale]; by default 4 L, 5.3 L for urea, and for a liquid what
        its dilution needs when that is more.

    Returns
    -------
    Dose
        Masses [g], volumes [mL], nitrogen, phosphorus and potassium as elements [g per bale].

    Raises
    ------
    ValueError
        When the feed has no nitrogen, or an argument is out of range.

    References
    ----------
    .. [1] By definition: mass of feed = mass of nitrogen / share of nitrogen.
    .. [2] Montana State University, urea volatilization research, for the water of urea.
    """
    if not (isfinite(nitrogen_per_bale_g) and nitrogen_per_bale_g > 0):
        raise ValueError(f"nitrogen_per_bale_g must be over 0, not {nitrogen_per_bale_g}")
    if feed.label.nitrogen_percent <= 0:
        raise ValueError(f"feed {feed.name!r} has no nitrogen on its label")
    per_bale_g = nitrogen_per_bale_g * 100 / feed.label.nitrogen_percent
    return _dose(feed, per_bale_g, bales, water_per_bale_l)


@lru_cache(maxsize=512)
def finishing_dose(feed: Feed, bales: int, water_per_bale_l: float | None = None) -> Dose:
    """Return the last, balanced feeding by its own rule.

    Parameters
    ----------
    feed : Feed
        A balanced feed; of one without nitrogen the phosphate, else the potash is matched.
    bales : int
        Bales of the batch, at least 1.
    water_per_bale_l : float, optional
        As for `nitrogen_dose`.

    Returns
    -------
    Dose
        As much nutrient as 1 US cup of 10-10-10, 22.7 g of N per bale, but never more than
        1.5 kg of feed.

    Raises
    ------
    ValueError
        When the label shows no nutrient at all.

    References
    ----------
    .. [1] University of Georgia CAES news (2 June 1997); Orangeburg County (SC) Master
       Gardeners (2011): 1 cup of 10-10-10 per bale on day 10.
    """
    label = feed.label
    shares = (label.nitrogen_percent, label.phosphate_percent, label.potash_percent)
    percent = next((share for share in shares if share > 0), None)
    if percent is None:
        raise ValueError(f"feed {feed.name!r} has no nutrient on its label")
    per_bale_g = min(FINISHING_NITROGEN_G * 100 / percent, LARGEST_FEEDING_G)
    return _dose(feed, per_bale_g, bales, water_per_bale_l)


def _dose(feed: Feed, per_bale_g: float, bales: int, water_per_bale_l: float | None) -> Dose:
    if bales < 1:
        raise ValueError(f"bales must be at least 1, not {bales}")
    per_bale_ml = None if feed.density_kg_per_l is None else per_bale_g / feed.density_kg_per_l
    label = feed.label
    phosphorus = per_bale_g * label.phosphate_percent / 100 * PHOSPHORUS_IN_PHOSPHATE
    potassium = per_bale_g * label.potash_percent / 100 * POTASSIUM_IN_POTASH
    return Dose(
        feed=feed.name,
        form=feed.form,
        bales=bales,
        per_bale_g=per_bale_g,
        total_g=per_bale_g * bales,
        per_bale_ml=per_bale_ml,
        total_ml=None if per_bale_ml is None else per_bale_ml * bales,
        nitrogen_per_bale_g=per_bale_g * label.nitrogen_percent / 100,
        phosphorus_per_bale_g=phosphorus,
        potassium_per_bale_g=potassium,
        water_per_bale_l=_water(feed, per_bale_ml, water_per_bale_l),
        dilution_ml_per_l=feed.dilution_ml_per_l if feed.form is FeedForm.LIQUID else None,
    )


def _water(feed: Feed, per_bale_ml: float | None, wanted_l: float | None) -> float:
    """Return the water of a feeding [L per bale]; a liquid is never mixed stronger than its label."""
    if wanted_l is None:
        wanted_l = UREA_WASH_IN_WATER_L if feed.material == "urea" else WASH_IN_WATER_L
    if feed.form is FeedForm.LIQUID and feed.dilution_ml_per_l and per_bale_ml is not None:
        return max(wanted_l, per_bale_ml / feed.dilution_ml_per_l)
    return wanted_l
