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

from dataclasses import dataclass
from enum import StrEnum

from strawbell.agronomy.bale.surface import WETTEST_COEFFICIENT
from strawbell.agronomy.ranges import within

WATER_HELD_KG_PER_KG = 2.2
"""Water that soaked straw keeps for each kg as it is strewn, air-dry, the lowest of [1]; the
source weighed the straw as it came, so this is not per kg of dry matter."""
BARE_COEFFICIENT = 0.15
"""Coefficient of a dry surface without plants [2], chapter 7."""
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
DRY_STRAW_SHARE = 0.28
"""Least evaporation of a bale over a wet surface, when its outer straw has dried [3]."""
SIDE_SHARE_LOW = 0.3
SIDE_SHARE_HIGH = 0.5
"""Evaporation of an upright side over that of the top: it sees half the sky and the sun for half
the day, less where bales stand side by side (design choice, no measurement found)."""
MOST_ET_MM = 30.0
MOST_RAIN_MM = 2000.0
HEAVIEST_BALE_KG = 500.0


class Stage(StrEnum):
    """How far the plants on a bale have come."""

    SEEDLING = "seedling"
    YOUNG = "young"
    GROWING = "growing"
    FULL = "full"


@dataclass(frozen=True, slots=True)
class Canopy:
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


@dataclass(frozen=True, slots=True)
class LitreRange:
    """Water for one bale and one day [L], from low to high."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class StoreDay:
    """A bale's water after a day [L]: held, run off because it was full, missing for the plants."""

    held_l: float
    run_off_l: float
    short_l: float


STAGE_SHARES: dict[Stage, tuple[float, float]] = {
    Stage.SEEDLING: (0.10, 0.10),
    Stage.YOUNG: (0.35, 0.35),
    Stage.GROWING: (0.70, 0.70),
    Stage.FULL: (1.0, 1.0),
}
"""Share of the full area and of the mature height at each stage (design choice)."""


def store_capacity_l(dry_mass_kg: float) -> float:
    """Return the water that a soaked bale holds against its own drainage [1].

    Parameters
    ----------
    dry_mass_kg : float
        Mass of the bale as bought, air-dry, as `Bale.dry_mass_kg` has it [kg], 1 to 500; outside
        ValueError.

    Returns
    -------
    float
        Water beyond what it was bought with [L]: 2.2 for every kg of straw. Claims differ
        fourfold; growers' practice of about 57 L for a 20 to 23 kg bale is a little above.

    References
    ----------
    [1] Journal of Agricultural Research 14(4):187 (1918).
    """
    within("dry_mass_kg", dry_mass_kg, 1.0, HEAVIEST_BALE_KG, "kg")
    return WATER_HELD_KG_PER_KG * dry_mass_kg


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


def canopy_coefficient(cover: float, height_m: float) -> float:
    """Return the crop coefficient of leaves that cover part of the ground [2], equation 98.

    Parameters
    ----------
    cover : float
        Share of the ground shaded [0 to 1]; outside ValueError.
    height_m : float
        Height of the plants [m], 0 to 10; outside ValueError.

    Returns
    -------
    float
        Coefficient over the reference [0.15 to 1.2].

    References
    ----------
    [2] FAO-56, equations 98 to 102, from memory.
    """
    within("cover", cover, 0.0, 1.0, "")
    full = _full_cover(height_m)
    grown = min(1.0, 2.0 * cover, float(cover ** (1.0 / (1.0 + height_m))))
    return BARE_COEFFICIENT + (full - BARE_COEFFICIENT) * grown


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


def conditioning_loss(et_mm: float, length_m: float, width_m: float, height_m: float) -> LitreRange:
    """Return the water that one bale in conditioning loses to the air in a day.

    Parameters
    ----------
    et_mm : float
        Reference evapotranspiration of the day [mm], 0 to 30; outside ValueError.
    length_m, width_m, height_m : float
        The bale as it stands [m], 0.1 to 3; outside ValueError.

    Returns
    -------
    LitreRange
        Litres through top and sides: low when the outer straw has dried, high while all of it is
        wet. Steam driven out by the heat of the bale comes on top and is not reckoned.

    References
    ----------
    [2] FAO-56, equation 72 (1.2 over a wet surface). [3] USDA-ARS for dry straw; the share of
    the sides is a design choice.
    """
    within("et_mm", et_mm, 0.0, MOST_ET_MM, "mm")
    for name, value in (("length_m", length_m), ("width_m", width_m), ("height_m", height_m)):
        within(name, value, 0.1, 3.0, "m")
    top_m2 = length_m * width_m
    sides_m2 = 2.0 * (length_m + width_m) * height_m
    wet_mm = WETTEST_COEFFICIENT * et_mm
    return LitreRange(
        low=DRY_STRAW_SHARE * wet_mm * (top_m2 + SIDE_SHARE_LOW * sides_m2),
        high=wet_mm * (top_m2 + SIDE_SHARE_HIGH * sides_m2),
    )


def store_after_day(held_l: float, capacity_l: float, need_l: float, gained_l: float) -> StoreDay:
    """Return a bale's water after a day: rain and watering first, then what is taken.

    held before + gained = held after + run off + (need - short), exactly.

    Parameters
    ----------
    held_l : float
        Water in the bale before [L], 0 to `capacity_l`; outside ValueError.
    capacity_l : float
        Water it can hold [L], above 0 to 2000; outside ValueError.
    need_l : float
        Water taken from it in the day [L], 0 to 2000; outside ValueError.
    gained_l : float
        Rain and water that reached it [L], 0 to 10000; outside ValueError.

    Returns
    -------
    StoreDay
        None of it negative.

    References
    ----------
    [2] FAO-56, chapter 7, equation 77 in litres: a balance.
    """
    within("capacity_l", capacity_l, 1e-3, 2000.0, "L")
    within("held_l", held_l, 0.0, capacity_l, "L")
    within("need_l", need_l, 0.0, 2000.0, "L")
    within("gained_l", gained_l, 0.0, 10000.0, "L")
    filled = held_l + gained_l
    run_off = max(0.0, filled - capacity_l)
    taken = min(need_l, filled - run_off)
    return StoreDay(held_l=filled - run_off - taken, run_off_l=run_off, short_l=need_l - taken)


def _full_cover(height_m: float) -> float:
    """Return the coefficient of leaves that cover the ground [2]."""
    within("height_m", height_m, 0.0, 10.0, "m")
    return min(FULL_COVER_MOST, FULL_COVER_BASE + FULL_COVER_PER_M * height_m)
