"""What cold and heat do to a crop: chilly nights, a cold bed for seed, frost at the leaf, hot days.

A forecast is made for a thermometer at about 1.5 to 2 m. Under a clear sky and in still air plants
lose heat to the sky and are colder; cloud and wind keep them near the air's temperature. No
source measured it over bales; the offsets are a design choice drawn from the band in which a
frost advisory is issued [4].

References:
[1] University of Wisconsin-Green Bay, "Caring for your transplants" (tomatoes, peppers): they stay
    out at night as long as night temperatures stay around 50 F.
[2] Ontario Ministry of Agriculture, Food and Rural Affairs, "The effect of extreme temperatures on
    the tomato and pepper crop": peppers are chilled by prolonged 0 to 10 C, tomatoes by 0 to 5 C.
[3] Harrington, J. F., "Soil temperature conditions for vegetable seed germination", Oregon State
    University Extension (2013, reviewed 2024): the least temperature at which seed comes up.
[4] National Weather Service Blacksburg, newsletter "Frost/freeze program" (Fall 2007): frost
    advisory at shelter lows of 33 to 36 F with light wind and good radiational cooling; freeze
    warning at 32 F or less. So plants may freeze 1 to 4 F above.
[5] FAO, Frost Protection, vol. 1, Environment and Natural Resources Series 10 (2005): radiation
    frosts are clear and calm, advection frosts windy and well mixed.
[6] Purdue University, Vegetable Crops Hotline, "Understanding high temperature effects on fruit
    set of tomatoes": fruit set best at 60 to 90 F by day; three hours over 104 F on two days
    running fail. A text of unstated origin puts the day at 85 F; it is not followed because it
    would warn on most summer days.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from enum import StrEnum

from msgspec import Struct

from strawbell.agronomy.figures import COLDEST_AIR_C, F_PER_C, HOTTEST_AIR_C, deg_f, within
from strawbell.model.forecast import Hour
from strawbell.model.garden import Crop

TENDER_NIGHTS_FROM_C = deg_f(50)
"""Usual low of the nights from which tender crops are set out [1] [2]; that beans, cucurbits, okra
and basil are as sensitive as peppers is common practice [degC]."""
NIGHTS_FROM_C: Mapping[str, float] = {"tomato": 5.0, "cherry tomato": 5.0}
"""Crops that stand cooler nights than the tender ones do [2] [degC]: at 5 to 10 a tomato stands
still and is not harmed, and a hold for that costs weeks of a spring with cool nights."""
FREEZE_C = deg_f(32)
"""Freeze [4]."""
CLEAR_UNDER_PERCENT = 30.0
"""Cloud under which a night counts as clear (design choice)."""
CALM_UNDER_M_S = 2.24
"""Wind under which a night counts as calm: 5 mph (design choice, within "light wind" [4])."""
CLEAR_CALM_COLDER_C = (round(2 / F_PER_C, 2), round(4 / F_PER_C, 2))
"""How much colder plants are on a clear calm night: 2 to 4 F (design choice from [4])."""
OTHERWISE_COLDER_C = (0.0, round(1 / F_PER_C, 2))
"""How much colder on any other night: 0 to 1 F (design choice)."""
STRONGEST_WIND_M_S = 120.0
"""Over this a figure is no wind."""


class HeatEffect(StrEnum):
    """What a day at a crop's limit of heat or over it does [6], as a phrase after its name."""

    BLOSSOM_DROP = "drops its blossom"
    BOLTING = "bolts and turns bitter"
    QUALITY = "loses quality"


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

    Source: [3] Harrington, J. F., Oregon State University Extension (2013): least, best and
        greatest temperatures of germination.
    """
    within("bed_c", bed_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    return crop.germination_min_c is not None and bed_c < crop.germination_min_c


class NightAir(Struct, frozen=True):
    """A night in three figures: lowest temperature [degC], mean cloud [%], mean wind [m/s]."""

    low_c: float | None
    cloud_percent: float | None
    wind_m_s: float | None


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


def is_clear_and_calm(cloud_percent: float | None, wind_m_s: float | None) -> bool | None:
    """Say whether a night is clear and calm, and so cools plants well under the air's temperature.

    Args:
        cloud_percent: Cloud cover [%], 0 to 100; None is unknown.
        wind_m_s: Wind [m/s], 0 to 120; None is unknown.

    Returns:
        False as soon as one of the two is known to be otherwise; None when neither is and one of
        them is unknown.

    Raises:
        ValueError: When a value lies outside its range.

    Source: [5] FAO, Frost Protection, vol. 1 (2005): clear and calm against windy and mixed.
    """
    if cloud_percent is not None:
        within("cloud_percent", cloud_percent, 0.0, 100.0, "%")
        if cloud_percent >= CLEAR_UNDER_PERCENT:
            return False
    if wind_m_s is not None:
        within("wind_m_s", wind_m_s, 0.0, STRONGEST_WIND_M_S, "m/s")
        if wind_m_s >= CALM_UNDER_M_S:
            return False
    return None if cloud_percent is None or wind_m_s is None else True


def plant_low(
    low_c: float, cloud_percent: float | None, wind_m_s: float | None
) -> tuple[float, float]:
    """Return how cold the plants get when the air's low is forecast.

    Args:
        low_c: Forecast low at thermometer height [degC], -90 to 60.
        cloud_percent, wind_m_s: Cloud cover [%] and wind [m/s] of the night; None is unknown and
            judged as clear and calm.

    Returns:
        The coldest and the mildest expected of them [degC]: 2.22 and 1.11 degC (4 and 2 F) under
        the air on a clear calm night, else 0.56 and 0.

    Raises:
        ValueError: When a value lies outside its range.

    Source: design choice from the 33 to 36 F band of National Weather Service Blacksburg (2007).
    """
    within("low_c", low_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    mixed = is_clear_and_calm(cloud_percent, wind_m_s) is False
    least_c, most_c = OTHERWISE_COLDER_C if mixed else CLEAR_CALM_COLDER_C
    return low_c - most_c, low_c - least_c


def is_harmed(crop: Crop, plant_c: float) -> bool:
    """Return whether a crop should have been covered, or dies, when its plants cool so far.

    Args:
        crop: The crop.
        plant_c: Temperature of its leaves [degC], see `plant_low`.

    Returns:
        Whether that is at or under the temperature to cover at or the one that kills, where known.

    Source: The crop's own figures with their sources.
    """
    return plant_c <= crop.cover_at_c or (crop.kill_at_c is not None and plant_c <= crop.kill_at_c)


def dies_in_a_freeze(crop: Crop) -> bool:
    """Return whether a first light freeze of autumn ends a crop.

    Args:
        crop: The crop; where its killing temperature is unknown, a tender one dies.

    Returns:
        True for a crop killed at 0 degC (32 F) or above.

    Source: The crop's own figures with their sources.
    """
    return crop.tender if crop.kill_at_c is None else crop.kill_at_c >= FREEZE_C
