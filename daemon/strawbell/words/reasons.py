"""Every reason as one sentence, as a neighbour would say it; its numbers stand in `why`."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from datetime import time

from msgspec.structs import replace

from strawbell.model.brief import Reason, ReasonCode, Turn, TurnsBy
from strawbell.words.catalogue import Tongue
from strawbell.words.voice import Voice

TEN = 10
ROUNDING = 1e-6
"""What halving leaves of a figure in tens."""
WARM_HOURS = (time(11), time(15))
"""The warmest hours of a day of early spring (common practice)."""


def reason_sentence(reason: Reason, voice: Voice) -> str:
    """Return one reason as a sentence; numbers that are not known are left out."""
    at, limit_c, rules = reason.at, reason.threshold, voice.rules
    first, last = map(voice.clock, WARM_HOURS)
    tens = None if reason.chance is None else tens_of(reason.chance)
    if reason.code is ReasonCode.RAIN_POSSIBLE:
        tens = tens or 0
    code = reason.code
    if code is ReasonCode.NOT_READY and reason.unit == "day":
        code = ReasonCode.SHORT_OF_DAYS  # As older journals have it.
    value = _whole(reason.value, reason.unit, voice)
    if code is ReasonCode.FROST and tens is not None and (reason.value or 0.0) > 0.0:
        value = ""  # What is likely is no frost; the chance is that of one.
    sentence = voice.tongue.of(
        "reason",
        code,
        unit=reason.unit,
        value=value,
        limit=_whole(limit_c, reason.unit, voice),
        below=None if limit_c is None else below(limit_c, voice),
        by=voice.horizon(rules.rain_look_ahead_h),
        at=None if at is None else voice.at(at),
        on=None if at is None else voice.day_said(voice.local(at).date()),
        tens=tens,
        likely=(reason.chance or 0.0) * 100.0 >= rules.rain_hold_chance_percent,
        wait=None if reason.wait_costs_days is None else bool(reason.wait_costs_days),
        past=limit_c == 0,
        first=first,
        last=last,
    )
    return sentence if reason.turn is None else f"{sentence} {_turn(reason.turn, voice)}"


def _turn(turn: Turn, voice: Voice) -> str:
    """Return what would bring held work back today; never less than it takes."""
    if turn.by is TurnsBy.CHANCE_UNDER:
        tens = math.floor(turn.at * TEN + ROUNDING)
        return voice.tongue.of("turn", turn.by, tens=tens, value=None)
    up = math.floor if turn.by is TurnsBy.READING_UNDER else math.ceil
    degrees = up(turn.at * 1.8 + 32 if voice.measures.us else turn.at)
    value = voice.measures.amount(voice.measures.degree, degrees, 0)
    return voice.tongue.of("turn", turn.by, tens=None, value=value)


def reason_sentences(reasons: Iterable[Reason], voice: Voice) -> tuple[str, ...]:
    """Return the reasons as sentences, each of them once."""
    return tuple(dict.fromkeys(reason_sentence(reason, voice) for reason in reasons))


def gravest(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """Return the reasons, of those of the same weather only the one that weighs most.

    Of a frost that is the highest limit, since all are covered; else what waiting costs most. The
    same night or rain told once for each crop and batch would be noise.
    """
    kept: dict[object, Reason] = {}
    for reason in reasons:
        same = _weather_of(reason)
        before = kept.get(same)
        if before is None or _weight(reason) > _weight(before):
            kept[same] = reason
    return tuple(kept.values())


def _weather_of(reason: Reason) -> object:
    if reason.code is ReasonCode.FROST:
        return reason.code, reason.value, reason.at
    return replace(reason, wait_costs_days=None, loss_if_done=None, loss_if_waited=None, turn=None)


def _weight(reason: Reason) -> float:
    if reason.code is ReasonCode.FROST:
        return reason.threshold or 0.0
    return -1.0 if reason.wait_costs_days is None else float(reason.wait_costs_days)


def in_tens(chance: float, tongue: Tongue) -> str:
    """Return a chance in tens, as people read it best: "about 3 in 10"; never none, never all."""
    return tongue.say("chance.tens", tens=tens_of(chance))


def tens_of(chance: float) -> int:
    """Return a chance as a count in ten."""
    return round(chance * TEN)


def reason_headline(reason: Reason, voice: Voice) -> str:
    """Return a reason in a few words for a subject: "frost tonight", "heavy rain on the way"."""
    when = None if reason.at is None else voice.about(reason.at)
    return voice.tongue.of("headline", reason.code, when=when)


def chance_figure(reason: Reason, voice: Voice) -> tuple[str, str] | None:
    """Return a chance as a large figure and what it is of, None where none is known."""
    if reason.chance is None or not 1 <= tens_of(reason.chance) < TEN:
        return None
    if reason.code not in (ReasonCode.HEAVY_RAIN, ReasonCode.FREEZE):
        return None
    figure = voice.say("chance.figure", tens=tens_of(reason.chance))
    return figure, voice.say("chance.for", code=reason.code)


def number_of(value: float | None, unit: str, voice: Voice) -> str:
    """Return a reason's number in the grower's units, from the unit the reason names."""
    measures = voice.measures
    shown: dict[str, Callable[[float | None], str]] = {
        "mm": measures.rain,
        "degC": measures.temperature,
        "percent": measures.percent,
        "h": measures.hours,
        "g": measures.mass,
        "L": measures.water,
        "cm": measures.length,
    }
    if unit in shown:
        return shown[unit](value)
    plain = measures.number(value, 0 if unit == "day" else 1)
    known = value is not None and unit and unit != "day"
    return voice.say("amount.other", n=plain, unit=unit) if known else plain


def _whole(value: float | None, unit: str, voice: Voice) -> str:
    """Return a number of a reason as it is said: degrees and millimetres whole, "" for none."""
    if value is None:
        return ""
    whole = {"degC": voice.measures.warmth, "mm": voice.measures.whole_rain}
    return whole[unit](value) if unit in whole else number_of(value, unit, voice)


def below(limit_c: float, voice: Voice) -> str:
    """Return a temperature to stay below, in whole degrees and never above it: "37 °C"."""
    shown = limit_c * 1.8 + 32 if voice.measures.us else limit_c
    return voice.measures.amount(voice.measures.degree, math.floor(shown), 0)
