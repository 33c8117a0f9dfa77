"""What plants take of the water of a bale in a day, and how far they shade its top.

References:
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapters 7 and 9 (equations 98 to 102 from memory),
    https://www.fao.org/docrep/x0490e/x0490e00.htm.
"""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct

from strawbell.agronomy.ranges import within

FULL_COVER_BASE = 1.0
FULL_COVER_PER_M = 0.1
FULL_COVER_MOST = 1.2
"""Coefficient of full cover: 1.0 and 0.1 for every metre of height, at most 1.2 [1]."""
LEAST_IN_THE_OPEN = 0.1
MOST_ET_MM = 30.0


class Stage(StrEnum):
    """How far the plants on a bale have come."""

    SEEDLING = "seedling"
    YOUNG = "young"
    GROWING = "growing"
    FULL = "full"


class Canopy(Struct, frozen=True):
    """The leaves over one bale: ground they shade [m2] and their height [m].

    Vines and tall crops shade more than the top of the bale. Negative or more than 10 m2 or
    10 m is refused with ValueError.
    """

    area_m2: float
    height_m: float

    def __post_init__(self) -> None:
        """Refuse leaves that cannot be."""
        within("area_m2", self.area_m2, 0.0, 10.0, "m2")
        within("height_m", self.height_m, 0.0, 10.0, "m")


STAGE_SHARES: dict[Stage, tuple[float, float]] = {
    Stage.SEEDLING: (0.10, 0.10),
    Stage.YOUNG: (0.35, 0.35),
    Stage.GROWING: (0.70, 0.70),
    Stage.FULL: (1.0, 1.0),
}
"""Share of the full area and of the mature height at each stage (design choice)."""


def canopy_at(stage: Stage, full_area_m2: float, mature_height_m: float) -> Canopy:
    """Return the leaves over a bale at a stage.

    Args:
        stage: How far the plants have come.
        full_area_m2: Ground the grown plants of one bale shade [m2], 0 to 10; outside ValueError.
        mature_height_m: Their height [m], 0 to 10; outside ValueError.

    Returns:
        The leaves now.

    Source: FAO-56, chapter 6, for the growth stages; the shares are a design choice.
    """
    area, height = STAGE_SHARES[stage]
    within("full_area_m2", full_area_m2, 0.0, 10.0, "m2")
    within("mature_height_m", mature_height_m, 0.0, 10.0, "m")
    return Canopy(area * full_area_m2, height * mature_height_m)


def transpired_l(et_mm: float, canopy: Canopy) -> float:
    """Return the water that the plants of one bale take in a day.

    Args:
        et_mm: Reference evapotranspiration of the day [mm], 0 to 30; outside ValueError.
        canopy: The leaves over the bale.

    Returns:
        Litres for one bale: 5 mm over 1 m2 of full cover 0 m high are 5 L.

    Source: FAO-56, chapter 9.
    """
    within("et_mm", et_mm, 0.0, MOST_ET_MM, "mm")
    cover = min(FULL_COVER_MOST, FULL_COVER_BASE + FULL_COVER_PER_M * canopy.height_m)
    return et_mm * cover * canopy.area_m2


def in_the_open(canopy: Canopy, top_m2: float) -> float:
    """Return the share of a bale's top that leaves do not shade.

    Args:
        canopy: The leaves over the bale.
        top_m2: Top of one bale [m2], 0.05 to 5; outside ValueError.

    Returns:
        0.1 to 1: some sun and wind always get in.

    Source: FAO-56, equation 75, for what evaporates from under leaves; the least is a design
        choice.
    """
    within("top_m2", top_m2, 0.05, 5.0, "m2")
    return max(LEAST_IN_THE_OPEN, 1.0 - canopy.area_m2 / top_m2)
