"""When to begin soaking, counted back from when a crop may be set out.

References
----------
[1] Colorado State University Extension, CMG GardenNotes 720, Vegetable Planting Guide: hardy
    crops 2 to 4 weeks before the average last frost, half-hardy 0 to 2 weeks before, tender at
    it, very tender 2 weeks or more after.
[2] Design choice: which risk of a later freeze a class of crops may run. A tender crop waits for
    the date after which it freezes in one year of ten; a half-hardy one for one year in five at
    -2 degC, a hardy one for even odds at -2 degC.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from strawbell.agronomy.frost_dates import FreezeRisk, Season, window_of
from strawbell.agronomy.harvest import days_to_harvest
from strawbell.agronomy.ranges import within
from strawbell.model.crops import Crop, FrostClass
from strawbell.model.garden import Method

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
LONGEST_CONDITIONING_DAYS = 120
"""No conditioning on record is longer; more is a slip of the pen (common practice)."""


@dataclass(frozen=True, slots=True)
class StartProposal:
    """The first soaking day for a crop, and what it rests on.

    `average_on` is the date of even odds of a later light freeze, `safe_on` the day after the
    risk the crop's class may run has passed; None for a place where it seldom freezes that hard.
    `ripe_by` is the latest date of a first harvest, `freeze_on` the date of even odds of a first
    light freeze in autumn; `ripens` whether the one comes before the other, None where unknown or
    of no matter to the crop. `uncertain` says that a date rests on a record too short for it.
    """

    crop: str
    soak_on: date
    plant_on: date
    average_on: date | None
    safe_on: date | None
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
    method: Method = Method.TRANSPLANT,
) -> StartProposal:
    """Propose the first soaking day for a crop in a year.

    The crop is planted at the later of its weeks from the average last light freeze and the day
    after the risk its class may run; where it never freezes the first day of the spring window
    stands. Conditioning is counted back from there.

    Parameters
    ----------
    crop : Crop
        The crop.
    risks : sequence of FreezeRisk
        Spring at 0 and -2 degC with risks of 50, 20 and 10 %; autumn at 0 degC if known.
    conditioning_days : int
        Days from the first soaking to planting, as long as it takes at that time of the year
        [day], 0 to 120.
    year : int
        Calendar year in which the spring window begins.
    method : Method
        How the crop will be planted.

    Returns
    -------
    StartProposal
        Dates and what they rest on.

    Raises
    ------
    ValueError
        When `conditioning_days` is out of range or a spring risk that is needed is missing.

    References
    ----------
    .. [1] Colorado State University Extension, GardenNotes 720, and the design choice of the
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
    first_of_spring = window_of(Season.SPRING, year, southern=light.southern)[0]
    plant_on = max(each for each in (first_of_spring, by_average, safe_on) if each is not None)
    ripe_by = plant_on + timedelta(days=days_to_harvest(crop, method)[1])
    freeze_on = _autumn_freeze(risks, plant_on)
    return StartProposal(
        crop=crop.name,
        soak_on=plant_on - timedelta(days=conditioning_days),
        plant_on=plant_on,
        average_on=average_on,
        safe_on=safe_on,
        ripe_by=ripe_by,
        freeze_on=freeze_on,
        ripens=ripe_by < freeze_on if crop.tender and freeze_on is not None else None,
        uncertain=(
            light.risk_day(AVERAGE_PERCENT).beyond_record
            or run.risk_day(risk_percent).beyond_record
        ),
    )


def _needed(risks: Sequence[FreezeRisk], threshold_c: float) -> FreezeRisk:
    for risk in risks:
        if risk.season is Season.SPRING and risk.threshold_c == threshold_c:
            return risk
    raise ValueError(f"risks must hold spring at {threshold_c:g} degC")


def _autumn_freeze(risks: Sequence[FreezeRisk], plant_on: date) -> date | None:
    """Return the date of even odds of the first light freeze in the autumn after planting."""
    for risk in risks:
        if risk.season is Season.AUTUMN and risk.threshold_c == LIGHT_FREEZE_C:
            dates = [risk.on(AVERAGE_PERCENT, plant_on.year + later) for later in (0, 1)]
            return next((each for each in dates if each is not None and each > plant_on), None)
    return None
