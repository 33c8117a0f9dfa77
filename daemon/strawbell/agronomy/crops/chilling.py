"""What is too cold for a crop long before it freezes: chilly nights, and a cold bed for seed.

References:
[1] University of Wisconsin-Green Bay, "Caring for your transplants" (tomatoes, peppers): they stay
    out at night as long as night temperatures stay around 50 F.
[2] Ontario Ministry of Agriculture, Food and Rural Affairs, "The effect of extreme temperatures on
    the tomato and pepper crop": peppers are chilled by prolonged 0 to 10 C, tomatoes by 0 to 5 C.
[3] Harrington, J. F., "Soil temperature conditions for vegetable seed germination", Oregon State
    University Extension (2013, reviewed 2024): the least temperature at which seed comes up.
"""

from __future__ import annotations

from collections.abc import Mapping

from strawbell.agronomy.crops.crop_figures import deg_f
from strawbell.agronomy.ranges import within
from strawbell.model.crops import Crop

TENDER_NIGHTS_FROM_C = deg_f(50)
"""Usual low of the nights from which tender crops are set out [1] [2]; that beans, cucurbits, okra
and basil are as sensitive as peppers is common practice [degC]."""
NIGHTS_FROM_C: Mapping[str, float] = {"tomato": 5.0, "cherry tomato": 5.0}
"""Crops that stand cooler nights than the tender ones do [2] [degC]: at 5 to 10 a tomato stands
still and is not harmed, and a hold for that costs weeks of a spring with cool nights."""
COLDEST_AIR_C = -60.0
HOTTEST_AIR_C = 60.0
"""Outside these a figure is no outdoor temperature."""


def nights_from_c(crop: Crop) -> float | None:
    """Return how warm nights usually have to be before a crop is set out.

    Args:
        crop: The crop with its frost class.

    Returns:
        Mean low of the coming nights [degC]; None for crops that cool nights do not set back.

    Sources: [1] University of Wisconsin-Green Bay, "Caring for your transplants". [2] Ontario
        Ministry of Agriculture, Food and Rural Affairs, tomato and pepper.
    """
    return NIGHTS_FROM_C.get(crop.name, TENDER_NIGHTS_FROM_C) if crop.tender else None


def too_cold_for_seed(crop: Crop, bed_c: float) -> bool:
    """Return whether a seed bed is surely too cold for a crop to come up.

    Args:
        crop: The crop with the least temperature at which its seed comes up.
        bed_c: The warmest the seed bed may be over the coming days [degC], -60 to 60.

    Returns:
        True under the crop's least temperature; False where that is unknown.

    Raises:
        ValueError: When the temperature lies outside -60 to 60 degC.

    Source: Harrington, J. F., Oregon State University Extension (2013): least, best and greatest
        temperatures of germination.
    """
    within("bed_c", bed_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    return crop.germination_min_c is not None and bed_c < crop.germination_min_c
