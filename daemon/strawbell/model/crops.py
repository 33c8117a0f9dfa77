"""A crop as the plan knows it."""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct


class FrostClass(StrEnum):
    """How a crop stands frost, in the classes of the extension services."""

    HARDY = "hardy"
    HALF_HARDY = "half-hardy"
    TENDER = "tender"
    VERY_TENDER = "very-tender"


class Support(StrEnum):
    """What holds a crop up."""

    NONE = "none"
    STAKE = "stake"
    TRELLIS = "trellis"
    CAGE = "cage"


class Appetite(StrEnum):
    """How much a crop is fed through the season."""

    LIGHT = "light"
    """Legumes and roots: no extra nitrogen, or little."""
    LEAFY = "leafy"
    FRUITING = "fruiting"
    HEAVY = "heavy"


class Crop(Struct, frozen=True):
    """What the advice must know of a crop; `None` is unknown.

    Temperatures in degC at plant level, lengths in cm, times in days.
    `cover_at_c`: cover the plants when the night's low is expected at or under it.
    `kill_at_c`: serious damage or death about here.
    `emergence`: (bale temperature, days from sowing to emergence) points, ascending.
    `days_to_maturity`: (shortest, longest), from transplanting when `maturity_from_transplant`.
    `per_bale`: (fewest, most) plants on a two-string bale.
    `advice_against`: why this crop does badly in a bale; empty when it does well.
    `sources`: where the values come from; values from memory or common practice say so there.
    """

    name: str
    frost_class: FrostClass
    cover_at_c: float
    kill_at_c: float | None
    germination_min_c: float | None
    emergence: tuple[tuple[float, float], ...]
    depth_cm: float | None
    spacing_cm: float
    per_bale: tuple[int, int]
    days_to_maturity: tuple[int, int]
    maturity_from_transplant: bool
    mature_height_cm: float
    support: Support
    appetite: Appetite
    harvest_days: int = 30
    """How long it is picked, from the first harvest [days]; 1 for a crop taken at once."""
    heat_limit_c: float | None = None
    heat_effect: str = ""
    degree_day_base_c: float | None = None
    degree_days_to_maturity: float | None = None
    thin_to_cm: float | None = None
    advice_against: str = ""
    germination_max_c: float | None = None
    """Warmest bale it germinates in [degC]."""
    transplant_weeks: tuple[int, int] | None = None
    """(youngest, oldest) age of a transplant [weeks]; None where it is sown in place."""
    set_out_weeks: float | None = None
    """When it may be set out, from the average last 0 degC frost [weeks]; before is negative.

    None leaves it to the frost class.
    """
    sources: tuple[str, ...] = ()

    @property
    def tender(self) -> bool:
        """Whether a light frost kills it."""
        return self.frost_class in (FrostClass.TENDER, FrostClass.VERY_TENDER)
