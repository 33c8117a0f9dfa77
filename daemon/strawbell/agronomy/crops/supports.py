"""When a crop needs its support, and how long the stakes must be.

References:
[1] University of Minnesota Extension, "Trellises and cages" (2009): a 6 ft stake driven 1 ft
    leaves 5 ft; a trellis carries vines with fruit up to 3 lb; tomatoes that keep growing need a
    stake or cage.
[2] Common practice: stakes are driven through the bale into the ground when the plants go in, so
    that no roots are torn later; vines are given something to climb before they fall over.
"""

from __future__ import annotations

from datetime import date, timedelta

from msgspec import Struct

from strawbell.agronomy.crops.crop_figures import inches
from strawbell.agronomy.crops.ripening import days_to_harvest
from strawbell.agronomy.ranges import within
from strawbell.model.crops import Crop, Support
from strawbell.model.garden import Method

CLIMBS_FROM_CM = inches(12)
"""Height at which a vine or bush begins to lean (common practice)."""
READY_BEFORE_DAYS = 7
"""How long before that the support stands (common practice)."""
DRIVEN_CM = inches(12)
"""How deep a stake goes into the ground under the bale [1]."""
MOST_ABOVE_BALE_CM = inches(72)
"""Longer growth is turned down, pinched or tied back (common practice)."""
TALLEST_BALE_CM = 150.0
"""A bale higher than this is a slip of the pen."""


class SupportPlan(Struct, frozen=True):
    """What holds a crop, by when it stands, and how long its uprights are [cm].

    `upright_cm` counts from the tip in the ground: driven depth, height of the bale, and what the
    crop climbs.
    """

    support: Support
    by: date
    upright_cm: float


def support_by(crop: Crop, planted_on: date, method: Method = Method.TRANSPLANT) -> date | None:
    """Return the date by which a crop's support stands.

    Stakes and cages stand on planting day. A trellis stands a week before the crop, growing
    evenly to its mature height by its first harvest, is 12 in high; young plants grow more slowly
    than that, so the date is early rather than late.

    Args:
        crop: The crop with its mature height [cm].
        planted_on: Garden-local date of planting.
        method: How it was planted.

    Returns:
        Never before `planted_on`; None for a crop that needs no support.

    Source: University of Minnesota Extension (2009); common practice for the time.
    """
    if crop.support is Support.NONE:
        return None
    if crop.support in (Support.STAKE, Support.CAGE):
        return planted_on
    share = min(1.0, CLIMBS_FROM_CM / crop.mature_height_cm)
    days = int(days_to_harvest(crop, method)[0] * share) - READY_BEFORE_DAYS
    return planted_on + timedelta(days=max(0, days))


def support_plan(
    crop: Crop, planted_on: date, bale_height_cm: float, method: Method = Method.TRANSPLANT
) -> SupportPlan | None:
    """Return what holds a crop, by when, and how long its uprights are.

    Args:
        crop: The crop.
        planted_on: Garden-local date of planting.
        bale_height_cm: Height of the bale as set out [cm], 0 to 150.
        method: How it was planted.

    Returns:
        None for a crop that needs no support. Growth over 6 ft above the bale is not counted.

    Raises:
        ValueError: When the height lies outside 0 to 150 cm.

    Source: University of Minnesota Extension (2009): 1 ft driven.
    """
    within("bale_height_cm", bale_height_cm, 0.0, TALLEST_BALE_CM, "cm")
    by = support_by(crop, planted_on, method)
    if by is None:
        return None
    climbs_cm = min(crop.mature_height_cm, MOST_ABOVE_BALE_CM)
    return SupportPlan(crop.support, by, DRIVEN_CM + bale_height_cm + climbs_cm)
