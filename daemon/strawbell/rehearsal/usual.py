"""The errors of a usual forecast, laid over what really came.

* Issues of one valid date err alike, the less the further they lie apart: correlations of 0.60,
  0.45, 0.25 and 0.14 after 12, 24, 48 and 72 h [1].
* The night's low and the afternoon's high err differently (correlation 0.3, from memory). The
  standard error of the lows is the table `LOW_ERROR_C`; of this a bias of 1 degC stays with the
  place for good. Tails are those of Student's t.
* The rain of a day is forecast through its rank among the days of the season (within 45 days, all
  years of the record): the rank's normal score is known with the correlation `RANK_SKILL`, which
  falls by the day, and the amount that has the forecast rank is said. So rain is missed as often
  as it is invented, and the chance of any amount follows from the same correlation. The hours of
  it come some hours too early or too late; a dry day borrows those of the nearest wet one.
* An ensemble knows no more than its forecast, and spreads by the forecast's error without that of
  the place [2].
* In a frost hollow clear and calm nights are colder than forecast by 2 to 4 degC (from memory).

What it comes to on the record of Seattle and the airports of New York is measured by a test: of
rain from 12.7 mm in 24 h, a day ahead, a threat score (hits among hits, misses and false alarms) of
0.3 to 0.4 at base rates of 5 to 8 %.

References:
[1] Lows of three ensembles over central Europe, one summer month, against their later analyses;
    0.8 of the variance is passed on by 0.75 each 12 h.
[2] The same: error of the mean and spread of members agree (0.7 and 0.76 degC a day ahead, 1.8 and
    2.0 after seven).
[3] The chance after one forecast through normal scores: R. Krzysztofowicz and H. D. Herr,
    "Hydrologic uncertainty processor", Journal of Hydrology 249:46-68 (2001), from memory.
"""

from __future__ import annotations

import math
import random
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time
from functools import lru_cache
from statistics import NormalDist

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.forecast import Ensemble, Hour, Member
from strawbell.rehearsal.recorded import Weather
from strawbell.season.local_time import DAY, moment_of
from strawbell.weather.windows import HOUR

ISSUED_EVERY_H = 12
"""Hours from issue to issue (from memory: global models have two main runs a day)."""
FORECAST_DAYS = 10
"""Days a forecast reaches ahead (design choice: as the services asked)."""
LOW_ERROR_C = ((0.0, 1.34), (1.0, 1.4), (2.0, 1.6), (3.0, 1.8), (5.0, 2.2), (7.0, 2.8), (9.0, 3.3))
"""Standard error of a low, place and all, by days ahead [degC]: UK Met Office, 86.5 % of first
nights within 2 degC; growth by [1]. Beyond the last row its value."""
NEAR_C = 0.5
"""Error of an ensemble half a day ahead, without that of the place [2] [degC]."""
PLACE_BIAS_C = 1.0
"""Standard deviation between gardens of what their forecasts err by for good (from memory)."""
TAIL_DEGREES = 7
"""Degrees of freedom of the errors' tails (measured excess kurtosis of 1.2 and more)."""
LIKENESS_OF_EXTREMES = 0.3
"""Correlation of the errors of low and high of a day (from memory)."""
LASTING_SHARE, LASTING_PER_ISSUE = 0.8, 0.75
"""How much of an error's variance the next issue inherits, and by what correlation [1]."""
RANK_SKILL, RANK_SKILL_LOST_PER_DAY, RANK_SKILL_LEAST = 0.81, 0.04, 0.2
"""Correlation of the scores of rain at the issue, what each day costs, and its least: chosen for
the threat scores of the NWS Weather Prediction Center and of gauges."""
MISTIMED_H, MISTIMED_H_PER_DAY = 3.0, 1.0
"""Standard error of the hours of rain, and what each day adds (design choice)."""
WET_DAY_MM = 0.2
"""Rain from which a day counts as wet (design choice: a common gauge's smallest step)."""
SEASON_AROUND_DAYS = 45
"""Days on either side that a day's rain is ranked among (design choice)."""
MEMBERS, ENSEMBLE_DAYS = 20, 6
"""Members of the ensemble, and how far it reaches (as the default service's; 20 for speed)."""
HOLLOW_C = (2.0, 4.0)
"""How much colder a hollow is on clear calm nights: drawn between these for each garden."""
CLEAR_PERCENT, CALM_M_S = 37.5, 2.0
"""Cloud and wind under which a night is clear and calm (three eighths of the sky, from memory)."""
WIDE_RANGE_C = 10.0
"""Where a record has no cloud: from this range of a day on its night was clear (design choice)."""

NIGHT_UNTIL_H, DAY_FROM_H, DAY_UNTIL_H, NIGHT_FROM_H = 8, 12, 18, 22
"""Local hours: a temperature errs as the low of its night until the first and from the last on, as
the high of its day between the other two, and passes from one to the other between."""
EVENLY = (math.sqrt(5.0) - 1.0) / 2.0
"""Multiples of it fill the numbers between 0 and 1 evenly, so that any few seeds are a fair sample
of gardens."""
BORROWED_WITHIN_DAYS = 30
"""How far away a dry day looks for one that lends its hours of rain."""
ISSUES = FORECAST_DAYS * 24 // ISSUED_EVERY_H + 4
"""Issues that a date may be forecast by."""
_NORMAL = NormalDist()
Errors = tuple[float, float, float]
"""Of a date's low, of its high and of the low after it."""


class Said(Struct, frozen=True):
    """How a date is forecast: errors of its low and high [degC], its score of rain, hours late."""

    low_c: float
    high_c: float
    score: float
    late_h: float


class Climate:
    """The days of a record: their hours, their rain, and how it ranks among those around."""

    def __init__(self, weather: Weather) -> None:
        """Sort the hours of a record by local date."""
        self.zone = weather.zone
        self.hours: dict[date, list[tuple[int, Hour]]] = {}
        for at, hour in weather.hours.items():
            local = at.astimezone(weather.zone)
            self.hours.setdefault(local.date(), []).append((local.hour, hour))
        self.rain_mm = {
            on: math.fsum(hour.rain_mm or 0.0 for _, hour in hours)
            for on, hours in self.hours.items()
            if any(hour.rain_mm is not None for _, hour in hours)
        }
        self._rain_of_day: dict[int, list[float]] = {}
        for on, mm in self.rain_mm.items():
            self._rain_of_day.setdefault(on.timetuple().tm_yday, []).append(mm)
        self._around: dict[int, list[float]] = {}
        self._patterns: dict[date, list[float]] = {}

    def around(self, on: date) -> list[float]:
        """Return the rain of all days of the season, ascending [mm]."""
        day = on.timetuple().tm_yday
        if day not in self._around:
            self._around[day] = sorted(
                mm
                for other, amounts in self._rain_of_day.items()
                if _days_apart(other, day) <= SEASON_AROUND_DAYS
                for mm in amounts
            )
        return self._around[day]

    def score(self, on: date, lot: float) -> float:
        """Return the normal score of what fell; dry days are told apart by a lot in (0, 1)."""
        around, mm = self.around(on), self.rain_mm.get(on, 0.0)
        dry = bisect_left(around, WET_DAY_MM)
        if mm < WET_DAY_MM:
            return _score(lot * max(dry, 1) / max(len(around), 1))
        return _score((bisect_left(around, mm) + bisect_right(around, mm)) / 2.0 / len(around))

    def amount_mm(self, on: date, score: float) -> float:
        """Return the rain that has a score."""
        around = self.around(on)
        if not around:
            return 0.0
        place = _NORMAL.cdf(score) * len(around) - 0.5
        first = min(max(math.floor(place), 0), len(around) - 1)
        second = min(first + 1, len(around) - 1)
        mm = around[first] + (around[second] - around[first]) * min(max(place - first, 0.0), 1.0)
        return mm if mm >= WET_DAY_MM else 0.0

    def chance(self, on: date, amount_mm: float, score: float, skill: float) -> float:
        """Return the chance of at least an amount on a date forecast with a score [3]."""
        around = self.around(on)
        if not around:
            return 0.0
        needed = _score(bisect_left(around, amount_mm) / len(around))
        return _NORMAL.cdf((skill * score - needed) / math.sqrt(1.0 - skill**2))

    def pattern(self, on: date) -> list[float]:
        """Return what share of a day's rain falls in each of its hours; a dry day borrows them."""
        if on not in self._patterns:
            near = (
                on + DAY * sign * apart for apart in range(BORROWED_WITHIN_DAYS) for sign in (-1, 1)
            )
            wet = next((each for each in near if self.rain_mm.get(each, 0.0) >= WET_DAY_MM), None)
            self._patterns[on] = (
                [1.0 / 24.0] * 24
                if wet is None
                else [(hour.rain_mm or 0.0) / self.rain_mm[wet] for _, hour in self.hours[wet]]
            )
        return self._patterns[on]


@lru_cache(maxsize=8)
def climate_of(weather: Weather) -> Climate:
    """Return the days of a record, sorted once."""
    return Climate(weather)


class Usual:
    """One issue of a usual forecast for a place, by seed."""

    def __init__(
        self, weather: Weather, issued: datetime, first: date, seed: int, *, hollow: bool = False
    ) -> None:
        """Forecast the dates from `first` on as of `issued`; rain of the day before may come late.

        With `hollow` the garden lies in one.
        """
        self._climate = climate_of(weather)
        self._issued = issued
        self._first = first
        dates = (first + DAY * ahead for ahead in range(-1, FORECAST_DAYS))
        self._dates = [on for on in dates if on in self._climate.hours]
        self._seed = seed
        self._bias_c = PLACE_BIAS_C * _NORMAL.inv_cdf((seed + 0.5) * EVENLY % 1.0)
        self._lead = {on: self._lead_days(on) for on in self._dates}
        self._said = {on: self._said_of(on, hollow=hollow) for on in self._dates}

    def hours(self) -> Iterator[Hour]:
        """Yield the hours as forecast, each with the chance that its day is wet.

        What came before the issue is known; what the record does not know stays unknown.
        """
        wet = {
            on: self._climate.chance(on, WET_DAY_MM, said.score, _skill(self._lead[on]))
            for on, said in self._said.items()
        }
        for on, hour, wrong_c, rain_mm in self._laid(self._said, FORECAST_DAYS):
            if hour.starts_at < self._issued:
                yield hour
                continue
            dry = hour.rain_mm is None
            yield replace(
                hour,
                temperature_c=_moved(hour.temperature_c, wrong_c),
                dew_point_c=_moved(hour.dew_point_c, wrong_c),
                rain_mm=None if dry else round(rain_mm, 3),
                rain_chance_percent=None if dry else round(100.0 * wet[on], 1),
            )

    def ensemble(self) -> Ensemble | None:
        """Return the members beside the forecast, None where the record has a gap in them."""
        starts = [hour.starts_at for _, hour, *_ in self._laid(self._said, ENSEMBLE_DAYS)]
        if not starts or starts[-1] - starts[0] != HOUR * (len(starts) - 1):
            return None
        members = tuple(self._member(number) for number in range(MEMBERS))
        return Ensemble("recorded", starts[0], members)

    def _member(self, number: int) -> Member:
        dice = random.Random(f"{self._seed} {self._issued.isoformat()} {number}")  # noqa: S311
        said = {}
        for on, center in self._said.items():
            lead = self._lead[on]
            spread_c = math.sqrt(_error_c(lead) ** 2 - LOW_ERROR_C[0][1] ** 2 + NEAR_C**2)
            skill = _skill(lead) / _skill(0.0)
            said[on] = Said(
                center.low_c + spread_c * dice.gauss(0.0, 1.0),
                center.high_c + spread_c * dice.gauss(0.0, 1.0),
                skill * center.score + math.sqrt(1.0 - skill**2) * dice.gauss(0.0, 1.0),
                center.late_h + _mistimed_h(lead) * dice.gauss(0.0, 1.0),
            )
        temperature, rain = [], []
        for _, hour, wrong_c, rain_mm in self._laid(said, ENSEMBLE_DAYS):
            temperature.append(None if hour.temperature_c is None else hour.temperature_c + wrong_c)
            rain.append(None if hour.rain_mm is None else rain_mm)
        return Member(1.0, tuple(temperature), tuple(rain))

    def _said_of(self, on: date, *, hollow: bool) -> Said:
        fate, lead = fate_of(self._seed, on), self._lead[on]
        issue = min(max(round((FORECAST_DAYS + 1 - lead) * 24 / ISSUED_EVERY_H), 0), ISSUES - 1)
        low, high, score, late = (path[issue] for path in fate.paths)
        spread_c = math.sqrt(_error_c(lead) ** 2 - PLACE_BIAS_C**2) * fate.tail
        both, skill = LIKENESS_OF_EXTREMES, _skill(lead)
        return Said(
            self._bias_c + spread_c * low + (self._hollow_c(on) if hollow else 0.0),
            self._bias_c + spread_c * (both * low + math.sqrt(1.0 - both**2) * high),
            skill * self._climate.score(on, fate.lot) + math.sqrt(1.0 - skill**2) * score,
            _mistimed_h(lead) * late,
        )

    def _laid(
        self, said: Mapping[date, Said], days: int
    ) -> Iterator[tuple[date, Hour, float, float]]:
        """Yield the hours of the coming dates: date, what came, error [degC], rain said [mm]."""
        rain = self._rain(said)
        for on, today in said.items():
            if not self._first <= on < self._first + DAY * days:
                continue
            tonight_c = said.get(on + DAY, today).low_c
            for local_h, hour in self._climate.hours[on]:
                as_low, as_high, as_tonight = SHARES[local_h]
                wrong_c = as_low * today.low_c + as_high * today.high_c + as_tonight * tonight_c
                yield on, hour, wrong_c, rain.get(hour.starts_at, 0.0)

    def _lead_days(self, on: date) -> float:
        noon = moment_of(on, time(12), self._climate.zone)
        return max((noon - self._issued) / DAY, 0.0)

    def _rain(self, said: Mapping[date, Said]) -> dict[datetime, float]:
        """Return the rain of each hour that has any [mm]."""
        found: dict[datetime, float] = {}
        for on, each in said.items():
            amount_mm = self._climate.amount_mm(on, each.score)
            if not amount_mm:
                continue
            begins = self._climate.hours[on][0][1].starts_at + HOUR * round(each.late_h)
            for number, share in enumerate(self._climate.pattern(on)):
                if share:
                    at = begins + HOUR * number
                    found[at] = found.get(at, 0.0) + share * amount_mm
        return found

    def _hollow_c(self, on: date) -> float:
        """Return by how much the low of a date was under what is forecast for a hollow [degC]."""
        hours = [hour for _, hour in self._climate.hours[on]]
        night = hours[:NIGHT_UNTIL_H]
        cloud = [hour.cloud_percent for hour in night if hour.cloud_percent is not None]
        wind = [hour.wind_m_s for hour in night if hour.wind_m_s is not None]
        air = [hour.temperature_c for hour in hours if hour.temperature_c is not None]
        if cloud and wind:
            clear = sum(cloud) < CLEAR_PERCENT * len(cloud) and sum(wind) < CALM_M_S * len(wind)
        else:
            clear = bool(air) and max(air) - min(air) >= WIDE_RANGE_C
        depth_c = random.Random(f"{self._seed} hollow").uniform(*HOLLOW_C)  # noqa: S311
        return depth_c if clear else 0.0


class Fate(Struct, frozen=True):
    """What a seed has in store for a date: errors by issue, in standard errors."""

    paths: tuple[tuple[float, ...], ...]
    tail: float
    lot: float


@lru_cache(maxsize=4096)
def fate_of(seed: int, on: date) -> Fate:
    """Return the errors that a seed has in store for a date, the same each time."""
    # Errors have to come again for the same seed; nobody is to be kept from guessing them.
    dice = random.Random(f"{seed} {on}")  # noqa: S311
    square = dice.gammavariate(TAIL_DEGREES / 2.0, 2.0)
    return Fate(
        tuple(tuple(_path(dice)) for _ in range(4)),
        math.sqrt((TAIL_DEGREES - 2.0) / square),
        dice.uniform(0.0, 1.0),
    )


def _path(dice: random.Random) -> Iterator[float]:
    """Yield an error from issue to issue: a lasting part, and one of the issue alone."""
    lasting = dice.gauss(0.0, 1.0)
    fresh = math.sqrt(1.0 - LASTING_PER_ISSUE**2)
    for _ in range(ISSUES):
        yield math.sqrt(LASTING_SHARE) * lasting + math.sqrt(1.0 - LASTING_SHARE) * dice.gauss(0, 1)
        lasting = LASTING_PER_ISSUE * lasting + fresh * dice.gauss(0.0, 1.0)


def _score(share: float) -> float:
    return _NORMAL.inv_cdf(min(max(share, 1e-4), 1.0 - 1e-4))


def _skill(lead_days: float) -> float:
    return max(RANK_SKILL - RANK_SKILL_LOST_PER_DAY * lead_days, RANK_SKILL_LEAST)


def _mistimed_h(lead_days: float) -> float:
    return MISTIMED_H + MISTIMED_H_PER_DAY * lead_days


def _error_c(lead_days: float) -> float:
    """Return the standard error of a low, by straight lines through the table [degC]."""
    after = bisect_right(LOW_ERROR_C, (lead_days, math.inf))
    if after == len(LOW_ERROR_C):
        return LOW_ERROR_C[-1][1]
    (from_d, from_c), (to_d, to_c) = LOW_ERROR_C[after - 1], LOW_ERROR_C[after]
    return from_c + (to_c - from_c) * (lead_days - from_d) / (to_d - from_d)


def _days_apart(one: int, other: int) -> int:
    apart = abs(one - other)
    return min(apart, 365 - apart)


def _shares(local_h: int) -> Errors:
    """Return how far a local hour errs as the low, the high and the next low of its date."""
    if local_h < DAY_UNTIL_H:
        share = (local_h - NIGHT_UNTIL_H) / (DAY_FROM_H - NIGHT_UNTIL_H)
        share = min(max(share, 0.0), 1.0)
        return 1.0 - share, share, 0.0
    share = min((local_h - DAY_UNTIL_H) / (NIGHT_FROM_H - DAY_UNTIL_H), 1.0)
    return 0.0, 1.0 - share, share


SHARES = tuple(_shares(hour) for hour in range(24))


def _moved(value: float | None, by: float) -> float | None:
    return None if value is None else round(value + by, 1)
