"""The forecast as it would have looked at a moment, made out of what really came.

* perfect: what came, known ten days ahead.
* persistence: the 24 hours before the issue, again and again. Nothing else goes in.
* usual: what came, with the errors of `strawbell.rehearsal.usual`. Two issues a day (00 and 12
  UTC).
* ensemble: the same, with members beside it.
* issued: what a service really forecast. Of each hour the newest run counts that was out at the
  moment, by whole days before it; beyond a week nothing is known.
* hollow: as usual, in a garden that is colder than forecast in clear calm nights.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.forecast import Forecast, Hour
from strawbell.rehearsal import usual
from strawbell.rehearsal.recorded import Weather
from strawbell.rehearsal.usual import FORECAST_DAYS, ISSUED_EVERY_H, Usual
from strawbell.season.local_time import DAY, bounds_of
from strawbell.weather.windows import HOUR

ATTRIBUTION = "Recorded weather"


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
    today = now.astimezone(weather.zone).date()
    begins, _ = bounds_of(today, weather.zone)
    asked = _Asked(weather, issued, begins, seed)
    ahead = tuple(SKILLS[skill](asked))
    if not ahead:
        return None
    hours = (*_hours_between(weather, *bounds_of(today - DAY, weather.zone)), *ahead)
    return Forecast(
        source=f"recorded, {skill}",
        issued_at=issued,
        fetched_at=now,
        hours=hours,
        attribution=ATTRIBUTION,
        ensemble=_issue(asked).ensemble() if skill == WITH_MEMBERS else None,
    )


def issue_of(now: datetime) -> datetime:
    """Return when the newest forecast at a moment was issued (UTC)."""
    now = now.astimezone(UTC)
    hour = now.hour // ISSUED_EVERY_H * ISSUED_EVERY_H
    return now.replace(hour=hour, minute=0, second=0, microsecond=0)


def _perfect(asked: _Asked) -> Iterator[Hour]:
    for hour in _hours_between(
        asked.weather, asked.begins, asked.begins + HOUR * 24 * FORECAST_DAYS
    ):
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
    return _issue(asked).hours()


def _hollow(asked: _Asked) -> Iterator[Hour]:
    return _issue(asked, hollow=True).hours()


def _issued(asked: _Asked) -> Iterator[Hour]:
    came = asked.weather.hours
    for number in range(24 * FORECAST_DAYS):
        at = asked.begins + HOUR * number
        ahead = math.ceil((at - asked.issued) / DAY)
        hour = came.get(at) if ahead <= 0 else asked.weather.issued.get(ahead, {}).get(at)
        if hour is not None:
            yield hour


def _issue(asked: _Asked, *, hollow: bool = False) -> Usual:
    today = asked.begins.astimezone(asked.weather.zone).date()
    return Usual(asked.weather, asked.issued, today, asked.seed, hollow=hollow)


def _hours_between(weather: Weather, begins: datetime, ends: datetime) -> Iterator[Hour]:
    for number in range((ends - begins) // HOUR):
        hour = weather.hours.get(begins + HOUR * number)
        if hour is not None:
            yield hour


WITH_MEMBERS = "ensemble"
SKILLS: Mapping[str, Callable[[_Asked], Iterator[Hour]]] = {
    "perfect": _perfect,
    "persistence": _persistence,
    "usual": _usual,
    WITH_MEMBERS: _usual,
    "hollow": _hollow,
    "issued": _issued,
}
"""The skills by name."""

_USUAL: Mapping[str, float] = {
    "issued_every_h": ISSUED_EVERY_H,
    "low_error_first_day_c": usual.LOW_ERROR_C[1][1],
    "low_error_week_c": usual.LOW_ERROR_C[-2][1],
    "place_bias_c": usual.PLACE_BIAS_C,
    "rank_skill": usual.RANK_SKILL,
    "rank_skill_lost_per_day": usual.RANK_SKILL_LOST_PER_DAY,
    "mistimed_h": usual.MISTIMED_H,
    "lasting_share": usual.LASTING_SHARE,
    "lasting_per_issue": usual.LASTING_PER_ISSUE,
}
PARAMETERS: Mapping[str, Mapping[str, float]] = {
    "perfect": {"known_ahead_days": FORECAST_DAYS},
    "persistence": {"issued_every_h": ISSUED_EVERY_H},
    "usual": _USUAL,
    "ensemble": {**_USUAL, "members": usual.MEMBERS, "reach_days": usual.ENSEMBLE_DAYS},
    "issued": {"issued_every_h": ISSUED_EVERY_H},
    "hollow": {**_USUAL, "colder_from_c": usual.HOLLOW_C[0], "colder_to_c": usual.HOLLOW_C[1]},
}
"""What each skill was made with, for who reads its figures."""
