"""The forecast as it would have looked at a moment, made out of what really came.

* perfect: what came, known ten days ahead.
* persistence: the 24 hours before the issue, again and again. Nothing else goes in.
* usual: what came, with errors that grow with the lead. Two issues a day (00 and 12 UTC).
  Errors of one valid date are alike from issue to issue, as in life, where a wrong forecast is
  mended bit by bit; so a warning neither flickers nor stays wrong.

The error model is a design choice with orders of size from memory, fitted to no service. Wind,
cloud, humidity and radiation are passed on as they came. On the days of Seattle, 2012 to 2015, it
comes to: 12.7 mm in the coming 24 h foretold in 6 cases of 10, 3 alarms of 10 false (six days
ahead: 4 and 4); a freeze in 9 of 10, 3 of 10 false; lows 1.7 degC wrong (root mean square), 3.6
after six days. A test measures that again.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta
from statistics import NormalDist

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.forecast import Forecast, Hour
from strawbell.rehearsal.recorded import Weather
from strawbell.season.local_time import DAY, bounds_of, local_date, moment_of
from strawbell.weather.windows import HOUR

FORECAST_DAYS = 10
"""Days a forecast reaches ahead (design choice: as the services asked)."""
ISSUED_EVERY_H = 12
"""Hours from issue to issue (from memory: global models have two main runs a day)."""

TEMPERATURE_SD_C = 1.5
"""Standard error of the temperature of the day of issue (from memory) [degC]."""
TEMPERATURE_SD_C_PER_DAY = 0.35
"""What each day of lead adds to it; near 4 degC after a week (from memory)."""
WET_DAY_MM = 0.2
"""Rain from which a day counts as wet (design choice: a common gauge's smallest step)."""
HIT_CHANCE, HIT_CHANCE_LOST_PER_DAY = 0.92, 0.04
"""Chance that a wet day is forecast as wet, and what each day of lead costs (from memory)."""
FALSE_ALARM_CHANCE, FALSE_ALARM_MORE_PER_DAY = 0.08, 0.03
"""Chance that a dry day is forecast as wet, and what each day of lead adds (from memory)."""
AMOUNT_SPREAD, AMOUNT_SPREAD_PER_DAY = 0.40, 0.07
"""Standard error of the logarithm of the amount of a hit; unbiased in the mean (design choice)."""
FALSE_ALARM_MEAN_MM = 4.0
"""Mean amount of a false alarm, exponentially distributed (design choice) [mm]."""
FALSE_ALARM_FROM_H, FALSE_ALARM_LASTS_H = 12, 6
"""Local hours a false alarm is put on (design choice: showers of an afternoon)."""
WET_CHANCE_PERCENT, WET_CHANCE_LOST_PER_DAY = 90.0, 5.0
"""Chance of rain said with a hit (design choice)."""
FALSE_ALARM_SAYS_PERCENT, DRY_SAYS_PERCENT = 60.0, 10.0
"""Chance of rain said with a false alarm, and where no rain is forecast (design choice)."""
LIKENESS = 0.8
"""Correlation of the errors of one valid date from issue to issue (design choice)."""

ATTRIBUTION = "Recorded weather"
_NORMAL = NormalDist()


class _Asked(Struct, frozen=True):
    """What a skill makes a forecast from."""

    weather: Weather
    issued: datetime
    begins: datetime
    seed: int


def forecast_at(weather: Weather, skill: str, now: datetime, seed: int) -> Forecast | None:
    """Return the forecast as it looked at `now` (aware), None where nothing is known.

    As the default service does, it also has the hours of yesterday as they came.
    """
    issued = issue_of(now)
    today = local_date(now, weather.zone)
    begins, _ = bounds_of(today, weather.zone)
    ahead = tuple(SKILLS[skill](_Asked(weather, issued, begins, seed)))
    if not ahead:
        return None
    hours = (*_hours_between(weather, *bounds_of(today - DAY, weather.zone)), *ahead)
    return Forecast(
        source=f"recorded, {skill}",
        issued_at=issued,
        fetched_at=now,
        hours=hours,
        attribution=ATTRIBUTION,
    )


def issue_of(now: datetime) -> datetime:
    """Return when the newest forecast at a moment was issued (UTC)."""
    now = now.astimezone(UTC)
    hour = now.hour // ISSUED_EVERY_H * ISSUED_EVERY_H
    return now.replace(hour=hour, minute=0, second=0, microsecond=0)


def _perfect(asked: _Asked) -> Iterator[Hour]:
    for hour in _true_hours(asked.weather, asked.begins):
        chance = None if hour.rain_mm is None else 100.0 if hour.rain_mm > 0 else 0.0
        yield replace(hour, rain_chance_percent=chance)


def _persistence(asked: _Asked) -> Iterator[Hour]:
    for number in range(24 * FORECAST_DAYS):
        moment = asked.begins + HOUR * number
        seen = moment
        if moment >= asked.issued:
            seen = moment - DAY * ((moment - asked.issued) // DAY + 1)
        hour = asked.weather.hours.get(seen)
        if hour is not None:
            yield replace(hour, starts_at=moment)


def _usual(asked: _Asked) -> Iterator[Hour]:
    zone = asked.weather.zone
    by_date: dict[date, list[Hour]] = {}
    for hour in _true_hours(asked.weather, asked.begins):
        by_date.setdefault(local_date(hour.starts_at, zone), []).append(hour)
    for on, hours in by_date.items():
        starts = moment_of(on, time(0), zone)
        lead_days = max(0.0, (starts - asked.issued) / DAY)
        dice = _Dice(asked.seed, on, asked.issued)
        wrong_c = dice.normal() * (TEMPERATURE_SD_C + TEMPERATURE_SD_C_PER_DAY * lead_days)
        rain = _rain_said(hours, dice, lead_days, starts)
        for hour in hours:
            yield _with_error(hour, wrong_c, *rain[hour.starts_at])


class _Dice:
    """Standard normals for one valid date: partly its own, partly those of the issue."""

    def __init__(self, seed: int, on: date, issued: datetime) -> None:
        # Errors have to come again for the same seed; nobody is to be kept from guessing them.
        self._of_date = random.Random(f"{seed} {on}")  # noqa: S311
        self._of_issue = random.Random(f"{seed} {on} {issued.isoformat()}")  # noqa: S311

    def normal(self) -> float:
        """Return the next error, in standard errors."""
        own = self._of_issue.gauss(0.0, 1.0) * math.sqrt(1.0 - LIKENESS**2)
        return self._of_date.gauss(0.0, 1.0) * LIKENESS + own

    def uniform(self) -> float:
        """Return the next number in (0, 1), as alike from issue to issue."""
        return _NORMAL.cdf(self.normal())


def _rain_said(
    hours: list[Hour], dice: _Dice, lead_days: float, starts: datetime
) -> Mapping[datetime, tuple[float | None, float | None]]:
    """Return the rain said of each hour of a day, and its chance; unknown stays unknown."""
    fate, size = dice.uniform(), dice.normal()
    total_mm = math.fsum(hour.rain_mm or 0.0 for hour in hours)
    if total_mm >= WET_DAY_MM:
        if fate >= HIT_CHANCE - HIT_CHANCE_LOST_PER_DAY * lead_days:
            return {hour.starts_at: _dry(hour) for hour in hours}
        spread = AMOUNT_SPREAD + AMOUNT_SPREAD_PER_DAY * lead_days
        factor = math.exp(spread * size - spread**2 / 2)
        chance = WET_CHANCE_PERCENT - WET_CHANCE_LOST_PER_DAY * lead_days
        return {hour.starts_at: _wetter(hour, factor, chance) for hour in hours}
    said = {hour.starts_at: _dry(hour) for hour in hours}
    if fate < FALSE_ALARM_CHANCE + FALSE_ALARM_MORE_PER_DAY * lead_days:
        amount_mm = -FALSE_ALARM_MEAN_MM * math.log(max(_NORMAL.cdf(size), 1e-12))
        for number in range(FALSE_ALARM_LASTS_H):
            moment = starts + timedelta(hours=FALSE_ALARM_FROM_H + number)
            if said.get(moment, (None, None))[0] is not None:
                said[moment] = (amount_mm / FALSE_ALARM_LASTS_H, FALSE_ALARM_SAYS_PERCENT)
    return said


def _dry(hour: Hour) -> tuple[float | None, float | None]:
    return (None, None) if hour.rain_mm is None else (0.0, DRY_SAYS_PERCENT)


def _wetter(hour: Hour, factor: float, chance: float) -> tuple[float | None, float | None]:
    if not hour.rain_mm:
        return _dry(hour)
    return hour.rain_mm * factor, chance


def _with_error(hour: Hour, wrong_c: float, rain_mm: float | None, chance: float | None) -> Hour:
    def shifted(value: float | None) -> float | None:
        return None if value is None else round(value + wrong_c, 1)

    return replace(
        hour,
        temperature_c=shifted(hour.temperature_c),
        dew_point_c=shifted(hour.dew_point_c),
        rain_mm=None if rain_mm is None else round(rain_mm, 3),
        rain_chance_percent=chance,
    )


def _true_hours(weather: Weather, begins: datetime) -> Iterator[Hour]:
    return _hours_between(weather, begins, begins + HOUR * 24 * FORECAST_DAYS)


def _hours_between(weather: Weather, begins: datetime, ends: datetime) -> Iterator[Hour]:
    for number in range((ends - begins) // HOUR):
        hour = weather.hours.get(begins + HOUR * number)
        if hour is not None:
            yield hour


SKILLS: Mapping[str, Callable[[_Asked], Iterator[Hour]]] = {
    "perfect": _perfect,
    "persistence": _persistence,
    "usual": _usual,
}
"""The skills by name."""

PARAMETERS: Mapping[str, Mapping[str, float]] = {
    "perfect": {"known_ahead_days": FORECAST_DAYS},
    "persistence": {"issued_every_h": ISSUED_EVERY_H},
    "usual": {
        "issued_every_h": ISSUED_EVERY_H,
        "temperature_sd_c": TEMPERATURE_SD_C,
        "temperature_sd_c_per_day": TEMPERATURE_SD_C_PER_DAY,
        "wet_day_mm": WET_DAY_MM,
        "hit_chance": HIT_CHANCE,
        "hit_chance_lost_per_day": HIT_CHANCE_LOST_PER_DAY,
        "false_alarm_chance": FALSE_ALARM_CHANCE,
        "false_alarm_more_per_day": FALSE_ALARM_MORE_PER_DAY,
        "amount_spread": AMOUNT_SPREAD,
        "amount_spread_per_day": AMOUNT_SPREAD_PER_DAY,
        "false_alarm_mean_mm": FALSE_ALARM_MEAN_MM,
        "likeness": LIKENESS,
    },
}
"""What each skill was made with, for who reads its figures."""
