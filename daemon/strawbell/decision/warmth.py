"""Whether it is warm enough for what is about to go in: nights for plants, the bed for seed.

Both are judged by the mean of the coming days, since one cold night or day does little harm; what
is unknown is left out, and too little that is known holds nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from strawbell.agronomy.crops.chilling import nights_from_c, too_cold_for_seed
from strawbell.decision.daily_weather import DailyWeather
from strawbell.model.brief import Reason, ReasonCode
from strawbell.model.crops import Crop
from strawbell.season.harvesting import BED_WARMER_C, mean_air_c
from strawbell.weather.findings import CLEAR, Finding, Standing

DAYS_TO_COME = 7
"""Coming nights and days whose mean is judged (design choice: a young plant is over the shock of
being moved after about a week)."""
FEWEST_KNOWN = 3
"""Fewer known ones than this say nothing (design choice)."""
KEEP_HOLD_C = 0.5
"""How much warmer it must be before a hold that was told is taken back the same day [degC]."""


def chilly_nights(daily: DailyWeather, crop: Crop, on: date, *, told_hold: bool = False) -> Finding:
    """Judge whether the nights from a date on are still too cold to set a crop out."""
    limit_c = nights_from_c(crop)
    if limit_c is None or daily.trusted is None:
        return CLEAR
    lows = (daily.night(on + timedelta(days=ahead)).air.low_c for ahead in range(DAYS_TO_COME))
    usual_c = _mean([low_c for low_c in lows if low_c is not None])
    if usual_c is None or usual_c >= limit_c + (KEEP_HOLD_C if told_hold else 0.0):
        return CLEAR
    why = Reason(ReasonCode.CHILLY_NIGHTS, round(usual_c, 1), round(limit_c, 1), "degC")
    return Finding(Standing.REACHED, (why,))


def cold_bed(daily: DailyWeather, crop: Crop, on: date, *, told_hold: bool = False) -> Finding:
    """Judge whether the bed is surely too cold for seed on the days after a date.

    A conditioned bale is warmer than the air; the most it may be is reckoned with.
    """
    if crop.germination_min_c is None or daily.trusted is None:
        return CLEAR
    days = (daily.on(on + timedelta(days=ahead)).weather for ahead in range(1, DAYS_TO_COME + 1))
    air_c = _mean([mean_c for day in days if (mean_c := mean_air_c(day)) is not None])
    if air_c is None:
        return CLEAR
    bed_c = air_c + BED_WARMER_C[1]
    if not too_cold_for_seed(crop, bed_c - (KEEP_HOLD_C if told_hold else 0.0)):
        return CLEAR
    limit_c = round(crop.germination_min_c, 1)
    return Finding(
        Standing.REACHED, (Reason(ReasonCode.COLD_BED, round(bed_c, 1), limit_c, "degC"),)
    )


def _mean(known: Sequence[float]) -> float | None:
    return sum(known) / len(known) if len(known) >= FEWEST_KNOWN else None
