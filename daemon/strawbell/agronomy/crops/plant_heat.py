"""What heat, and a night too cool or too warm, does to a standing crop.

References:
[1] Purdue University, Vegetable Crops Hotline, "Understanding high temperature effects on fruit
    set of tomatoes": fruit set best at 60 to 90 F by day and 60 to 75 F by night; three hours over
    104 F on two days running fail. A text of unstated origin puts the day at 85 F; it is not
    followed because it would warn on most summer days.
[2] University of Illinois Extension, blossom drop of bean, pepper and tomato: nights under 55 F.
[3] University of Maryland, quoted in the trade press (2012): nights over 75 F interfere.
[4] Chilling of tropical crops begins at 41 to 50 F: trade press on symptoms of frost, freezing and
    chilling injury of vegetables. The upper end is taken.
"""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct

from strawbell.agronomy.crops.crop_figures import deg_f
from strawbell.agronomy.ranges import within
from strawbell.model.crops import Appetite, Crop, FrostClass

COOL_NIGHT_C = deg_f(55)
"""Nights under this drop the blossom of fruiting warm crops [2]."""
WARM_NIGHT_C = deg_f(75)
"""Nights over this hinder their fruit set [1] [3]."""
CHILL_C = deg_f(50)
"""Nights under this chill very tender crops without frost [4]."""
COLDEST_AIR_C = -60.0
HOTTEST_AIR_C = 60.0
"""Outside these a figure is no outdoor air temperature."""


class HeatEffect(StrEnum):
    """What heat does, as a phrase that follows the crop's name."""

    BLOSSOM_DROP = "drops its blossom"
    BOLTING = "bolts and turns bitter"
    QUALITY = "loses quality"


class HeatSign(StrEnum):
    """A finding about a day or a night."""

    HOT_DAY = "hot-day"
    WARM_NIGHT = "warm-night"
    COOL_NIGHT = "cool-night"
    CHILLY_NIGHT = "chilly-night"


class HeatFinding(Struct, frozen=True):
    """One sign with the figure it rests on and the limit it was compared with [degC].

    `effect` is the phrase for the grower, empty where the crop has none.
    """

    sign: HeatSign
    value_c: float
    limit_c: float
    effect: str


def heat_findings(
    crop: Crop, high_c: float | None, low_c: float | None
) -> tuple[HeatFinding, ...] | None:
    """Judge one day and night for a standing crop.

    The day is hot at or over the crop's own limit. Nights count for fruiting warm crops (blossom)
    and, under 10 degC, for very tender ones (chilling).

    Args:
        crop: The crop; its limit may be unknown, then the day is not judged.
        high_c, low_c: Highest and lowest air temperature [degC], -60 to 60; None is unknown.

    Returns:
        What was found, empty when all is well; None when neither temperature is known.

    Raises:
        ValueError: When a temperature lies outside -60 to 60 degC, or the low over the high.

    Source: see the module: Purdue (day, night), Illinois (cool night), Maryland (warm night).
    """
    _check(high_c, low_c)
    if high_c is None and low_c is None:
        return None
    found: list[HeatFinding] = []
    limit_c = crop.heat_limit_c
    if high_c is not None and limit_c is not None and high_c >= limit_c:
        found.append(HeatFinding(HeatSign.HOT_DAY, high_c, limit_c, crop.heat_effect))
    if low_c is not None:
        found.extend(_nights(crop, low_c))
    return tuple(found)


def _check(high_c: float | None, low_c: float | None) -> None:
    for name, value in (("high_c", high_c), ("low_c", low_c)):
        if value is not None:
            within(name, value, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    if high_c is not None and low_c is not None and low_c > high_c:
        raise ValueError(f"low_c must not lie over high_c, got {low_c} and {high_c}")


def _nights(crop: Crop, low_c: float) -> list[HeatFinding]:
    found: list[HeatFinding] = []
    fruits = crop.tender and crop.appetite in (Appetite.FRUITING, Appetite.HEAVY)
    if fruits and low_c < COOL_NIGHT_C:
        found.append(HeatFinding(HeatSign.COOL_NIGHT, low_c, COOL_NIGHT_C, HeatEffect.BLOSSOM_DROP))
    if fruits and low_c > WARM_NIGHT_C:
        found.append(HeatFinding(HeatSign.WARM_NIGHT, low_c, WARM_NIGHT_C, HeatEffect.BLOSSOM_DROP))
    if crop.frost_class is FrostClass.VERY_TENDER and low_c < CHILL_C:
        found.append(HeatFinding(HeatSign.CHILLY_NIGHT, low_c, CHILL_C, "stops growing"))
    return found
