"""Alerts in words: what is coming, and what to do about it that no task of the day says."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

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
from strawbell.words.advice import look_yourself
from strawbell.words.escaping import capital, listing, name
from strawbell.words.figures import quarter
from strawbell.words.nouns import crops_name
from strawbell.words.reasons import gravest_frost, reason_sentences
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
        reasons=gravest_frost(dict.fromkeys(why for alert in group for why in alert.reasons)),
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
    what = NIGHT_UNKNOWN if _night_unknown(alert) else ALERT_NAMES[alert.code]
    start = alert.starts_at
    soon = f" {voice.about(start)}" if start and alert.code in _TIMED else ""
    places = batches or ((alert.batch,) if alert.batch else ())
    label = listing(name(batch) for batch in places)
    is_all = alert.code in _OF_THE_AIR or set(places) >= set(voice.places)
    advice = _ADVICE[alert.code](alert, voice)
    return AlertWords(
        code=alert.code,
        headline=f"{what}{soon}",
        advice=capital(advice) if is_all or not label else f"{label}: {advice}",
        why=reason_sentences(alert.reasons, voice),
    )


def _crops(alert: Alert) -> str:
    return listing(f"the {crops_name(crop)}" for crop in alert.crops)


def _dusk(alert: Alert, voice: Voice) -> str:
    return voice.dark_before(alert.starts_at)


def _freeze(alert: Alert, voice: Voice) -> str:
    cover = f"cover {_crops(alert)} before {_dusk(alert, voice)} and " if alert.crops else ""
    return f"{cover}empty the hose before {_dusk(alert, voice)}; water only in the warm hours."


def _frost(alert: Alert, voice: Voice) -> str:
    what = _crops(alert) if alert.crops else "tender plants"
    return f"cover {what} before {_dusk(alert, voice)}."


def _heavy_rain(_alert: Alert, _voice: Voice) -> str:
    return "cover the bales you fed until the rain is over."


def _hot_dry(alert: Alert, voice: Voice) -> str:
    top, dry = alert.detail, ""
    if top is not None and top.dry_at is not None:
        dry = f" The top is dry by about {voice.clock(quarter(top.dry_at))}."
    if top is None or top.water_per_bale_l is None:
        return f"water early in the morning, not at midday.{dry}"
    water = voice.measures.water(top.water_per_bale_l)
    often = {1: "", 2: ", twice"}.get(top.times_a_day, f", {top.times_a_day} times")
    return f"water the tops early, {water} a bale{often}; not at midday.{dry}"


def _heat_person(_alert: Alert, _voice: Voice) -> str:
    return "work early or late, drink, and rest in the shade."


def _self_heating(_alert: Alert, _voice: Voice) -> str:
    return (
        "measure it morning and evening. Smoke, a burning smell or a reading that still climbs: "
        "keep away and call the fire service; don't pull it apart."
    )


def _unjudged(alert: Alert, voice: Voice) -> str:
    if _night_unknown(alert):
        what = _crops(alert) if alert.crops else "tender plants"
        return f"I don't know tonight's low: look at a thermometer at dusk; in doubt, cover {what}."
    return look_yourself(voice)


def _night_unknown(alert: Alert) -> bool:
    """Return whether a forecast is there, but not for the night over the plants of a batch."""
    return alert.code is AlertCode.NO_FORECAST and alert.batch is not None


def _not_heating(_alert: Alert, _voice: Voice) -> str:
    return "it stays cool inside: look into a bale before you feed."


ALERT_NAMES: Mapping[AlertCode, str] = {
    AlertCode.FREEZE: "frost",
    AlertCode.FROST: "frost",
    AlertCode.HEAVY_RAIN: "heavy rain",
    AlertCode.HOT_DRY: "hot and dry",
    AlertCode.HEAT_PERSON: "great heat",
    AlertCode.SELF_HEATING: "a bale is very hot inside",
    AlertCode.NOT_HEATING: "a bale stays cool inside",
    AlertCode.NO_FORECAST: "no forecast",
    AlertCode.STALE_FORECAST: "forecast too old",
}
_ADVICE: Mapping[AlertCode, Callable[[Alert, Voice], str]] = {
    AlertCode.FREEZE: _freeze,
    AlertCode.FROST: _frost,
    AlertCode.HEAVY_RAIN: _heavy_rain,
    AlertCode.HOT_DRY: _hot_dry,
    AlertCode.HEAT_PERSON: _heat_person,
    AlertCode.SELF_HEATING: _self_heating,
    AlertCode.NOT_HEATING: _not_heating,
    AlertCode.NO_FORECAST: _unjudged,
    AlertCode.STALE_FORECAST: _unjudged,
}
NIGHT_UNKNOWN = "night not known"
_TIMED = frozenset({AlertCode.FREEZE, AlertCode.FROST, AlertCode.HEAVY_RAIN, AlertCode.HOT_DRY})
_OF_THE_AIR = frozenset({AlertCode.FREEZE, AlertCode.FROST, AlertCode.HEAT_PERSON})
"""What comes over all batches alike."""
