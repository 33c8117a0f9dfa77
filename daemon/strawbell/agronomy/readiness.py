"""Whether a batch has cooled enough to plant: by the probe first, by the model where there is none.

Roots are safe under about 37.5 degC [1] once the bale has been hot and is falling. The same
figure on a bale that has not heated yet means nothing, so a single low reading before the peak is
never taken for "cooled".

References:
[1] WSU Extension FS109E: plant at or under 99 F, from day 11; Kansas State Research and Extension
    and Montana State University Extension: under 100 F, probed daily after day 10.
[2] University of California ANR Publication 8559 (2016): old bales may never pass 38 degC and
    still need conditioning.
[3] Purdue University Extension, temperatures of stacked hay (rain-moist hay, 2024): 125 F none,
    150 F twice a day, 160 F every two hours, 175 F hot spots, 190 F fire likely, 200 F imminent.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from enum import StrEnum

from msgspec import Struct

READING_RECENT_H = 48.0
"""A reading up to this old beats the model: probing is daily after day 10 [1]."""
SAME_ROUND_H = 12.0
"""Readings this close belong to one round of probing; the hottest bale of a round counts."""
FALLING_WITHIN_DAYS = 7
"""An earlier round this near may show that the bale is falling (common practice)."""


class Reading(Struct, frozen=True):
    """A probe reading in the core of a bale: when, and what it showed [degC]."""

    at: datetime
    temperature_c: float


class EffectiveDays(Struct, frozen=True):
    """Conditioning done so far, in days of mild weather [d], from the least to the most."""

    low: float
    high: float


class Span(Struct, frozen=True):
    """A number of days to go [d]: earliest, expected, latest; None is not foreseeable."""

    low: int
    expected: int | None
    high: int | None


class Progress(Struct, frozen=True):
    """How far conditioning is: done and needed in days of mild weather [d], and days to go."""

    done: EffectiveDays
    needed: float
    to_go: Span


class CoreDay(Struct, frozen=True):
    """The core temperature expected on a local date, four cases in five within low to high."""

    on: date
    low_c: float
    expected_c: float
    high_c: float


class CoreOutlook(Struct, frozen=True):
    """The core temperature for the days ahead, today first.

    `from_readings`: a reading of the last seven days is in it. `peak_on`: the date on which the
    bale is furthest above the air; None when it never is, or is still rising at the end.
    """

    days: tuple[CoreDay, ...]
    from_readings: bool
    peak_on: date | None


class Ready(StrEnum):
    """Whether the batch may be planted."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class ReadinessCode(StrEnum):
    """Why readiness came out as it did."""

    PLAN_NOT_FINISHED = "plan-not-finished"
    CONDITIONING_SHORT = "conditioning-short"
    CONDITIONING_UNSURE = "conditioning-unsure"
    READING_TOO_HOT = "reading-too-hot"
    READING_COOLED = "reading-cooled"
    NOT_HEATED_YET = "not-heated-yet"
    EXPECTED_TOO_HOT = "expected-too-hot"
    EXPECTED_COOLED = "expected-cooled"
    BAND_TOO_WIDE = "band-too-wide"
    NO_OUTLOOK = "no-outlook"
    SELF_HEATING = "self-heating"


class Readiness(Struct, frozen=True):
    """Whether, and from when, a batch may be planted.

    `first_safe_on` is the first date on which planting is expected to be safe, `latest_on` the
    one by which it should be even if all is late; None where it cannot be foreseen. `reading_c`
    is the hottest of the latest round of probing, None when that is too old. `ask_signs`: ask
    for the signs that need no thermometer.
    """

    ready: Ready
    first_safe_on: date | None
    latest_on: date | None
    reasons: tuple[ReadinessCode, ...]
    self_heating: bool
    ask_signs: bool
    reading_c: float | None = None


def readiness(
    progress: Progress | None,
    outlook: CoreOutlook | None,
    readings: Sequence[Reading],
    now: datetime,
    *,
    plan_day: int,
    plant_from_day: int,
    plant_below_c: float,
    self_heating_c: float,
) -> Readiness:
    """Return whether a batch may be planted, and from when.

    A round of probing up to 48 h old beats the model: at or over the limit it is not ready; under
    it, ready when an earlier round was at the limit, or when rounds fall or the modelled peak has
    passed and conditioning is not surely short. Without one, the whole band of today has to lie
    under the limit after the peak and conditioning has to be surely complete.

    Args:
        progress: Conditioning done, needed and to go [d of mild weather, d]; None when unknown.
        outlook: Core temperature from today on [degC]; None when it could not be computed.
        readings: Probe readings of the batch [degC], in any order; those after `now` are left out.
        now: The moment, aware and garden-local (ValueError for a naive one).
        plan_day, plant_from_day: Day of the conditioning sequence, and the one from which its
            schedule plants [d, 1 up].
        plant_below_c: Core temperature under which roots are safe [degC], finite.
        self_heating_c: Core temperature from which the caution of self-heating is given [degC],
            finite.

    Returns:
        The verdict with its reasons and dates.

    Sources: [1] [2] of the module; how they are put together is common practice.
    """
    if now.tzinfo is None:
        raise ValueError("now must be aware and garden-local, got a naive datetime")
    for name, value in (("plant_below_c", plant_below_c), ("self_heating_c", self_heating_c)):
        if not math.isfinite(value):
            raise ValueError(f"{name} must be a finite temperature, got {value}")
    rounds = _rounds(readings, now)
    latest = rounds[-1] if rounds else None
    recent = latest is not None and (now - latest.at).total_seconds() <= READING_RECENT_H * 3600.0
    planned = plan_day >= plant_from_day
    if latest is not None and recent:
        ready, reason = _by_reading(rounds, progress, outlook, now.date(), plant_below_c)
    else:
        ready, reason = _by_model(progress, outlook, now.date(), plant_below_c)
    reasons = [reason]
    if not planned:
        reasons.append(ReadinessCode.PLAN_NOT_FINISHED)
        ready = Ready.NO
    reading_c = latest.temperature_c if latest is not None and recent else None
    self_heating = reading_c is not None and reading_c >= self_heating_c
    if self_heating:
        reasons.append(ReadinessCode.SELF_HEATING)
    wait = max(0, plant_from_day - plan_day)
    first_on, latest_on = _dates(progress, outlook, now.date(), wait, plant_below_c, ready)
    if ready is Ready.YES:
        first_on = latest_on = now.date()
    return Readiness(
        ready=ready,
        first_safe_on=first_on,
        latest_on=latest_on,
        reasons=tuple(reasons),
        self_heating=self_heating,
        ask_signs=not recent or ready is Ready.UNKNOWN,
        reading_c=reading_c,
    )


def _rounds(readings: Sequence[Reading], now: datetime) -> list[Reading]:
    """Return the rounds of probing, oldest first, each as its last moment and hottest bale."""
    rounds: list[Reading] = []
    opened: datetime | None = None
    for reading in sorted(readings, key=lambda reading: reading.at):
        if reading.at > now:
            continue
        if opened is not None and (reading.at - opened).total_seconds() <= SAME_ROUND_H * 3600.0:
            hottest = max(rounds[-1].temperature_c, reading.temperature_c)
            rounds[-1] = Reading(reading.at, hottest)
        else:
            opened = reading.at
            rounds.append(reading)
    return rounds


def _by_reading(
    rounds: Sequence[Reading],
    progress: Progress | None,
    outlook: CoreOutlook | None,
    today: date,
    limit_c: float,
) -> tuple[Ready, ReadinessCode]:
    """Judge by the latest round of probing."""
    latest, earlier = rounds[-1], rounds[:-1]
    if latest.temperature_c >= limit_c:
        return Ready.NO, ReadinessCode.READING_TOO_HOT
    if any(reading.temperature_c >= limit_c for reading in earlier):
        return Ready.YES, ReadinessCode.READING_COOLED
    falling = (
        bool(earlier)
        and earlier[-1].temperature_c > latest.temperature_c
        and latest.at - earlier[-1].at <= timedelta(days=FALLING_WITHIN_DAYS)
    )
    if _surely_short(progress):
        return Ready.NO, ReadinessCode.NOT_HEATED_YET
    if falling or _peak_passed(outlook, today):
        return Ready.YES, ReadinessCode.READING_COOLED
    return Ready.UNKNOWN, ReadinessCode.NOT_HEATED_YET


def _by_model(
    progress: Progress | None, outlook: CoreOutlook | None, today: date, limit_c: float
) -> tuple[Ready, ReadinessCode]:
    """Judge by the band of today, for want of a recent reading."""
    core = _day(outlook, today)
    if core is not None and core.low_c >= limit_c:
        return Ready.NO, ReadinessCode.EXPECTED_TOO_HOT
    if _surely_short(progress):
        return Ready.NO, ReadinessCode.CONDITIONING_SHORT
    if core is None:
        return Ready.UNKNOWN, ReadinessCode.NO_OUTLOOK
    if not _peak_passed(outlook, today):
        return Ready.UNKNOWN, ReadinessCode.NOT_HEATED_YET
    if core.high_c >= limit_c:
        return Ready.UNKNOWN, ReadinessCode.BAND_TOO_WIDE
    if progress is None or progress.done.low < progress.needed:
        return Ready.UNKNOWN, ReadinessCode.CONDITIONING_UNSURE
    return Ready.YES, ReadinessCode.EXPECTED_COOLED


def _dates(
    progress: Progress | None,
    outlook: CoreOutlook | None,
    today: date,
    wait_days: int,
    limit_c: float,
    ready: Ready,
) -> tuple[date | None, date | None]:
    """Return the first date planting is expected to be safe, and the latest."""
    if outlook is None or outlook.peak_on is None or progress is None:
        return None, None
    from_on = today + timedelta(days=max(wait_days, 1 if ready is Ready.NO else 0))
    after = [core for core in outlook.days if core.on > outlook.peak_on]
    dates: list[date | None] = []
    for to_go, expected in ((progress.to_go.expected, True), (progress.to_go.high, False)):
        cooled_on = _cooled_on(after, limit_c, expected=expected)
        if to_go is None or cooled_on is None:
            dates.append(None)
        else:
            dates.append(max(from_on, cooled_on, today + timedelta(days=to_go)))
    return dates[0], dates[1]


def _cooled_on(days: Sequence[CoreDay], limit_c: float, *, expected: bool) -> date | None:
    """Return the first date from which every later day stays under the limit."""
    found: date | None = None
    for core in reversed(days):
        if (core.expected_c if expected else core.high_c) >= limit_c:
            break
        found = core.on
    return found


def _surely_short(progress: Progress | None) -> bool:
    return progress is not None and progress.done.high < progress.needed


def _peak_passed(outlook: CoreOutlook | None, today: date) -> bool:
    return outlook is not None and outlook.peak_on is not None and outlook.peak_on < today


def _day(outlook: CoreOutlook | None, today: date) -> CoreDay | None:
    if outlook is None:
        return None
    return next((core for core in outlook.days if core.on == today), None)
