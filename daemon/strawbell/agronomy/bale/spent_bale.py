"""What is left of a bale at the end of its season: strings, straw to spread, nitrogen.

References
----------
[1] Washington State University Extension, FS109E, "Straw bale gardening": spent bales are used as
    mulch, composted or spread.
[2] Common practice: a bale sinks to a half or a third of its height in a season; spread, the
    straw lies about 5 cm (2 in) deep.
[3] Design choice: of the nitrogen fed, between a fifth and three quarters is still there in the
    autumn; the rest was leached, lost to the air or picked. No measurement in bales was found.
"""

from __future__ import annotations

from msgspec import Struct

from strawbell.agronomy.bale.size_and_mass import MOST_BALES, volume_l
from strawbell.agronomy.bale.straw import nitrogen_g
from strawbell.agronomy.ranges import within
from strawbell.model.garden import Bale

SPREAD_DEPTH_CM = 5.0
"""Depth of the straw as mulch [2]."""
SUNK_TO_SHARE = (0.33, 0.5)
"""Volume of a spent bale over that of a fresh one, least and most [2]."""
FEED_LEFT_SHARE = (0.2, 0.75)
"""Share of the nitrogen fed that is still in the bale, least and most [3]."""
STRINGS = {"two-string": 2, "three-string": 3}
"""Strings round a bale, by its kind."""
STRINGS_OF_OTHERS = 2
"""Strings round a small bale of another kind (common practice: two)."""
MOST_NITROGEN_G = 5000.0
"""More nitrogen fed to one bale in a season is a slip of the pen [g]."""
L_PER_M2_AND_CM = 10.0


class SpentBales(Struct, frozen=True):
    """What a batch leaves: strings to take away, area covered [m2], nitrogen carried [g]."""

    strings: int
    depth_cm: float
    area_low_m2: float
    area_high_m2: float
    nitrogen_low_g: float
    nitrogen_high_g: float


def spent_bales(bale: Bale, bales: int, fed_nitrogen_per_bale_g: float) -> SpentBales:
    """Return what the bales of a batch leave at the end of their season.

    Parameters
    ----------
    bale : Bale
        The bale as it was set out: sides 10 to 400 [cm], mass as bought 1 to 1000 [kg]; outside
        ValueError.
    bales : int
        1 to 10 000; outside ValueError.
    fed_nitrogen_per_bale_g : float
        Nitrogen given to one bale in conditioning and season [g], 0 to 5000; outside ValueError.

    Returns
    -------
    SpentBales
        For all bales together: strings, square metres covered 5 cm deep, nitrogen in straw and
        feed [g], each from low to high.

    References
    ----------
    .. [1] Washington State University Extension FS109E for the use; shares are common practice
       and a design choice, see the module.
    """
    within("bales", bales, 1, MOST_BALES, "")
    within("fed_nitrogen_per_bale_g", fed_nitrogen_per_bale_g, 0.0, MOST_NITROGEN_G, "g")
    covered_m2 = volume_l(bale) * bales / (SPREAD_DEPTH_CM * L_PER_M2_AND_CM)
    straw = nitrogen_g(bale)
    left_low, left_high = (fed_nitrogen_per_bale_g * share for share in FEED_LEFT_SHARE)
    return SpentBales(
        strings=STRINGS.get(bale.kind, STRINGS_OF_OTHERS) * bales,
        depth_cm=SPREAD_DEPTH_CM,
        area_low_m2=covered_m2 * SUNK_TO_SHARE[0],
        area_high_m2=covered_m2 * SUNK_TO_SHARE[1],
        nitrogen_low_g=(straw.low + left_low) * bales,
        nitrogen_high_g=(straw.high + left_high) * bales,
    )
