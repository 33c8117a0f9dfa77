"""When the last freeze of spring and the first of autumn are likely, and when to begin soaking.

For every year the day of the last (first) minimum at or under a threshold is taken, or that there
was none. With 20 years or more the days of the years with a freeze are taken as normally
distributed (mean mu, deviation sd) beside the share q of years that have one at all [1] [2]:

    P(freeze after day d)  = q * (1 - Phi((d - mu) / sd))      in spring
    P(freeze before day d) = q * Phi((d - mu) / sd)            in autumn

With fewer years the ordered days themselves are used, the i-th of n with risk i/(n + 1) [3]. The
first soaking is counted back from when a crop may be set out [5] [6].

References:
[1] Thom, H. C. S., "The distribution of freeze-date and freeze-free period for climatological
    series with freezeless years", Monthly Weather Review 87 (1959), 136-144 (from memory).
[2] NOAA National Centers for Environmental Information, frost/freeze probabilities of the climate
    normals: a freeze/no-freeze split mixed with a continuous distribution of the dates of freeze
    years; a spring level of 90 % means that in nine years of ten it freezes later than the date.
[3] Weibull plotting position i/(n + 1); common practice in climatology for short records.
[4] Utah Climate Center, help on its freeze table: a season with ten missing days is not valid.
[5] Colorado State University Extension, CMG GardenNotes 720, Vegetable Planting Guide: hardy
    crops 2 to 4 weeks before the average last frost, half-hardy 0 to 2 weeks before, tender at
    it, very tender 2 weeks or more after.
[6] Design choice: which risk of a later freeze a class of crops may run. A tender crop waits for
    the date after which it freezes in one year of ten; a half-hardy one for one year in five at
    -2 degC, a hardy one for even odds at -2 degC.
[7] Chilling of tropical crops begins at 41 to 50 F: trade press on chilling injury of vegetables;
    peppers and melons go out once nights stay over 50 F (common practice).
[8] Design choice: a fortnight's mean smooths single nights out.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from enum import StrEnum
from statistics import NormalDist

from msgspec import Struct

from strawbell.agronomy.cold_and_heat import TENDER_NIGHTS_FROM_C
from strawbell.agronomy.growing import days_to_harvest, usual_method
from strawbell.model.garden import Crop, FrostClass

EVEN_ODDS_PERCENT = 50.0
RISKS_PERCENT = (EVEN_ODDS_PERCENT, 20.0, 10.0)
"""Risks that are told: even odds, one year in five, one in ten."""
LIGHT_FREEZE_C, SHARP_FREEZE_C = 0.0, -2.0
"""A light freeze, and one that hurts hardier plants (28 F is -2.2 degC)."""
NORMAL_FROM_YEARS = 20
"""Fewer years than this are too few to fit a distribution to [3]."""
FEWEST_FREEZE_YEARS = 3
"""A deviation from fewer freezes says nothing (design choice)."""
MISSING_DAYS_REFUSED = 10
"""A season with this many days missing is left out [4]."""
WHOLE_PERCENT = 100.0
WEEKS_FROM_AVERAGE = {
    FrostClass.HARDY: -2.0,
    FrostClass.HALF_HARDY: 0.0,
    FrostClass.TENDER: 0.0,
    FrostClass.VERY_TENDER: 2.0,
}
"""Weeks from the average last frost, the later end of each range [5]; for crops without own."""
RISK_RUN = {
    FrostClass.HARDY: (SHARP_FREEZE_C, 50.0),
    FrostClass.HALF_HARDY: (SHARP_FREEZE_C, 20.0),
    FrostClass.TENDER: (LIGHT_FREEZE_C, 10.0),
    FrostClass.VERY_TENDER: (LIGHT_FREEZE_C, 10.0),
}
"""Threshold [degC] and risk [%] of a later freeze that a class may run [6]."""
HALF_FORTNIGHT_DAYS = 7
"""Days before and after a day whose nights are averaged with it [8]."""
KNOWN_NIGHTS_SHARE = 0.8
"""Share of these nights that must be known over all years (design choice)."""
SOUTHERN_WINTER = range(5, 11)
"""May to October, the cold half of the year south of the equator."""
MONTHS_OF_HALF = 6
HALVES_DIFFER_C = 3.0
"""From this difference of their mean lows on one half is the cold one (design choice: where they
differ by less, as near the equator, the seasons do not tell the side)."""


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


class RiskDay(Struct, frozen=True):
    """The day of the window from which on (spring) or up to which (autumn) a risk remains.

    `day` is 1 for the first of the window, None when the risk is never as high in all of it.
    `beyond_record` says that so few years cannot show so small a risk; then the most extreme day on
    record stands.
    """

    day: int | None
    beyond_record: bool = False


class FreezeRisk(Struct, frozen=True):
    """The days of one season at one threshold [degC] by risk [percent], and how they were reckoned.

    `years` is how many were used. In the north the days of spring are days of the year.
    """

    season: FrostSeason
    southern: bool
    threshold_c: float
    method: RiskMethod
    years: int
    days: Mapping[float, RiskDay]

    def on(self, risk_percent: float, year: int) -> date | None:
        """Return the date of a risk in a year, None where the risk is never as high."""
        day = self.days[risk_percent].day
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
) -> FreezeRisk:
    """Reckon the dates on which the risks of a last or first freeze remain.

    Args:
        minima: Daily minimum air temperature [degC], known to lie in -90 to 60; missing dates and
            None are unknown.
        season: Spring for the last freeze, autumn for the first.
        threshold_c: A day counts when its minimum is at or under this [degC].
        southern: Whether the place lies south of the equator.

    Returns:
        The days of `RISKS_PERCENT`: NORMAL from 20 years on with three freeze years of differing
        days, else EMPIRICAL. A season with ten or more days unknown is left out: a freeze may hide
        among them.

    Raises:
        ValueError: When no season is complete enough.

    Source: Thom, Monthly Weather Review 87 (1959); NOAA climate normals; see the module.
    """
    freezes = _freezes(minima, season, threshold_c, southern=southern)
    if not freezes:
        raise ValueError(
            f"minima must hold a {season} with fewer than {MISSING_DAYS_REFUSED} days missing"
        )
    years = len(freezes)
    days = sorted(day for day in freezes if day is not None)
    differ = len(days) >= FEWEST_FREEZE_YEARS and days[0] != days[-1]
    if years >= NORMAL_FROM_YEARS and differ:
        method, curve = RiskMethod.NORMAL, NormalDist.from_samples(days)
        found = {
            risk: _normal_day(risk, len(days) / years, curve, season) for risk in RISKS_PERCENT
        }
    else:
        method = RiskMethod.EMPIRICAL
        found = {risk: _ordered_day(risk, days, years, season) for risk in RISKS_PERCENT}
    return FreezeRisk(season, southern, threshold_c, method, years, found)


def freeze_table(minima: Mapping[date, float | None], latitude: float) -> tuple[FreezeRisk, ...]:
    """Reckon both seasons at a light and a sharp freeze for a place.

    Args:
        minima: As for `freeze_risk` [degC].
        latitude: Degrees north; under 0 the seasons of the south hold.

    Returns:
        Spring at 0 and -2 degC, then autumn.

    Raises:
        ValueError: As `freeze_risk`.
    """
    return tuple(
        freeze_risk(minima, season, threshold_c, southern=latitude < 0.0)
        for season in FrostSeason
        for threshold_c in (LIGHT_FREEZE_C, SHARP_FREEZE_C)
    )


def _freezes(
    minima: Mapping[date, float | None], season: FrostSeason, threshold_c: float, *, southern: bool
) -> list[int | None]:
    """Return the day of each complete season's freeze, None for one without."""
    freezes: list[int | None] = []
    for first, last in _windows_on_record(minima, season, southern=southern):
        lows = [minima.get(first + timedelta(days=each)) for each in range((last - first).days + 1)]
        if sum(low is None for low in lows) >= MISSING_DAYS_REFUSED:
            continue
        cold = [
            day for day, low in enumerate(lows, start=1) if low is not None and low <= threshold_c
        ]
        latest = season is FrostSeason.SPRING
        freezes.append(None if not cold else cold[-1] if latest else cold[0])
    return freezes


def _windows_on_record(
    minima: Mapping[date, float | None], season: FrostSeason, *, southern: bool
) -> list[tuple[date, date]]:
    """Return the windows that a record may reach into."""
    if not minima:
        return []
    years = range(min(minima).year - 1, max(minima).year + 1)
    return [window_of(season, year, southern=southern) for year in years]


def _normal_day(
    risk_percent: float, share: float, curve: NormalDist, season: FrostSeason
) -> RiskDay:
    risk = risk_percent / WHOLE_PERCENT
    if risk >= share:
        return RiskDay(None)
    below = 1.0 - risk / share if season is FrostSeason.SPRING else risk / share
    return RiskDay(round(curve.inv_cdf(below)))


def _ordered_day(
    risk_percent: float, days: Sequence[int], years: int, season: FrostSeason
) -> RiskDay:
    """Read a risk off the ordered days; years without a freeze are the mildest of all."""
    harshest_first = sorted(days, reverse=season is FrostSeason.SPRING)
    rank = risk_percent / WHOLE_PERCENT * (years + 1)
    if rank > len(harshest_first):
        return RiskDay(None)
    if rank < 1.0:
        return RiskDay(harshest_first[0], beyond_record=True)
    whole = math.floor(rank)
    day = float(harshest_first[whole - 1])
    if whole < len(harshest_first):
        day += (rank - whole) * (harshest_first[whole] - day)
    # Part days are rounded to the careful side: later in spring, earlier in autumn.
    return RiskDay(math.ceil(day) if season is FrostSeason.SPRING else math.floor(day))


class StartProposal(Struct, frozen=True):
    """The first soaking day for a crop.

    `ripe_by` is the latest date of a first harvest; `ripens` whether it comes before even odds of a
    first light freeze in autumn, None where there is none or it is of no matter to the crop.
    `uncertain` says that a date rests on a record too short for it.
    """

    crop: str
    soak_on: date
    plant_on: date
    ripe_by: date
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
        risks: Both seasons at all thresholds, from `freeze_table`.
        conditioning_days: Days from the first soaking to planting, as long as it takes at that time
            of the year [day].
        year: Calendar year in which the spring window begins.
        warm_nights_day: Day of the spring window from `warm_nights_from`; None leaves nights out of
            it.

    Returns:
        Dates and what they rest on.

    Source: Colorado State University Extension, GardenNotes 720, and the design choice of the
        module.
    """
    threshold_c, risk_percent = RISK_RUN[crop.frost_class]
    light = _risk(risks, FrostSeason.SPRING, LIGHT_FREEZE_C)
    run = _risk(risks, FrostSeason.SPRING, threshold_c)
    first_of_spring = window_of(FrostSeason.SPRING, year, southern=light.southern)[0]
    dates = [first_of_spring]
    if (average_on := light.on(EVEN_ODDS_PERCENT, year)) is not None:
        weeks = crop.set_out_weeks
        dates.append(
            average_on
            + timedelta(weeks=WEEKS_FROM_AVERAGE[crop.frost_class] if weeks is None else weeks)
        )
    if (risk_on := run.on(risk_percent, year)) is not None:
        dates.append(risk_on + timedelta(days=1))
    if warm_nights_day is not None and crop.frost_class is FrostClass.VERY_TENDER:
        dates.append(first_of_spring + timedelta(days=warm_nights_day - 1))
    plant_on = max(dates)
    ripe_by = plant_on + timedelta(days=days_to_harvest(crop, usual_method(crop))[1])
    autumn = _risk(risks, FrostSeason.AUTUMN, LIGHT_FREEZE_C)
    freezes = (autumn.on(EVEN_ODDS_PERCENT, plant_on.year + later) for later in (0, 1))
    freeze_on = next((each for each in freezes if each is not None and each > plant_on), None)
    return StartProposal(
        crop=crop.name,
        soak_on=plant_on - timedelta(days=conditioning_days),
        plant_on=plant_on,
        ripe_by=ripe_by,
        ripens=ripe_by < freeze_on if crop.tender and freeze_on is not None else None,
        uncertain=(
            light.days[EVEN_ODDS_PERCENT].beyond_record or run.days[risk_percent].beyond_record
        ),
    )


def _risk(risks: Sequence[FreezeRisk], season: FrostSeason, threshold_c: float) -> FreezeRisk:
    return next(each for each in risks if each.season is season and each.threshold_c == threshold_c)


def warm_nights_from(minima: Mapping[date, float | None], *, southern: bool) -> int | None:
    """Return the day of the spring window from which nights are warm enough on average.

    Frost is not the only limit: by a cold sea the last frost comes in March and nights stay under
    10 degC until June [7]. The minima of all years within a week of a day are averaged.

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
    windows = _windows_on_record(minima, FrostSeason.SPRING, southern=southern)
    firsts = [first for first, last in windows if first in minima and last in minima]
    if not firsts:
        return None
    days = min((last - first).days + 1 for first, last in windows)
    warm_from = None
    for day in range(days, 0, -1):
        mean_c = _mean_night(minima, firsts, day)
        if mean_c is None or mean_c < TENDER_NIGHTS_FROM_C:
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


def southern_winter(minima: Mapping[date, float | None]) -> bool | None:
    """Return whether May to October is the cold half of the year, as south of the equator.

    Every month counts the same, however many of its nights are known.

    Args:
        minima: Daily minimum air temperature [degC]; missing dates and None are unknown.

    Returns:
        True when the mean of May to October lies 3 degC or more under that of November to April,
        False when it lies as much over it. None when they are nearer, or when no night of one of
        the twelve months is known.

    Source: Astronomical seasons are half a year apart across the equator; the difference that is
        asked for is a design choice.
    """
    nights: dict[int, list[float]] = defaultdict(list)
    for on, low_c in minima.items():
        if low_c is not None:
            nights[on.month].append(low_c)
    means = {month: math.fsum(lows) / len(lows) for month, lows in nights.items()}
    if len(means) < 2 * MONTHS_OF_HALF:
        return None
    inside = math.fsum(mean for month, mean in means.items() if month in SOUTHERN_WINTER)
    outside = math.fsum(mean for month, mean in means.items() if month not in SOUTHERN_WINTER)
    warmer_c = (outside - inside) / MONTHS_OF_HALF
    return warmer_c > 0.0 if abs(warmer_c) >= HALVES_DIFFER_C else None
