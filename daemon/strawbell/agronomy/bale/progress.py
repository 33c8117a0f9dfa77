"""Conditioning counted in days of mild weather: cold stretches it, frost stops it.

The response to air temperature is the cardinal temperature model [1]. It is driven by *air*
because that is what a forecast has; the warmth a bale makes for itself is in the calibration.
Three figures were chosen so that common practice comes out, and nothing finer is claimed:

* about 12 days in mild spring weather (a day of 9 to 19 degC, mean 14): the unit of the count;
* about 10 days in hot weather (mean from 26 degC up);
* about three weeks at 7 degC (45 F) and six weeks at a mean of 3 to 4 degC [2];
* nothing on a day that stays at or under 0 degC (common practice: frozen bales stand still).

From the optimum on the response is held: hot air is not known to slow a bale that is kept wet,
so the maximum only shapes the curve below the optimum.

References
----------
[1] L. Rosso, J. R. Lobry, J. P. Flandrois, Journal of Theoretical Biology 162:447-463 (1993).
[2] Montana State University Extension, Carbon County, newsletter 2018 (straw bale gardening):
    weeks of water and thermometer, up to about six weeks in all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from strawbell.agronomy.air.constants import COLDEST_AIR_C, HOTTEST_AIR_C, DayTemperature
from strawbell.agronomy.bale.growth_response import cardinal_response

STANDSTILL_C = 0.0
"""Air temperature at or under which conditioning stands still (common practice)."""
FASTEST_FROM_C = 23.0
"""Air temperature from which conditioning runs at its best; calibrated, see the module."""
SHAPE_MAXIMUM_C = 45.5
"""Maximum of the cardinal curve; calibrated, and never reached since the response is held."""
MILD_DAY = DayTemperature(9.0, 19.0)
"""A mild spring day, the unit of the count (a definition)."""
MILD_DAYS_NEEDED = 12.0
"""Days of mild weather that conditioning takes (common practice)."""
UNKNOWN_DAY_HALF_RANGE_C = 8.0
"""How far a day of unknown weather may lie from the mean of its season (common practice)."""
USUAL_HALF_SWING_C = 5.0
"""Half the difference of day and night where only a mean is known (common practice)."""
FORECAST_ERROR_START_C = 1.0
FORECAST_ERROR_PER_DAY_C = 0.4
"""Error of a forecast day's mean: about 1 K for today, near 4 K after a week (from memory)."""
CARRIED_ERROR_START_C = 3.0
CARRIED_ERROR_PER_DAY_C = 0.15
CARRIED_ERROR_MOST_C = 6.0
"""Error of a mean carried past the forecast: less than a single day's, since single days of
several weeks even out (common practice)."""
CARRIED_DAYS = 7
"""The last days of the forecast whose mean is carried on."""
RELAX_DAYS = 7.0
"""Days in which a carried mean goes over into the mean of the season, where that is known."""
HORIZON_DAYS = 120
"""Beyond this nothing is foretold; the answer is unknown."""

_PHASES = tuple(math.cos((2 * step + 1) * math.pi / 16.0) for step in range(8))
"""A day's temperature at eight evenly spaced moments of a sine wave between low and high."""


def air_response(temperature_c: float) -> float:
    """Return the share of the best conditioning rate at an air temperature.

    Parameters
    ----------
    temperature_c : float
        Air temperature [degC], finite (ValueError otherwise).

    Returns
    -------
    float
        Share of the best rate [0 to 1]: 0 at or under 0 degC, rising to 1 at 23 degC, held
        above (see the module for why).

    References
    ----------
    [1] Rosso et al. 1993; calibrated on common practice and [2], see the module.
    """
    if temperature_c >= FASTEST_FROM_C and math.isfinite(temperature_c):
        return 1.0
    return cardinal_response(temperature_c, STANDSTILL_C, FASTEST_FROM_C, SHAPE_MAXIMUM_C)


@lru_cache(maxsize=1024)
def _mean_response(low_c: float, high_c: float) -> float:
    middle, half = (low_c + high_c) / 2.0, (high_c - low_c) / 2.0
    return sum(air_response(middle + half * phase) for phase in _PHASES) / len(_PHASES)


_MILD_RESPONSE = _mean_response(MILD_DAY.low_c, MILD_DAY.high_c)
FASTEST_RATE = 1.0 / _MILD_RESPONSE
"""What the hottest day counts, in days of mild weather."""


def day_rate(day: DayTemperature) -> float:
    """Return what one day counts towards conditioning.

    The response is averaged over a sine wave between the day's low and high, so that a warm
    afternoon after a night of frost still counts.

    Parameters
    ----------
    day : DayTemperature
        Low and high of the day's air [degC].

    Returns
    -------
    float
        Days of mild weather [d], 0 to about 1.23; 1 for a day of 9 to 19 degC.

    References
    ----------
    [1] Rosso et al. 1993; calibrated on common practice and [2], see the module.
    """
    return _mean_response(day.low_c, day.high_c) / _MILD_RESPONSE


@dataclass(frozen=True, slots=True)
class EffectiveDays:
    """Conditioning done so far, in days of mild weather [d]; low and high bound what is known."""

    low: float
    high: float

    def __post_init__(self) -> None:
        """Refuse a range that is none."""
        if not 0.0 <= self.low <= self.high < math.inf:
            raise ValueError(
                f"low and high must be finite, not negative and in order, got {self.low}, "
                f"{self.high}"
            )


def effective_days(
    daily: Sequence[DayTemperature | None], season_mean_c: float | None = None
) -> EffectiveDays:
    """Return how many days of mild weather the past days were worth.

    Parameters
    ----------
    daily : Sequence[DayTemperature | None]
        The air of each conditioning day so far, in order; None where it is unknown. Days on
        which the plan stood still are left out by the caller.
    season_mean_c : float or None
        Mean air temperature of the season [degC, -90 to 60], used for unknown days with 8 K to
        either side. Without it an unknown day counts anything from nothing to the best.

    Returns
    -------
    EffectiveDays
        The range [d]; low and high are the same when every day is known.

    References
    ----------
    See `day_rate`.
    """
    low = high = 0.0
    unknown_low, unknown_high = 0.0, FASTEST_RATE
    if season_mean_c is not None:
        _refuse_air("season_mean_c", season_mean_c)
        unknown_low = _shifted_rate(season_mean_c, -UNKNOWN_DAY_HALF_RANGE_C)
        unknown_high = _shifted_rate(season_mean_c, UNKNOWN_DAY_HALF_RANGE_C)
    for day in daily:
        if day is None:
            low += unknown_low
            high += unknown_high
        else:
            rate = day_rate(day)
            low += rate
            high += rate
    return EffectiveDays(low, high)


@dataclass(frozen=True, slots=True)
class Span:
    """A number of days to go [d]: earliest, expected, latest; None is not foreseeable."""

    low: int
    expected: int | None
    high: int | None


def days_to_go(
    done: EffectiveDays,
    needed: float,
    forecast_daily: Sequence[DayTemperature | None],
    climatology_mean_c: float | None = None,
) -> Span:
    """Return in how many days conditioning is expected to be complete.

    Each forecast day is taken as it stands, and shifted to either side by the error such a
    forecast usually has. Past the forecast the mean of its last seven known days is carried
    on, going over into the mean of the season where that is known, with a band that widens.

    Parameters
    ----------
    done : EffectiveDays
        What has been done up to the first forecast day [d].
    needed : float
        Days of mild weather that conditioning takes [d], above 0 (ValueError otherwise);
        `MILD_DAYS_NEEDED` by common practice.
    forecast_daily : Sequence[DayTemperature | None]
        The days ahead, the first being the next conditioning day; None where unknown.
    climatology_mean_c : float or None
        Mean air temperature of the season [degC, -90 to 60]; None when it is not known.

    Returns
    -------
    Span
        Days from the first forecast day until the count is full, 0 when it is already.
        `expected` and `high` are None where they lie beyond 120 days or nothing is known of
        the weather at all.

    References
    ----------
    See `day_rate`; the errors of forecasts are from memory.
    """
    if not (math.isfinite(needed) and needed > 0.0):
        raise ValueError(f"needed must be a finite number of days above 0, got {needed}")
    if climatology_mean_c is not None:
        _refuse_air("climatology_mean_c", climatology_mean_c)
    middle = (done.low + done.high) / 2.0
    carried = _carried_mean(forecast_daily)
    from_c = carried if carried is not None else climatology_mean_c
    to_c = climatology_mean_c if climatology_mean_c is not None else carried
    if from_c is None or to_c is None:
        left = max(0.0, needed - done.high)
        return Span(
            low=math.ceil(left / FASTEST_RATE),
            expected=0 if middle >= needed else None,
            high=0 if done.low >= needed else None,
        )
    weather = _Ahead(forecast_daily, from_c, to_c)
    low = _count(done.high, needed, weather, 1.0)
    return Span(
        low=HORIZON_DAYS if low is None else low,
        expected=_count(middle, needed, weather, 0.0),
        high=_count(done.low, needed, weather, -1.0),
    )


@dataclass(frozen=True, slots=True)
class _Ahead:
    """The weather ahead: the forecast, and the mean past it with what it goes over into."""

    daily: Sequence[DayTemperature | None]
    from_c: float
    to_c: float

    def rate(self, lead: int, side: float) -> float:
        """Return what the day counts when the weather errs to one side (-1, 0 or 1)."""
        day = self.daily[lead] if lead < len(self.daily) else None
        if day is not None:
            shift = side * (FORECAST_ERROR_START_C + FORECAST_ERROR_PER_DAY_C * lead)
            return _mean_response(day.low_c + shift, day.high_c + shift) / _MILD_RESPONSE
        beyond = max(0, lead - len(self.daily))
        mean = self.from_c + min(1.0, beyond / RELAX_DAYS) * (self.to_c - self.from_c)
        error = min(CARRIED_ERROR_MOST_C, CARRIED_ERROR_START_C + CARRIED_ERROR_PER_DAY_C * beyond)
        return _shifted_rate(mean, side * error)


def _count(done: float, needed: float, weather: _Ahead, side: float) -> int | None:
    """Return the days until the count is full when the weather errs to one side throughout."""
    total = done
    for days in range(HORIZON_DAYS + 1):
        if total >= needed:
            return days
        total += weather.rate(days, side)
    return None


def _carried_mean(forecast_daily: Sequence[DayTemperature | None]) -> float | None:
    """Return the mean of the last known days of the forecast, None when none is known."""
    known = [day.mean_c for day in forecast_daily if day is not None][-CARRIED_DAYS:]
    return sum(known) / len(known) if known else None


def _shifted_rate(mean_c: float, shift_c: float) -> float:
    """Return what a day of the usual swing counts, `shift_c` off a mean."""
    middle = mean_c + shift_c
    return _mean_response(middle - USUAL_HALF_SWING_C, middle + USUAL_HALF_SWING_C) / _MILD_RESPONSE


def _refuse_air(name: str, value: float) -> None:
    if not (math.isfinite(value) and COLDEST_AIR_C <= value <= HOTTEST_AIR_C):
        raise ValueError(
            f"{name} must lie between {COLDEST_AIR_C:g} and {HOTTEST_AIR_C:g}, got {value}"
        )


@dataclass(frozen=True, slots=True)
class Progress:
    """How far conditioning is: done and needed in days of mild weather [d], and days to go."""

    done: EffectiveDays
    needed: float
    to_go: Span
