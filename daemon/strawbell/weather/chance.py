"""The chance that something happens over a window of time, true in the long run.

An amount over a day is asked of each member of an ensemble over the whole window, and only then
averaged: the highest hourly chance says less, and is a chance of any rain at all. Members are
neither counted bare nor believed when all agree, since ensembles are too sure of themselves near
the ground: each is dressed with the error that a forecast of its kind turned out to have. A
single forecast is dressed in the same way, as an ensemble of one. Unknown stays unknown.

References:
[1] Reforecasts of the second GEFS reforecast, 11 members, 18 to 30 h ahead, with the rain of 12 h
    observed at Innsbruck Airport, 2000 to 2010 (1,881 cases; data set of the R package
    `ensemblepp` 1.0-0). Fitted here by likelihood over amounts from 0.3 to 25.4 mm. With each year
    left out in turn the Brier score for 12.7 mm in 12 h is 0.0428; that of the bare count is
    0.0618, of the base rate 0.0490. When all 11 members reached 12.7 mm it came true in 36 of 70
    cases (2000 to 2016). A valley of the Alps and an older model: of its single members' words of
    12.7 mm one in three came true (threat score 0.23 to 0.24 at a base rate of 0.05), which of two
    normal variables is a correlation of 0.70.
[2] D. S. Wilks, "Extending logistic regression to provide full-probability-distribution MOS
    forecasts", Meteorological Applications 16:361-368 (2009): one line for all amounts.
[3] United States Weather Prediction Center, threat scores of 0.5 in a day: 0.39 on the first and
    0.30 on the second day (NWS Southern Region, SR/SSD 97-8), over areas; at a gauge 0.30 to 0.42
    at base rates of 4 to 8 %, which is a correlation of 0.77 to 0.86 on the first day; 0.20 to 0.33
    on the third and 0.12 to 0.22 on the sixth go with a loss of 0.04 a day.
[4] UK Met Office, verification of forecasts: the first night's lowest temperature is within 2 degC
    in 86.5 % of cases, which of a normal error is a standard error of 1.34 degC.
[5] Lowest temperatures of three ensembles against their own later analyses, one summer month of
    central Europe: 0.5 degC half a day ahead, 1 to 1.3 after three days, near 3 after nine. With
    the error of a place beside it (square root of the sum of squares) the table below.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from typing import Literal

from msgspec import Struct

from strawbell.model.forecast import Ensemble, Forecast, Member, PastError, Readings
from strawbell.weather.windows import (
    HOUR,
    Figure,
    highest_temperature,
    hours_between,
    lowest_temperature,
    rain_total,
)

DAY_H = 24.0
LEAST_SHARE_OF_MEMBERS = 0.5
"""Members by weight that must know a window before it is asked of them (design choice)."""


class RainError(Struct, frozen=True):
    """A line of [2]: log odds of at least x mm are `dry + wetter * sqrt(f) - rarer * sqrt(x)`."""

    dry: float
    wetter: float
    rarer: float

    def chance(self, said_mm: float, amount_mm: float, skill: float) -> float:
        """Return the chance of an amount after a forecast of so much, for forecasts of a skill.

        As with two normal variables, one that is known better is nearer to what was said, and the
        line is the steeper; with the skill of the fit it is the line itself.
        """
        known = skill / SKILL_OF_THE_FIT
        steeper = math.sqrt((1.0 - SKILL_OF_THE_FIT**2) / (1.0 - skill**2))
        root = known * math.sqrt(said_mm) + (1.0 - known) * USUAL_ROOT_MM
        log_odds = steeper * (self.dry + self.wetter * root - self.rarer * math.sqrt(amount_mm))
        return 1.0 / (1.0 + math.exp(-log_odds))


OF_A_MEMBER = RainError(-0.04, 1.11, 1.50)
"""Of one member of an ensemble, to be averaged over all [1]."""
OF_A_SINGLE = RainError(0.01, 1.03, 1.45)
"""Of a forecast that stands alone [1]."""
USUAL_ROOT_MM = 1.47
"""Mean root of the amounts that the lines were fitted on [1] [root of mm]."""
TOO_WET_IN_THE_FIT = 1.17
"""How much wetter forecasts were than the gauge in the mean of the fit [1]; those of today are
taken as right in the mean."""
SKILL_OF_THE_FIT = 0.70
"""Correlation of forecast and amount where the lines were fitted [1]."""
SKILL_FIRST_DAY, SKILL_LOST_PER_DAY = 0.77, 0.04
"""Correlation for the amount of a day, a day ahead with the forecasts of today, and what each day
more costs: the least that goes with the scores at gauges [3], as the fit itself came to no more
than 0.60 to 0.68 [1]."""
LEAST_SKILL = 0.2
"""No lead makes it less (design choice: what is known of rain ten days ahead)."""
MOST_IS_PASSED = 0.1
"""Chance that more falls than a service calls the most likely (design choice: a service that gives
10 and 90 % for temperatures gives no figure for this one)."""

LOW_ERROR_C: tuple[tuple[float, float], ...] = (
    (0.0, 1.34),
    (1.0, 1.4),
    (2.0, 1.6),
    (3.0, 1.8),
    (5.0, 2.2),
    (7.0, 2.8),
    (9.0, 3.3),
)
"""Standard error of a single forecast's lowest or highest temperature by days ahead [4] [5] [degC].

Between the rows a straight line; beyond the last its value."""
PLACE_ERROR_C = 1.25
"""What no member knows of a place: 1.34 without the 0.5 degC of the first half day [4] [5]."""

USUAL_COUNTS_DAYS = 45.0
"""As how many days of the place's own errors the usual ones count (design choice: a quarter of the
say after four months, since errors of one season are not those of the next)."""


class Chance(Struct, frozen=True):
    """A chance, and whether all that it rests on is known.

    `value` lies between 0 and 1. Where something is unknown it is that of the known part, which can
    only grow; None when nothing is known. `members` is how many were asked, 0 for one forecast.
    """

    value: float | None
    complete: bool
    members: int = 0


UNKNOWN = Chance(None, complete=False)


class Colder(Struct, frozen=True):
    """By how much plants or a place are colder than the forecast's thermometer: mean and spread."""

    mean_c: float = 0.0
    spread_c: float = 0.0


AS_FORECAST = Colder()


class Site(Struct, frozen=True):
    """How a garden differs from what is forecast for it: in a frost hollow by the kind of night."""

    any_night: Colder = AS_FORECAST
    clear_night: Colder = AS_FORECAST
    other_night: Colder = AS_FORECAST
    wetter: float = 1.0
    """Rain in the garden's gauge as a share of what the service says."""

    @property
    def is_even(self) -> bool:
        """Whether all nights differ alike."""
        return self.clear_night == self.other_night

    def on(self, *, clear: bool | None) -> Colder:
        """Return how much colder a night is; one of unknown kind counts as any."""
        if clear is None:
            return self.any_night
        return self.clear_night if clear else self.other_night


USUAL_SITE = Site()
RAIN_AS_SAID_MM = 50.0
"""Rain that every gauge counts as having caught as said, so that a few days prove little (design
choice: a wet month)."""
WETTER_MOST = 2.0
"""A gauge that differs by more stands wrongly or is read wrongly (design choice)."""
READING_ERROR_C = 1.8
"""Error of one night's low against what the service says of it [4] [5] [degC]."""
PLACE_DIFFERS_C = 1.5
"""How much the lows of gardens differ from what is forecast for them, lastingly (from memory: a
degree or so, and two to four in a hollow) [degC]."""


def rain_chance(
    forecast: Forecast, start: datetime, end: datetime, amount_mm: float, wetter: float = 1.0
) -> Chance:
    """Return the chance of at least an amount of rain over [start, end).

    Args:
        forecast: Hourly rain [mm], and members where it has them.
        start, end: The window, aware; the constants were fitted on 12 h and are used up to a day or
            two.
        amount_mm: The amount [mm], over 0.
        wetter: What the garden gets of the rain that is said, as a share.

    Returns:
        Between 0 and 1, never either of them.
    """
    skill = rain_skill(_lead_days(forecast, start, end), forecast.past)
    sums = _of_members(forecast, partial(_rain_of, start=start, end=end))
    if sums:
        return _dressed(
            sums, lambda mm: OF_A_MEMBER.chance(mm * wetter * TOO_WET_IN_THE_FIT, amount_mm, skill)
        )
    total = rain_total(forecast.hours, start, end)
    if total.value is None:
        return UNKNOWN
    value = OF_A_SINGLE.chance(total.value * wetter * TOO_WET_IN_THE_FIT, amount_mm, skill)
    most_mm = _most_rain(forecast, start, end)
    if most_mm is not None and most_mm * wetter < amount_mm:
        value = min(value, MOST_IS_PASSED)
    return Chance(value, total.complete)


def low_chance(
    forecast: Forecast,
    start: datetime,
    end: datetime,
    limit_c: float,
    colder: Colder = AS_FORECAST,
) -> Chance:
    """Return the chance that the lowest temperature of [start, end) is at or under a limit.

    Args:
        forecast: Hourly air temperature [degC], with its error and with members where it has them.
        start, end: The window, aware.
        limit_c: The limit [degC].
        colder: How much colder it is at the leaf, or in this place, than forecast [degC].

    Returns:
        Between 0 and 1.
    """
    limit_c += colder.mean_c
    lows = _of_members(forecast, partial(_temperature, start=start, end=end, pick=min))
    if lows:
        error_c = math.hypot(PLACE_ERROR_C, colder.spread_c)
        return _dressed(lows, lambda low_c: _normal_share((limit_c - low_c) / error_c))
    low = lowest_temperature(forecast.hours, start, end)
    if low.value is None:
        return UNKNOWN
    error_c = math.hypot(_error_c(forecast, low), colder.spread_c)
    return Chance(_normal_share((limit_c - low.value) / error_c), low.complete)


def high_chance(forecast: Forecast, start: datetime, end: datetime, limit_c: float) -> Chance:
    """Return the chance that the highest temperature of [start, end) is at or over a limit.

    Args:
        forecast: Hourly air temperature [degC], with its error and with members where it has them.
        start, end: The window, aware.
        limit_c: The limit [degC].

    Returns:
        Between 0 and 1.
    """
    highs = _of_members(forecast, partial(_temperature, start=start, end=end, pick=max))
    if highs:
        return _dressed(highs, lambda high_c: _normal_share((high_c - limit_c) / PLACE_ERROR_C))
    high = highest_temperature(forecast.hours, start, end)
    if high.value is None:
        return UNKNOWN
    return Chance(_normal_share((high.value - limit_c) / _error_c(forecast, high)), high.complete)


def hot_dry_chance(
    forecast: Forecast, start: datetime, end: datetime, hot_c: float, dry_mm: float
) -> Chance:
    """Return the chance that [start, end) reaches a temperature and stays under an amount of rain.

    Args:
        forecast: Hourly air temperature [degC] and rain [mm].
        start, end: The part of the day that is asked about, aware.
        hot_c, dry_mm: Heat from here on [degC], and rain under this amount [mm].

    Returns:
        Heat and rain are taken as independent. On summer days heat mostly comes without rain, so
        that the chance is rather too small. With unknown rain that of the heat alone.

    Source: Independence is a design choice; the parts as in `high_chance` and `rain_chance`.
    """
    hot = high_chance(forecast, start, end, hot_c)
    wet = rain_chance(forecast, start, end, dry_mm)
    if hot.value is None:
        return UNKNOWN
    if wet.value is None:
        return Chance(hot.value, complete=False, members=hot.members)
    return Chance(
        hot.value * (1.0 - wet.value), hot.complete and wet.complete, min(hot.members, wet.members)
    )


def garden_site(readings: Readings) -> Site:
    """Return how a garden differs from what is forecast for it, by what its grower measured.

    Args:
        readings: Of each night the low that the service said and the one measured [degC], and
            whether it was clear and calm; of each day the rain [mm] said and measured.

    Returns:
        The mean difference of the lows, the nearer to none the fewer nights there are [degC]; in
        clear and in other nights each the nearer to that of all. Rain as a share of what is said,
        between half and twice.

    Source: A mean shrunk by the ratio of its variances, n / (n + 1.8**2 / 1.5**2); both are given
        at their constants. Growers note cold nights more often than mild ones, so that the mean
        leans to the careful side.
    """
    lows = [(said_c - measured_c, clear) for said_c, measured_c, clear in readings.lows]
    of_all = _shrunk([each for each, _ in lows], 0.0)
    said_mm = math.fsum(said for said, _ in readings.rains) + RAIN_AS_SAID_MM
    came_mm = math.fsum(came for _, came in readings.rains) + RAIN_AS_SAID_MM
    return Site(
        any_night=Colder(of_all),
        clear_night=Colder(_shrunk([each for each, clear in lows if clear], of_all)),
        other_night=Colder(_shrunk([each for each, clear in lows if clear is False], of_all)),
        wetter=min(max(came_mm / said_mm, 1.0 / WETTER_MOST), WETTER_MOST),
    )


def _shrunk(values: Sequence[float], towards: float) -> float:
    """Return the mean of some values, the nearer to another the fewer there are."""
    believed = len(values) / (len(values) + (READING_ERROR_C / PLACE_DIFFERS_C) ** 2)
    return towards + believed * (math.fsum(values) / max(len(values), 1) - towards)


def rain_skill(lead_days: float, past: Sequence[PastError] = ()) -> float:
    """Return the correlation of forecast and amount some days ahead.

    Args:
        lead_days: From the run to the middle of the window [days], 0 or more.
        past: How forecasts erred here, by days ahead from one on; they know what came only by the
            newest run, so that what this does not know of a gauge comes to it.

    Returns:
        0.81 at most, 0.2 at least.

    Source: References 1 and 3 of the module. Of three normal variables in a row the outer ones are
        correlated by the product.
    """
    usual = max(SKILL_FIRST_DAY - SKILL_LOST_PER_DAY * (lead_days - 1.0), LEAST_SKILL)
    seen = _seen(lead_days, past, "rain_likeness")
    if seen is None:
        return usual
    likeness, believed = seen
    at_issue = SKILL_FIRST_DAY + SKILL_LOST_PER_DAY
    return max(usual + believed * (at_issue * likeness - usual), LEAST_SKILL)


def low_error_c(lead_days: float, past: Sequence[PastError] = ()) -> float:
    """Return the standard error of a lowest or highest temperature [degC].

    Args:
        lead_days: From the run to the moment of the extreme [days]; under 0 counts as 0.
        past: How forecasts erred here, by days ahead from one on, against the newest run; the error
            of the place comes to it.

    Returns:
        1.34 to 3.3 degC, or what the place's own errors make of it.
    """
    usual = _read_off(LOW_ERROR_C, lead_days)
    seen = _seen(lead_days, past, "low_error_c")
    if seen is None:
        return usual
    error_c, believed = seen
    return usual + believed * (math.hypot(PLACE_ERROR_C, error_c) - usual)


def _seen(
    lead_days: float, past: Sequence[PastError], what: Literal["low_error_c", "rain_likeness"]
) -> tuple[float, float] | None:
    """Return what the errors of the place say of a lead, and how far that is believed."""
    rows = [
        (float(ahead), value)
        for ahead, error in enumerate(past, 1)
        if (value := getattr(error, what)) is not None
    ]
    if not rows:
        return None
    days = max(error.days for error in past)
    return _read_off(rows, lead_days), days / (days + USUAL_COUNTS_DAYS)


def _read_off(rows: Sequence[tuple[float, float]], lead_days: float) -> float:
    """Return the value of a table at a lead, by straight lines; beyond its ends that of the end."""
    earlier = rows[0]
    for row in rows:
        if lead_days <= row[0]:
            span = row[0] - earlier[0]
            share = (lead_days - earlier[0]) / span if span else 0.0
            return earlier[1] + max(share, 0.0) * (row[1] - earlier[1])
        earlier = row
    return earlier[1]


def _lead_days(forecast: Forecast, start: datetime, end: datetime) -> float:
    """Return how far ahead of its run the middle of a window lies [days]."""
    middle = start + (end - start) / 2
    return max((middle - forecast.issued_at) / HOUR / DAY_H, 0.0)


def _error_c(forecast: Forecast, extreme: Figure) -> float:
    """Return the standard error of a temperature: as its service says it, else by its lead."""
    if extreme.at is None:
        return low_error_c(0.0, forecast.past)
    hours = hours_between(forecast.hours, extreme.at, extreme.at + HOUR)
    said_c = hours[0].temperature_sd_c if hours else None
    if said_c is not None:
        return max(said_c, PLACE_ERROR_C)
    return low_error_c((extreme.at - forecast.issued_at) / HOUR / DAY_H, forecast.past)


def _most_rain(forecast: Forecast, start: datetime, end: datetime) -> float | None:
    """Return the most rain likely over a window, None where an hour of it does not say so [mm]."""
    most = [hour.rain_most_mm for hour in hours_between(forecast.hours, start, end)]
    known = [mm for mm in most if mm is not None]
    return math.fsum(known) if known and len(known) == len(most) else None


def _of_members(
    forecast: Forecast, ask: Callable[[Ensemble, Member], float | None]
) -> list[tuple[float, float]]:
    """Return weight and answer of each member that knows one; nothing where too few do."""
    ensemble = forecast.ensemble
    if ensemble is None:
        return []
    answers = [(each.weight, ask(ensemble, each)) for each in ensemble.members]
    known = [(weight, answer) for weight, answer in answers if answer is not None]
    share = math.fsum(weight for weight, _ in known)
    if share < LEAST_SHARE_OF_MEMBERS * math.fsum(weight for weight, _ in answers):
        return []
    return known


def _dressed(answers: list[tuple[float, float]], dress: Callable[[float], float]) -> Chance:
    """Return the mean over the members of the chance after each of them."""
    of_all = math.fsum(weight for weight, _ in answers)
    value = math.fsum(weight * dress(answer) for weight, answer in answers) / of_all
    return Chance(value, complete=True, members=len(answers))


def _rain_of(ensemble: Ensemble, member: Member, start: datetime, end: datetime) -> float | None:
    """Return the rain of a member over a window, None where any of it is unknown [mm]."""
    from_h, to_h = (start - ensemble.starts_at) / HOUR, (end - ensemble.starts_at) / HOUR
    first, last = math.floor(from_h), math.ceil(to_h)
    known = _known(member.rain_mm, first, last)
    if not known:
        return None
    cut_off_mm = (from_h - first) * known[0] + (last - to_h) * known[-1]
    return max(math.fsum(known) - cut_off_mm, 0.0)


def _temperature(
    ensemble: Ensemble,
    member: Member,
    start: datetime,
    end: datetime,
    pick: Callable[[list[float]], float],
) -> float | None:
    """Return the extreme of a member at the full hours of a window, None where one is unknown."""
    first = math.ceil((start - ensemble.starts_at) / HOUR)
    last = math.ceil((end - ensemble.starts_at) / HOUR)
    known = _known(member.temperature_c, first, last)
    return pick(known) if known else None


def _known(values: Sequence[float | None], first: int, last: int) -> list[float]:
    """Return the values from one place up to another, none at all where one is unknown."""
    known = [each for each in values[max(first, 0) : last] if each is not None]
    return known if first >= 0 and len(known) == last - first else []


def _normal_share(deviations: float) -> float:
    """Return the share of a normal distribution below so many standard deviations."""
    return 0.5 * (1.0 + math.erf(deviations / math.sqrt(2.0)))
