"""Alerts in words: what is coming, and what to do about it that no task of the day says."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.brief import (
    Action,
    Alert,
    AlertCode,
    Instead,
    State,
    Task,
)
from strawbell.words.escaping import name
from strawbell.words.figures import dry_time
from strawbell.words.nouns import crops_name
from strawbell.words.reasons import gravest, reason_sentences
from strawbell.words.voice import Voice

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
