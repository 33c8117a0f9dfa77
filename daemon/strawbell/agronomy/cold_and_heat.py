"""What is too cold for a crop long before it freezes: chilly nights, and a cold bed for seed.

References:
[1] University of Wisconsin-Green Bay, "Caring for your transplants" (tomatoes, peppers): they stay
    out at night as long as night temperatures stay around 50 F.
[2] Ontario Ministry of Agriculture, Food and Rural Affairs, "The effect of extreme temperatures on
    the tomato and pepper crop": peppers are chilled by prolonged 0 to 10 C, tomatoes by 0 to 5 C.
[3] Harrington, J. F., "Soil temperature conditions for vegetable seed germination", Oregon State
    University Extension (2013, reviewed 2024): the least temperature at which seed comes up.

What heat, and a night too cool or too warm, does to a standing crop.

References:
[1] Purdue University, Vegetable Crops Hotline, "Understanding high temperature effects on fruit
    set of tomatoes": fruit set best at 60 to 90 F by day and 60 to 75 F by night; three hours over
    104 F on two days running fail. A text of unstated origin puts the day at 85 F; it is not
    followed because it would warn on most summer days.
[2] University of Illinois Extension, blossom drop of bean, pepper and tomato: nights under 55 F.
[3] University of Maryland, quoted in the trade press (2012): nights over 75 F interfere.
[4] Chilling of tropical crops begins at 41 to 50 F: trade press on symptoms of frost, freezing and
    chilling injury of vegetables. The upper end is taken.

How cold a night is for the plants on a bale, and what that means for a crop.

A forecast is made for a thermometer at about 1.5 to 2 m. Under a clear sky and in still air plants
lose heat to the sky and are colder; cloud and wind keep them near the air's temperature. No
source measured it over bales; the offsets are a design choice drawn from the band in which a
frost advisory is issued [1].

References:
[1] National Weather Service Blacksburg, newsletter "Frost/freeze program" (Fall 2007): frost
    advisory at shelter lows of 33 to 36 F with light wind and good radiational cooling; freeze
    warning at 32 F or less. So plants may freeze 1 to 4 F above.
[2] FAO, Frost Protection, vol. 1, Environment and Natural Resources Series 10 (2005): radiation
    frosts are clear and calm, advection frosts windy and well mixed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from enum import StrEnum

from msgspec import Struct

from strawbell.agronomy.figures import COLDEST_AIR_C, F_PER_C, HOTTEST_AIR_C, deg_f, within
from strawbell.model.forecast import Hour
from strawbell.model.garden import Appetite, Crop, FrostClass

TENDER_NIGHTS_FROM_C = deg_f(50)
"""Usual low of the nights from which tender crops are set out [1] [2]; that beans, cucurbits, okra
and basil are as sensitive as peppers is common practice [degC]."""
NIGHTS_FROM_C: Mapping[str, float] = {"tomato": 5.0, "cherry tomato": 5.0}
"""Crops that stand cooler nights than the tender ones do [2] [degC]: at 5 to 10 a tomato stands
still and is not harmed, and a hold for that costs weeks of a spring with cool nights."""


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
        bed_c: The warmest the seed bed may be over the coming days [degC], -90 to 60.

    Returns:
        True under the crop's least temperature; False where that is unknown.

    Raises:
        ValueError: When the temperature lies outside -90 to 60 degC.

    Source: Harrington, J. F., Oregon State University Extension (2013): least, best and greatest
        temperatures of germination.
    """
    within("bed_c", bed_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    return crop.germination_min_c is not None and bed_c < crop.germination_min_c


COOL_NIGHT_C = deg_f(55)
"""Nights under this drop the blossom of fruiting warm crops [2]."""
WARM_NIGHT_C = deg_f(75)
"""Nights over this hinder their fruit set [1] [3]."""
CHILL_C = deg_f(50)
"""Nights under this chill very tender crops without frost [4]."""


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
        high_c, low_c: Highest and lowest air temperature [degC], -90 to 60; None is unknown.

    Returns:
        What was found, empty when all is well; None when neither temperature is known.

    Raises:
        ValueError: When a temperature lies outside -90 to 60 degC, or the low over the high.

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


FREEZE_C = deg_f(32)
"""Freeze [1]."""
CLEAR_UNDER_PERCENT = 30.0
"""Cloud under which a night counts as clear (design choice)."""
CALM_UNDER_M_S = 2.24
"""Wind under which a night counts as calm: 5 mph (design choice, within "light wind" [1])."""
CLEAR_CALM_COLDER_C = (round(2 / F_PER_C, 2), round(4 / F_PER_C, 2))
"""How much colder plants are on a clear calm night: 2 to 4 F (design choice from [1])."""
OTHERWISE_COLDER_C = (0.0, round(1 / F_PER_C, 2))
"""How much colder on any other night: 0 to 1 F (design choice)."""
STRONGEST_WIND_M_S = 120.0
"""Over this a figure is no wind."""


class NightKind(StrEnum):
    """How a night cools plants under the air's temperature."""

    CLEAR_CALM = "clear-calm"
    CLOUDY_OR_WINDY = "cloudy-or-windy"
    UNKNOWN = "unknown"
    """Cloud or wind is unknown and may be either; judged as clear and calm."""


class Danger(StrEnum):
    """What a night means for a crop."""

    SAFE = "safe"
    COVER = "cover"
    KILLING = "killing"


class PlantLow(Struct, frozen=True):
    """The band in which the plants' lowest temperature is expected [degC], and why."""

    coldest_c: float
    mildest_c: float
    night: NightKind


class NightRisk(Struct, frozen=True):
    """The judgement of one night for one crop.

    `plant_low.coldest_c` was compared with `cover_at_c`, and with `kill_at_c` where that is known
    [degC].
    """

    danger: Danger
    plant_low: PlantLow
    cover_at_c: float
    kill_at_c: float | None


class NightAir(Struct, frozen=True):
    """A night in three figures: lowest temperature [degC], mean cloud [%], mean wind [m/s]."""

    low_c: float | None
    cloud_percent: float | None
    wind_m_s: float | None


def kind_of_night(cloud_percent: float | None, wind_m_s: float | None) -> NightKind:
    """Say whether a night is clear and calm.

    Args:
        cloud_percent: Cloud cover [%], 0 to 100; None is unknown.
        wind_m_s: Wind [m/s], 0 to 120; None is unknown.

    Returns:
        CLOUDY_OR_WINDY as soon as one of the two is known to be so; UNKNOWN when neither is and one
        of them is unknown.

    Raises:
        ValueError: When a value lies outside its range.

    Source: FAO, Frost Protection, vol. 1 (2005): clear and calm against windy and mixed.
    """
    if cloud_percent is not None:
        within("cloud_percent", cloud_percent, 0.0, 100.0, "%")
        if cloud_percent >= CLEAR_UNDER_PERCENT:
            return NightKind.CLOUDY_OR_WINDY
    if wind_m_s is not None:
        within("wind_m_s", wind_m_s, 0.0, STRONGEST_WIND_M_S, "m/s")
        if wind_m_s >= CALM_UNDER_M_S:
            return NightKind.CLOUDY_OR_WINDY
    if cloud_percent is None or wind_m_s is None:
        return NightKind.UNKNOWN
    return NightKind.CLEAR_CALM


def plant_low(low_c: float, cloud_percent: float | None, wind_m_s: float | None) -> PlantLow:
    """Return how cold the plants get when the air's low is forecast.

    Args:
        low_c: Forecast low at thermometer height [degC], -90 to 60.
        cloud_percent, wind_m_s: Cloud cover [%] and wind [m/s] of the night; None is unknown.

    Returns:
        1.11 to 2.22 degC (2 to 4 F) colder on a clear calm or unknown night, else 0 to 0.56 degC.

    Raises:
        ValueError: When a value lies outside its range.

    Source: design choice from the 33 to 36 F band of National Weather Service Blacksburg (2007).
    """
    within("low_c", low_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    night = kind_of_night(cloud_percent, wind_m_s)
    mixed = night is NightKind.CLOUDY_OR_WINDY
    least_c, most_c = OTHERWISE_COLDER_C if mixed else CLEAR_CALM_COLDER_C
    return PlantLow(low_c - most_c, low_c - least_c, night)


def night_risk(
    crop: Crop,
    low_c: float | None,
    cloud_percent: float | None = None,
    wind_m_s: float | None = None,
) -> NightRisk | None:
    """Judge one night for one crop by the coldest its plants may get.

    Args:
        crop: The crop.
        low_c: Forecast low at thermometer height [degC], -90 to 60; None is unknown.
        cloud_percent, wind_m_s: Cloud cover [%] and wind [m/s] of the night; None is unknown and
            judged carefully.

    Returns:
        KILLING at or under the crop's killing temperature, COVER at or under the one to cover at,
        else SAFE. None when the low is unknown.

    Raises:
        ValueError: When a value lies outside its range.

    Source: The crop's own figures with their sources; offsets as in `plant_low`.
    """
    if low_c is None:
        return None
    plants = plant_low(low_c, cloud_percent, wind_m_s)
    danger = Danger.SAFE
    if plants.coldest_c <= crop.cover_at_c:
        danger = Danger.COVER
    if crop.kill_at_c is not None and plants.coldest_c <= crop.kill_at_c:
        danger = Danger.KILLING
    return NightRisk(danger, plants, crop.cover_at_c, crop.kill_at_c)


def dies_in_a_freeze(crop: Crop) -> bool:
    """Return whether a first light freeze of autumn ends a crop.

    Args:
        crop: The crop; where its killing temperature is unknown, a tender one dies.

    Returns:
        True for a crop killed at 0 degC (32 F) or above.

    Source: The crop's own figures with their sources.
    """
    return crop.tender if crop.kill_at_c is None else crop.kill_at_c >= FREEZE_C


def night_air(hours: Sequence[Hour]) -> NightAir:
    """Sum up the hours of a night.

    Args:
        hours: The hours to judge; which hours make a night is the caller's choice.

    Returns:
        Lowest temperature [degC], mean cloud [%] and mean wind [m/s]. A figure is None when any of
        its hours is unknown, except that a known hour at or under 0 degC already makes a low.
    """
    lows = [hour.temperature_c for hour in hours]
    known = [low for low in lows if low is not None]
    low_c = min(known) if known else None
    if low_c is not None and len(known) < len(lows) and low_c > FREEZE_C:
        low_c = None
    return NightAir(
        low_c,
        _mean([hour.cloud_percent for hour in hours]),
        _mean([hour.wind_m_s for hour in hours]),
    )


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    if not known or len(known) < len(values):
        return None
    return math.fsum(known) / len(known)
