"""When to begin soaking, counted back from when a crop may be set out.

References:
[1] Colorado State University Extension, CMG GardenNotes 720, Vegetable Planting Guide: hardy
    crops 2 to 4 weeks before the average last frost, half-hardy 0 to 2 weeks before, tender at
    it, very tender 2 weeks or more after.
[2] Design choice: which risk of a later freeze a class of crops may run. A tender crop waits for
    the date after which it freezes in one year of ten; a half-hardy one for one year in five at
    -2 degC, a hardy one for even odds at -2 degC.
[3] Chilling of tropical crops begins at 41 to 50 F: trade press on chilling injury of vegetables;
    peppers and melons go out once nights stay over 50 F (common practice).
[4] Design choice: a fortnight's mean smooths single nights out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from msgspec import Struct

from strawbell.agronomy.air.frost_dates import FreezeRisk, FrostSeason, window_of
from strawbell.agronomy.crops.plant_heat import CHILL_C
from strawbell.agronomy.crops.ripening import days_to_harvest, usual_method
from strawbell.agronomy.ranges import within
from strawbell.model.crops import Crop, FrostClass

AVERAGE_PERCENT = 50.0
LIGHT_FREEZE_C = 0.0
SHARP_FREEZE_C = -2.0
WEEKS_FROM_AVERAGE = {
    FrostClass.HARDY: -2.0,
    FrostClass.HALF_HARDY: 0.0,
    FrostClass.TENDER: 0.0,
    FrostClass.VERY_TENDER: 2.0,
}
"""Weeks from the average last frost, the later end of each range [1]; for crops without own."""
RISK_RUN = {
    FrostClass.HARDY: (SHARP_FREEZE_C, 50.0),
    FrostClass.HALF_HARDY: (SHARP_FREEZE_C, 20.0),
    FrostClass.TENDER: (LIGHT_FREEZE_C, 10.0),
    FrostClass.VERY_TENDER: (LIGHT_FREEZE_C, 10.0),
}
"""Threshold [degC] and risk [%] of a later freeze that a class may run [2]."""
HALF_FORTNIGHT_DAYS = 7
"""Days before and after a day whose nights are averaged with it [4]."""
KNOWN_NIGHTS_SHARE = 0.8
"""Share of these nights that must be known over all years (design choice)."""
LONGEST_CONDITIONING_DAYS = 120
"""No conditioning on record is longer; more is a slip of the pen (common practice)."""


class StartProposal(Struct, frozen=True):
    """The first soaking day for a crop, and what it rests on.

    `average_on` is the date of even odds of a later light freeze, `safe_on` the day after the
    risk the crop's class may run has passed; None for a place where it seldom freezes that hard.
    `warm_nights_on` is the date from which nights are warm enough for a very tender crop; None
    where unknown or of no matter to the crop. `ripe_by` is the latest date of a first harvest,
    `freeze_on` the date of even odds of a first light freeze in autumn; `ripens` whether the one
    comes before the other, None where unknown or of no matter to the crop. `uncertain` says that
    a date rests on a record too short for it.
    """

    crop: str
    soak_on: date
    plant_on: date
    average_on: date | None
    safe_on: date | None
    warm_nights_on: date | None
    ripe_by: date
    freeze_on: date | None
    ripens: bool | None
    uncertain: bool


def propose_start(
    crop: Crop,
    risks: Sequence[FreezeRisk],
    conditioning_days: int,
    year: int,
    *,
    warm_nights_day: int | None = None,
) -> StartProposal:
    """Propose the first soaking day for a crop in a year.

    The crop is planted at the latest of its weeks from the average last light freeze, the day
    after the risk its class may run and, for a very tender crop, the day from which nights are
    warm; where it never freezes the first day of the spring window stands. Conditioning is
    counted back from there.

    Args:
        crop: The crop.
        risks: Spring at 0 and -2 degC with risks of 50, 20 and 10 %; autumn at 0 degC if known.
        conditioning_days: Days from the first soaking to planting, as long as it takes at that time
            of the year [day], 0 to 120.
        year: Calendar year in which the spring window begins.
        warm_nights_day: Day of the spring window from `warm_nights_from`; None leaves nights out of
            it.

    Returns:
        Dates and what they rest on.

    Raises:
        ValueError: When `conditioning_days` or `warm_nights_day` is out of range or a spring risk
            that is needed is missing.

    Source: Colorado State University Extension, GardenNotes 720, and the design choice of the
        module.
    """
    within("conditioning_days", conditioning_days, 0, LONGEST_CONDITIONING_DAYS, "days")
    light = _needed(risks, LIGHT_FREEZE_C)
    threshold_c, risk_percent = RISK_RUN[crop.frost_class]
    run = _needed(risks, threshold_c)
    average_on = light.on(AVERAGE_PERCENT, year)
    risk_on = run.on(risk_percent, year)
    safe_on = None if risk_on is None else risk_on + timedelta(days=1)
    weeks = crop.set_out_weeks
    weeks = WEEKS_FROM_AVERAGE[crop.frost_class] if weeks is None else weeks
    by_average = None if average_on is None else average_on + timedelta(weeks=weeks)
    first_of_spring, last_of_spring = window_of(FrostSeason.SPRING, year, southern=light.southern)
    warm_on = None
    if warm_nights_day is not None and crop.frost_class is FrostClass.VERY_TENDER:
        within(
            "warm_nights_day", warm_nights_day, 1, (last_of_spring - first_of_spring).days + 1, ""
        )
        warm_on = first_of_spring + timedelta(days=warm_nights_day - 1)
    bounds = (first_of_spring, by_average, safe_on, warm_on)
    plant_on = max(each for each in bounds if each is not None)
    ripe_by = plant_on + timedelta(days=days_to_harvest(crop, usual_method(crop))[1])
    freeze_on = _autumn_freeze(risks, plant_on)
    return StartProposal(
        crop=crop.name,
        soak_on=plant_on - timedelta(days=conditioning_days),
        plant_on=plant_on,
        average_on=average_on,
        safe_on=safe_on,
        warm_nights_on=warm_on,
        ripe_by=ripe_by,
        freeze_on=freeze_on,
        ripens=ripe_by < freeze_on if crop.tender and freeze_on is not None else None,
        uncertain=(
            light.risk_day(AVERAGE_PERCENT).beyond_record
            or run.risk_day(risk_percent).beyond_record
        ),
    )


def warm_nights_from(minima: Mapping[date, float | None], *, southern: bool) -> int | None:
    """Return the day of the spring window from which nights are warm enough on average.

    Frost is not the only limit: by a cold sea the last frost comes in March and nights stay under
    10 degC until June. The minima of all years within a week of a day are averaged.

    Args:
        minima: Daily minimum air temperature [degC]; missing dates and None are unknown.
        southern: Whether the place lies south of the equator.

    Returns:
        The first day, 1 for the first of the window, from which the average stays at or over 10
        degC to the end of the window. None when it never does, when no spring is on record from its
        first to its last day, or when fewer than 80 % of the nights around the last days of the
        window are known.

    Source: Chilling of tropical crops under 50 F; the average over a fortnight is a design choice.
    """
    if not minima:
        return None
    windows = [
        window_of(FrostSeason.SPRING, year, southern=southern)
        for year in range(min(minima).year - 1, max(minima).year + 1)
    ]
    firsts = [first for first, last in windows if first in minima and last in minima]
    if not firsts:
        return None
    days = min((last - first).days + 1 for first, last in windows)
    warm_from = None
    for day in range(days, 0, -1):
        mean_c = _mean_night(minima, firsts, day)
        if mean_c is None or mean_c < CHILL_C:
            break
        warm_from = day
    return warm_from


def _mean_night(
    minima: Mapping[date, float | None], firsts: Sequence[date], day: int
) -> float | None:
    """Return the mean minimum around a day of the window over all years, None if unknown."""
    near = range(day - 1 - HALF_FORTNIGHT_DAYS, day + HALF_FORTNIGHT_DAYS)
    nights = [minima.get(first + timedelta(days=each)) for first in firsts for each in near]
    known = [night for night in nights if night is not None]
    if len(known) < KNOWN_NIGHTS_SHARE * len(nights):
        return None
    return math.fsum(known) / len(known)


def _needed(risks: Sequence[FreezeRisk], threshold_c: float) -> FreezeRisk:
    for risk in risks:
        if risk.season is FrostSeason.SPRING and risk.threshold_c == threshold_c:
            return risk
    raise ValueError(f"risks must hold spring at {threshold_c:g} degC")


def _autumn_freeze(risks: Sequence[FreezeRisk], plant_on: date) -> date | None:
    """Return the date of even odds of the first light freeze in the autumn after planting."""
    for risk in risks:
        if risk.season is FrostSeason.AUTUMN and risk.threshold_c == LIGHT_FREEZE_C:
            dates = [risk.on(AVERAGE_PERCENT, plant_on.year + later) for later in (0, 1)]
            return next((each for each in dates if each is not None and each > plant_on), None)
    return None
