"""Why: every reason as one sentence, what is coming as a warning, every usual caution.

A reason is said as a neighbour would say it; its numbers stand in `why`. A warning says what to do
that no task of the day says. Cautions are reminders, never instructions of their own authority: the
label, the local code and whoever is licensed for the work come first.

References:
[1] Ammonium nitrate is an oxidiser, kept away from straw and other organic matter (hazard
    statement H272 of its safety data sheets).
[2] Blood and bone meal harm dogs that eat them (veterinary case series; common practice).
[3] Farmer's lung from mouldy straw, respirators of N95 or better (Agricultural Safety and Health,
    ag-safety.extension.org).
[4] Weight of a soaked bale: a 40-50 lb bale takes up about 15 US gal of water, 165-175 lb in all
    (Mississippi State University Extension, "Growing in the Bale"); 75-79 kg by arithmetic.
[5] Herbicide carry-over and the bean test: NC State Extension, "Herbicide Carryover"; WSU Whatcom
    County, "Bioassay".
[6] Self-heating of stacked hay: Purdue Extension; University of Kentucky. A single bale seldom
    ignites.
[7] Raw manure: USDA National Organic Program, 7 CFR 205.203(c).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from datetime import time

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.brief import (
    Action,
    Alert,
    AlertCode,
    Caution,
    Instead,
    Reason,
    ReasonCode,
    State,
    Task,
    Turn,
    TurnsBy,
)
from strawbell.words.catalogue import Tongue
from strawbell.words.escaping import name
from strawbell.words.voice import Voice, crops_name, dry_time

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
    """Return the reasons as sentences, each of them once.

    Of a long wait that is not counted nothing is said: the other reasons say what it waits for.
    """
    told = (why for why in reasons if why.code is not ReasonCode.HELD_LONG or why.value is not None)
    return tuple(dict.fromkeys(reason_sentence(reason, voice) for reason in told))


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


URGENT = frozenset({AlertCode.SELF_HEATING})
"""What goes before all work."""
_WATERS = frozenset({Action.WATER, Action.SURFACE_WATER, Action.SOAK, Action.FEED})
_OF_TROUBLE = frozenset({AlertCode.NO_FORECAST, AlertCode.STALE_FORECAST})


class AlertWords(Struct, frozen=True):
    """An alert as every medium shows it; `headline` goes into a subject."""

    code: AlertCode
    headline: str
    advice: str
    why: tuple[str, ...]


def merged_alerts(
    alerts: Iterable[Alert], voice: Voice, tasks: Iterable[Task] = ()
) -> tuple[AlertWords, ...]:
    """Return alerts in words, those of several batches at the same time in one.

    What `tasks` of the day say already is left out.
    """
    tasks = tuple(tasks)
    groups: dict[tuple[object, ...], list[Alert]] = {}
    for alert in alerts:
        same = (alert.code, alert.starts_at, alert.ends_at, alert.batch is None, alert.detail)
        groups.setdefault(same, []).append(alert)
    words = (
        alert_words(left, voice, tuple(one.batch for one in group if one.batch))
        for group in groups.values()
        if (left := _left_by(tasks, _together(group), group)) is not None
    )
    return tuple(sorted(words, key=lambda each: each.code not in URGENT))


def _together(group: list[Alert]) -> Alert:
    """Return one alert with the reasons and the crops of all."""
    return replace(
        group[0],
        reasons=gravest(dict.fromkeys(why for alert in group for why in alert.reasons)),
        crops=tuple(dict.fromkeys(crop for alert in group for crop in alert.crops)),
    )


def _left_by(tasks: tuple[Task, ...], alert: Alert, group: list[Alert]) -> Alert | None:
    """Return what of an alert no task says yet, None when that is nothing."""
    covered = {
        crop
        for task in tasks
        if task.action is Action.PROTECT and task.state is State.DUE
        for crop in task.crops
    }
    left = replace(alert, crops=tuple(crop for crop in alert.crops if crop not in covered))
    if alert.code is AlertCode.FROST:
        return None if alert.crops and not left.crops else left
    if alert.code is AlertCode.FREEZE:
        drained = any(Instead.DRAIN_HOSE in task.instead for task in tasks)
        return None if drained and not left.crops else left
    if alert.code is AlertCode.HOT_DRY:
        watered = {task.batch for task in tasks if _says_water(task)}
        return None if {one.batch for one in group} <= watered else alert
    return None if alert.code in _OF_TROUBLE and alert.batch is None and tasks else left


def _says_water(task: Task) -> bool:
    known = task.water_per_bale_l is not None or task.dose is not None
    return known and task.state is State.DUE and task.action in _WATERS


def alert_words(alert: Alert, voice: Voice, batches: tuple[str, ...] = ()) -> AlertWords:
    """Return an alert in words, for its own batch or for several."""
    start, top, tongue = alert.starts_at, alert.detail, voice.tongue
    batches = batches or ((alert.batch,) if alert.batch else ())
    is_all = alert.code in _OF_THE_AIR or set(batches) >= set(voice.places)
    # A forecast is there, but not for the night over the plants of a batch.
    night = alert.code is AlertCode.NO_FORECAST and alert.batch is not None
    litres = None if top is None else top.water_per_bale_l
    dry_at = None if top is None else dry_time(top.dry_at)
    named = (crops_name(crop, tongue) for crop in alert.crops)
    advice = tongue.of(
        "alert",
        alert.code,
        "advice",
        label="" if is_all else tongue.listing(map(name, batches)),
        crops=tongue.listing(voice.say("task.the-crop", crop=each) for each in named),
        dark=voice.dark_before(start),
        water=None if litres is None else voice.measures.water(litres),
        times=1 if top is None else top.times_a_day,
        dry_at=None if dry_at is None else voice.clock(dry_at),
        by=voice.horizon(voice.rules.rain_look_ahead_h),
        night=night,
    )
    when = None if start is None else voice.about(start)
    return AlertWords(
        code=alert.code,
        headline=tongue.of("alert", alert.code, "headline", when=when, night=night),
        advice=advice,
        why=reason_sentences(alert.reasons, voice),
    )


_OF_THE_AIR = frozenset({AlertCode.FREEZE, AlertCode.FROST, AlertCode.HEAT_PERSON})
"""What comes over all batches alike."""


class CautionWords(Struct, frozen=True):
    """A caution as shown: what it is about, and the sentences."""

    code: Caution
    head: str
    sentences: str
    whole: str
    """Head and sentences in one."""


def caution_words(caution: Caution, voice: Voice) -> CautionWords:
    """Return a caution in the grower's units."""
    head, said = (voice.tongue.of("caution", caution, row) for row in ("head", "text"))
    return CautionWords(caution, head, said, voice.say("task.care", head=head, text=said))


def caution_list(cautions: Iterable[Caution], voice: Voice) -> tuple[CautionWords, ...]:
    """Return cautions in the order of the vocabulary, the gravest first, each once."""
    wanted = set(cautions)
    order = (*_GRAVE, *(caution for caution in Caution if caution not in _GRAVE))
    return tuple(caution_words(caution, voice) for caution in order if caution in wanted)


_GRAVE = (Caution.AMMONIUM_NITRATE, Caution.SELF_HEATING, Caution.HEAT_PERSON)
