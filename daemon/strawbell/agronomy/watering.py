"""How much water a bale is told, and what its plants take of it in a day.

It is told what it lacks, never what would run out of it. Three rules. A first soak goes on until
water runs from below; after it a bale is refilled to its working moisture when a few litres are
missing that rain will not bring; and a feed is washed in with 7 to 9 mm, or left to the rain. A
bale that keeps all it can is never watered.

References:
[1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapters 7 and 9 (equations 98 to 102 from memory),
    https://www.fao.org/docrep/x0490e/x0490e00.htm.
[2] A. S. Black and others (1987): 4 mm of water cut what urea on a surface lost to the air to a
    third, 16 mm to a fifteenth. Between 7 and 9 mm a balance with the ranges of `parameters` loses
    least by water and air together, and is flat there.
[3] Montana State University: light scattered rain does not wash urea in.
"""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct

from strawbell.agronomy.balance import body_of
from strawbell.agronomy.figures import within
from strawbell.model.garden import Bale

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


WASH_IN_MM = 8.0
"""Water over the top that washes a feed in [mm] [2]: 3.6 L on a two-string bale."""
RAIN_WASHES_IN_MM = 5.0
"""Rain of the day that washes a feed in by itself [mm] (design choice between [2] and [3])."""
REFILL_FROM_L_PER_KG = 0.15
"""A bale is refilled from this much missing on, 3 L for 20 kg (design choice: less is not worth
the can, and what is refilled daily runs through daily)."""
LEAST_L = 0.5
"""Less water for a bale is not worth the can [L] (design choice)."""
MOST_RAIN_MM = 2000.0
MOST_WATER_L = 5000.0


class Lack(StrEnum):
    """Why a bale gets the water it gets."""

    LACKING = "lacking"
    ENOUGH = "enough"
    RAIN = "rain"
    FULL = "full"


class Refill(Struct, frozen=True):
    """Water for one bale on a day [L], and why that much."""

    litres: float
    why: Lack


def first_soak_l(bale: Bale) -> float:
    """Return the water after which a dry bale begins to run [L].

    Args:
        bale: Sides 10 to 400 [cm], mass as bought 1 to 1000 [kg]; outside ValueError.

    Returns:
        Litres given slowly: from its own water to the working moisture, and what runs through gaps
        on the way. About 30 L for 20 kg.

    Source: `parameters`; "The composting handbook" for 60 % moisture.
    """
    body = body_of(bale)
    return (body.works_l - body.own_water_l) / (1.0 - body.bypass_dry)


def refill(bale: Bale, held_l: float, rain_mm: float, *, again: bool = False) -> Refill:
    """Return what a wetted bale lacks today.

    Args:
        bale: As for `first_soak_l`.
        held_l: Water in it now [L], 0 to 5000; outside ValueError.
        rain_mm: Rain that is counted on until tomorrow [mm], 0 to 2000; outside ValueError.
        again: Whether it is soaked a second time: then half a litre is reason enough, since it is
            poured until it drips; else 0.15 L per kg of bale.

    Returns:
        Litres up to the working moisture; none when rain brings it, when little is missing, or when
        the bale is full.

    Source: design choices of this module.
    """
    within("held_l", held_l, 0.0, MOST_WATER_L, "L")
    within("rain_mm", rain_mm, 0.0, MOST_RAIN_MM, "mm")
    body = body_of(bale)
    least = LEAST_L if again else refill_from_l(bale)
    missing = body.works_l - held_l
    if held_l >= body.holds_l:
        return Refill(0.0, Lack.FULL)
    if missing < least:
        return Refill(0.0, Lack.ENOUGH)
    missing -= rain_mm * body.top_m2
    if missing < least:
        return Refill(0.0, Lack.RAIN)
    return Refill(missing / (1.0 - body.bypass_wet), Lack.LACKING)


def refill_from_l(bale: Bale) -> float:
    """Return the water that has to be missing before a bale is refilled: 3 L for 20 kg.

    Args:
        bale: As for `first_soak_l`.

    Returns:
        Litres [L].
    """
    return max(LEAST_L, REFILL_FROM_L_PER_KG * bale.dry_mass_kg)


def room_l(bale: Bale, held_l: float) -> float:
    """Return the water that a bale can still hold.

    Args:
        bale: As for `first_soak_l`.
        held_l: Water in it now [L], 0 to 5000; outside ValueError.

    Returns:
        L, 0 for a full bale.
    """
    within("held_l", held_l, 0.0, MOST_WATER_L, "L")
    return max(0.0, body_of(bale).holds_l - held_l)


def room_when_moist_l(bale: Bale) -> float:
    """Return the water that a bale at its working moisture can still hold.

    Args:
        bale: As for `first_soak_l`.

    Returns:
        L: what a single feeding can bring in at most.
    """
    return room_l(bale, body_of(bale).works_l)


def wash_in(bale: Bale, held_l: float, rain_mm: float) -> Refill:
    """Return the water that washes a feed in.

    Args:
        bale: As for `first_soak_l`.
        held_l: Water in it now [L], 0 to 5000; outside ValueError.
        rain_mm: Rain that is counted on today [mm], 0 to 2000; outside ValueError.

    Returns:
        8 mm over the top, at most what the bale can still hold; none where 5 mm of rain will.

    Source: Black and others (1987); see the module.
    """
    within("held_l", held_l, 0.0, MOST_WATER_L, "L")
    within("rain_mm", rain_mm, 0.0, MOST_RAIN_MM, "mm")
    room = room_l(bale, held_l)
    if rain_mm >= RAIN_WASHES_IN_MM:
        return Refill(0.0, Lack.RAIN)
    if room < LEAST_L:
        return Refill(0.0, Lack.FULL)
    return Refill(min(WASH_IN_MM * body_of(bale).top_m2, room), Lack.LACKING)
