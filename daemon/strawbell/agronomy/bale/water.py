"""The water in a bale: what it holds, what plants and the sun take from it in a day.

References
----------
[1] Journal of Agricultural Research 14(4):187 (1918): straw soaked for 24 h holds 220 kg of
    water per 100 kg (wheat), others 228 to 285.
[2] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration - Guidelines for
    computing crop water requirements", FAO Irrigation and Drainage Paper 56, Rome 1998,
    chapters 7 and 9 (equations 98 to 102 from memory),
    https://www.fao.org/docrep/x0490e/x0490e00.htm.
[3] USDA-ARS, evaporation under straw and residue covers: on the first day 0.28 to 0.52 of that
    from bare soil.
"""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct

from strawbell.agronomy.ranges import within

FULL_COVER_BASE = 1.0
FULL_COVER_PER_M = 0.1
FULL_COVER_MOST = 1.2
"""Coefficient of full cover: 1.0 and 0.1 for every metre of height, at most 1.2 [2]."""
NEED_SPREAD = 0.25
"""A need judged by eye is right to a quarter (design choice: cover, coefficient and forecast
each to about 15 percent)."""
RAIN_INTO_BALE_LOW = 0.7
"""Least share of the rain on the top that gets past the leaves and into the bale (design
choice); the most is all of it."""
MOST_ET_MM = 30.0
MOST_RAIN_MM = 2000.0


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


class LitreRange(Struct, frozen=True):
    """Water for one bale and one day [L], from low to high."""

    low: float
    high: float


STAGE_SHARES: dict[Stage, tuple[float, float]] = {
    Stage.SEEDLING: (0.10, 0.10),
    Stage.YOUNG: (0.35, 0.35),
    Stage.GROWING: (0.70, 0.70),
    Stage.FULL: (1.0, 1.0),
}
"""Share of the full area and of the mature height at each stage (design choice)."""


def canopy_at(stage: Stage, full_area_m2: float, mature_height_m: float) -> Canopy:
    """Return the leaves over a bale at a stage.

    Parameters
    ----------
    stage : Stage
        How far the plants have come.
    full_area_m2 : float
        Ground the grown plants of one bale shade [m2], 0 to 10; outside ValueError.
    mature_height_m : float
        Their height [m], 0 to 10; outside ValueError.

    Returns
    -------
    Canopy
        The leaves now.

    References
    ----------
    [2] FAO-56, chapter 6, for the growth stages; the shares are a design choice.
    """
    area, height = STAGE_SHARES[stage]
    within("full_area_m2", full_area_m2, 0.0, 10.0, "m2")
    within("mature_height_m", mature_height_m, 0.0, 10.0, "m")
    return Canopy(area * full_area_m2, height * mature_height_m)


def daily_need(et_mm: float, rain_mm: float, canopy: Canopy, bale_top_area_m2: float) -> LitreRange:
    """Return the water that the plants of one bale take in a day, less the rain that reaches it.

    Parameters
    ----------
    et_mm : float
        Reference evapotranspiration of the day [mm], 0 to 30; outside ValueError.
    rain_mm : float
        Rain of the day [mm], 0 to 2000; outside ValueError. Only what falls on the top counts.
    canopy : Canopy
        The leaves over the bale.
    bale_top_area_m2 : float
        Top of one bale [m2], 0.05 to 5; outside ValueError.

    Returns
    -------
    LitreRange
        Litres for one bale, not under 0: 5 mm over 1 m2 of full cover 0 m high are 5 L, give or
        take a quarter.

    References
    ----------
    [2] FAO-56, chapter 9; the spread and the share of rain are design choices.
    """
    within("et_mm", et_mm, 0.0, MOST_ET_MM, "mm")
    within("rain_mm", rain_mm, 0.0, MOST_RAIN_MM, "mm")
    within("bale_top_area_m2", bale_top_area_m2, 0.05, 5.0, "m2")
    taken = et_mm * _full_cover(canopy.height_m) * canopy.area_m2
    rain = rain_mm * bale_top_area_m2
    return LitreRange(
        low=max(0.0, taken * (1.0 - NEED_SPREAD) - rain),
        high=max(0.0, taken * (1.0 + NEED_SPREAD) - rain * RAIN_INTO_BALE_LOW),
    )


def _full_cover(height_m: float) -> float:
    """Return the coefficient of leaves that cover the ground [2]."""
    within("height_m", height_m, 0.0, 10.0, "m")
    return min(FULL_COVER_MOST, FULL_COVER_BASE + FULL_COVER_PER_M * height_m)
