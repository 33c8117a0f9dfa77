"""When the last freeze of spring and the first of autumn are likely, from daily minima of a place.

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
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from enum import StrEnum
from statistics import NormalDist

from msgspec import Struct

from strawbell.agronomy.ranges import COLDEST_AIR_C, HOTTEST_AIR_C, within

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
