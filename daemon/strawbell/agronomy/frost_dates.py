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

When the last freeze of spring and the first of autumn are likely, from daily minima of a place.

For every year the day of the last (first) minimum at or under a threshold is taken, or that there
was none. With 20 years or more the days of the years with a freeze are taken as normally
distributed (mean mu, deviation sd) beside the share q of years that have one at all [1] [2]:

    P(freeze after day d)  = q * (1 - Phi((d - mu) / sd))      in spring
    P(freeze before day d) = q * Phi((d - mu) / sd)            in autumn

With fewer years the ordered days themselves are used, the i-th of n with risk i/(n + 1) [3].

References:
[1] Thom, H. C. S., "The distribution of freeze-date and freeze-free period for climatological
    series with freezeless years", Monthly Weather Review 87 (1959), 136-144 (from memory).
[2] NOAA National Centers for Environmental Information, frost/freeze probabilities of the climate
    normals: a freeze/no-freeze split mixed with a continuous distribution of the dates of freeze
    years; a spring level of 90 % means that in nine years of ten it freezes later than the date.
[3] Weibull plotting position i/(n + 1); common practice in climatology for short records.
[4] Utah Climate Center, help on its freeze table: a season with ten missing days is not valid.

On which side of the equator a record of daily lows was taken, by its cold half of the year.

References:
[1] Design choice: where the halves differ by less than 3 degC, as near the equator, the seasons
    do not tell the side.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from enum import StrEnum
from statistics import NormalDist

from msgspec import Struct

from strawbell.agronomy.cold_and_heat import CHILL_C
from strawbell.agronomy.figures import COLDEST_AIR_C, HOTTEST_AIR_C, within
from strawbell.agronomy.growing import days_to_harvest, usual_method
from strawbell.model.garden import Crop, FrostClass

RISKS_PERCENT = (50.0, 20.0, 10.0)
"""Risks that are told: even odds, one year in five, one in ten."""
THRESHOLDS_C = (0.0, -2.0)
"""A light freeze, and one that hurts hardier plants (28 F is -2.2 degC)."""
NORMAL_FROM_YEARS = 20
"""Fewer years than this are too few to fit a distribution to [3]."""
FEWEST_FREEZE_YEARS = 3
"""A deviation from fewer freezes says nothing (design choice)."""
MISSING_DAYS_REFUSED = 10
"""A season with this many days missing is left out [4]."""
CERTAIN_PERCENT = 100.0


class FrostSeason(StrEnum):
    """Which freeze is looked for."""

    SPRING = "spring"
    """The last one, between midwinter and midsummer."""
    AUTUMN = "autumn"
    """The first one, between midsummer and midwinter."""


class RiskMethod(StrEnum):
    """How the dates were reckoned."""

    NORMAL = "normal"
    EMPIRICAL = "empirical"


# (month, day) of the first and of the last day of a window; the end may lie in the next year.
_WINDOWS = {
    (FrostSeason.SPRING, False): ((1, 1), (7, 31)),
    (FrostSeason.AUTUMN, False): ((8, 1), (12, 31)),
    (FrostSeason.SPRING, True): ((7, 1), (1, 31)),
    (FrostSeason.AUTUMN, True): ((2, 1), (6, 30)),
}


class FreezeYear(Struct, frozen=True):
    """One year's last or first freeze: its day of the window, 1 for the first; None for none."""

    year: int
    day: int | None


class RiskDay(Struct, frozen=True):
    """The day of the window from which on (spring) or up to which (autumn) a risk remains.

    `day` is None when the risk is never as high in the whole window. `beyond_record` says that so
    few years cannot show so small a risk; then the most extreme day on record stands.
    """

    risk_percent: float
    day: int | None
    beyond_record: bool = False


class FreezeRisk(Struct, frozen=True):
    """The dates of one season at one threshold [degC], with how they were reckoned.

    `years` were used, `excluded` ones had too many days missing. `mean_day` and `sd_days` are of
    the years with a freeze [day of the window, day]. In the north the days of spring are days of
    the year.
    """

    season: FrostSeason
    southern: bool
    threshold_c: float
    method: RiskMethod
    freezes: tuple[FreezeYear, ...]
    excluded: tuple[int, ...]
    mean_day: float | None
    sd_days: float | None
    days: tuple[RiskDay, ...]

    @property
    def years(self) -> int:
        """How many years were used."""
        return len(self.freezes)

    def risk_day(self, risk_percent: float) -> RiskDay:
        """Return the reckoned day of a risk [percent]; KeyError when it was not asked for."""
        for each in self.days:
            if each.risk_percent == risk_percent:
                return each
        raise KeyError(risk_percent)

    def on(self, risk_percent: float, year: int) -> date | None:
        """Return the date of a risk in a year, None where the risk is never as high."""
        day = self.risk_day(risk_percent).day
        if day is None:
            return None
        return window_of(self.season, year, southern=self.southern)[0] + timedelta(days=day - 1)


def window_of(season: FrostSeason, year: int, *, southern: bool) -> tuple[date, date]:
    """Return the first and last date in which a season's freeze is looked for.

    Args:
        season: Spring or autumn.
        year: Calendar year in which the window begins, 1 to 9998.
        southern: Whether the place lies south of the equator.

    Returns:
        Both included. North: 1 January to 31 July and 1 August to 31 December; south: 1 July to 31
        January and 1 February to 30 June.

    Raises:
        ValueError: When `year` is out of range.

    Source: Utah Climate Center divides the seasons on 24 July, in the south on 24 January; whole
        months are taken here (design choice).
    """
    (first_month, first_day), (last_month, last_day) = _WINDOWS[season, southern]
    first = date(year, first_month, first_day)
    return first, date(year + (last_month < first_month), last_month, last_day)


def freeze_risk(
    minima: Mapping[date, float | None],
    season: FrostSeason,
    threshold_c: float,
    *,
    southern: bool,
    method: RiskMethod | None = None,
    risks_percent: Sequence[float] = RISKS_PERCENT,
) -> FreezeRisk:
    """Reckon the dates on which given risks of a last or first freeze remain.

    Args:
        minima: Daily minimum air temperature [degC], -90 to 60; missing dates and None are unknown.
        season: Spring for the last freeze, autumn for the first.
        threshold_c: A day counts when its minimum is at or under this [degC].
        southern: Whether the place lies south of the equator.
        method: None takes NORMAL from 20 years on, EMPIRICAL under that. NORMAL can only be had
            with three freeze years of differing days; else it falls back to EMPIRICAL and says so.
        risks_percent: Risks to find dates for [%], each over 0 and under 100.

    Returns:
        Dates, method, years used and left out. A season with ten or more days unknown is left out:
        a freeze may hide among them.

    Raises:
        ValueError: When no season is complete enough, or a value lies outside its range.

    Source: Thom, Monthly Weather Review 87 (1959); NOAA climate normals; see the module.
    """
    within("threshold_c", threshold_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC")
    for risk in risks_percent:
        if not 0.0 < risk < CERTAIN_PERCENT:
            raise ValueError(f"risks_percent must lie over 0 and under 100, got {risk}")
    freezes, excluded = _freezes(minima, season, threshold_c, southern=southern)
    if not freezes:
        raise ValueError(
            f"minima must hold a {season} with fewer than {MISSING_DAYS_REFUSED} days missing"
        )
    days = sorted(each.day for each in freezes if each.day is not None)
    mean_day = math.fsum(days) / len(days) if days else None
    sd_days = _deviation(days)
    chosen = method or (
        RiskMethod.NORMAL if len(freezes) >= NORMAL_FROM_YEARS else RiskMethod.EMPIRICAL
    )
    if chosen is RiskMethod.NORMAL and mean_day is not None and sd_days is not None:
        curve = NormalDist(mean_day, sd_days)
        share = len(days) / len(freezes)
        found = [_normal_day(risk, share, curve, season) for risk in risks_percent]
    else:
        chosen = RiskMethod.EMPIRICAL
        found = [_ordered_day(risk, days, len(freezes), season) for risk in risks_percent]
    return FreezeRisk(
        season, southern, threshold_c, chosen, freezes, excluded, mean_day, sd_days, tuple(found)
    )


def freeze_table(minima: Mapping[date, float | None], latitude: float) -> tuple[FreezeRisk, ...]:
    """Reckon both seasons at all thresholds for a place.

    Args:
        minima: Daily minimum air temperature [degC].
        latitude: Degrees north, -90 to 90; under 0 the seasons of the south hold.

    Returns:
        Spring at every threshold, then autumn.

    Raises:
        ValueError: As `freeze_risk`, or when the latitude lies outside -90 to 90.
    """
    within("latitude", latitude, -90.0, 90.0, "degrees")
    return tuple(
        freeze_risk(minima, season, threshold_c, southern=latitude < 0.0)
        for season in FrostSeason
        for threshold_c in THRESHOLDS_C
    )


def _freezes(
    minima: Mapping[date, float | None], season: FrostSeason, threshold_c: float, *, southern: bool
) -> tuple[tuple[FreezeYear, ...], tuple[int, ...]]:
    """Return each complete year's freeze, and the years left out."""
    if not minima:
        return (), ()
    freezes, excluded = [], []
    for year in range(min(minima).year - 1, max(minima).year + 1):
        first, last = window_of(season, year, southern=southern)
        dates = [first + timedelta(days=each) for each in range((last - first).days + 1)]
        lows = [minima.get(on) for on in dates]
        missing = sum(low is None for low in lows)
        if missing == len(lows):
            continue
        if missing >= MISSING_DAYS_REFUSED:
            excluded.append(year)
            continue
        cold = [
            number
            for number, low in enumerate(lows, start=1)
            if low is not None
            and within("minima", low, COLDEST_AIR_C, HOTTEST_AIR_C, "degC") <= threshold_c
        ]
        day = None if not cold else cold[-1] if season is FrostSeason.SPRING else cold[0]
        freezes.append(FreezeYear(year, day))
    return tuple(freezes), tuple(excluded)


def _deviation(days: Sequence[int]) -> float | None:
    """Return the sample deviation, None where it is too uncertain or nought."""
    if len(days) < FEWEST_FREEZE_YEARS or days[0] == days[-1]:
        return None
    mean = math.fsum(days) / len(days)
    return math.sqrt(math.fsum((day - mean) ** 2 for day in days) / (len(days) - 1))


def _normal_day(
    risk_percent: float, share: float, curve: NormalDist, season: FrostSeason
) -> RiskDay:
    risk = risk_percent / CERTAIN_PERCENT
    if risk >= share:
        return RiskDay(risk_percent, None)
    below = 1.0 - risk / share if season is FrostSeason.SPRING else risk / share
    return RiskDay(risk_percent, round(curve.inv_cdf(below)))


def _ordered_day(
    risk_percent: float, days: Sequence[int], years: int, season: FrostSeason
) -> RiskDay:
    """Read a risk off the ordered days; years without a freeze are the mildest of all."""
    harshest_first = sorted(days, reverse=season is FrostSeason.SPRING)
    rank = risk_percent / CERTAIN_PERCENT * (years + 1)
    if rank > len(harshest_first) or not harshest_first:
        return RiskDay(risk_percent, None)
    if rank < 1.0:
        return RiskDay(risk_percent, harshest_first[0], beyond_record=True)
    whole = math.floor(rank)
    day = float(harshest_first[whole - 1])
    if whole < len(harshest_first):
        day += (rank - whole) * (harshest_first[whole] - day)
    # Part days are rounded to the careful side: later in spring, earlier in autumn.
    return RiskDay(
        risk_percent, math.ceil(day) if season is FrostSeason.SPRING else math.floor(day)
    )


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


SOUTHERN_WINTER = range(5, 11)
"""May to October, the cold half of the year south of the equator."""
MONTHS_OF_HALF = 6
HALVES_DIFFER_C = 3.0
"""From this difference of their mean lows on one half is the cold one [1]."""


def southern_winter(minima: Mapping[date, float | None]) -> bool | None:
    """Return whether May to October is the cold half of the year, as south of the equator.

    Every month counts the same, however many of its nights are known.

    Args:
        minima: Daily minimum air temperature [degC], -90 to 60; missing dates and None are unknown.

    Returns:
        True when the mean of May to October lies 3 degC or more under that of November to April,
        False when it lies as much over it. None when they are nearer, or when no night of one of
        the twelve months is known.

    Raises:
        ValueError: When a minimum lies outside -90 to 60 degC.

    Source: Astronomical seasons are half a year apart across the equator; the difference that is
        asked for is a design choice.
    """
    nights: dict[int, list[float]] = defaultdict(list)
    for on, low_c in minima.items():
        if low_c is not None:
            nights[on.month].append(within("minima", low_c, COLDEST_AIR_C, HOTTEST_AIR_C, "degC"))
    means = {month: math.fsum(lows) / len(lows) for month, lows in nights.items()}
    if len(means) < 2 * MONTHS_OF_HALF:
        return None
    inside = math.fsum(mean for month, mean in means.items() if month in SOUTHERN_WINTER)
    outside = math.fsum(mean for month, mean in means.items() if month not in SOUTHERN_WINTER)
    warmer_c = (outside - inside) / MONTHS_OF_HALF
    return warmer_c > 0.0 if abs(warmer_c) >= HALVES_DIFFER_C else None
