"""Alerts in words: what is coming, when, and what to do about it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from types import MappingProxyType

from strawbell.model.brief import Alert, AlertCode, Reason, ReasonCode
from strawbell.words.advice import look_yourself
from strawbell.words.escaping import listing, name
from strawbell.words.figures import about_time
from strawbell.words.reasons import reason_sentences
from strawbell.words.voice import Voice


@dataclass(frozen=True, slots=True)
class AlertWords:
    """An alert as every medium shows it; `headline` goes into a subject."""

    code: AlertCode
    title: str
    why: tuple[str, ...]
    advice: str
    headline: str


def merged_alerts(alerts: Iterable[Alert], voice: Voice) -> tuple[AlertWords, ...]:
    """Return alerts in words, those of several batches at the same time in one."""
    groups: dict[tuple[object, ...], list[Alert]] = {}
    for alert in alerts:
        same = (alert.code, alert.starts_at, alert.ends_at, alert.batch is None, alert.detail)
        groups.setdefault(same, []).append(alert)
    return tuple(
        alert_words(_together(group), voice, tuple(alert.batch for alert in group if alert.batch))
        for group in groups.values()
    )


def _together(group: list[Alert]) -> Alert:
    """Return one alert with the reasons and the crops of all."""
    return replace(
        group[0],
        reasons=_gravest_frost(dict.fromkeys(why for alert in group for why in alert.reasons)),
        crops=tuple(dict.fromkeys(crop for alert in group for crop in alert.crops)),
    )


def _gravest_frost(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """Return the reasons, of those of the same frost only the one with the highest limit.

    All are covered; the same night told once for each crop would be noise.
    """
    kept: dict[object, Reason] = {}
    for reason in reasons:
        same: object = reason
        if reason.code is ReasonCode.FROST:
            same = (reason.code, reason.value, reason.at)
            before = kept.get(same)
            if before is not None and (before.threshold or 0.0) >= (reason.threshold or 0.0):
                continue
        kept[same] = reason
    return tuple(kept.values())


def alert_words(alert: Alert, voice: Voice, batches: tuple[str, ...] = ()) -> AlertWords:
    """Return an alert in words, for its own batch or for several."""
    what = NIGHT_UNKNOWN if _night_unknown(alert) else ALERT_TITLES[alert.code]
    span = voice.span(alert.starts_at, alert.ends_at)
    places = batches or ((alert.batch,) if alert.batch else ())
    where = f", {listing(name(batch) for batch in places)}" if places else ""
    start = alert.starts_at
    soon = f" {voice.about(start)}" if start and alert.code in _TIMED else ""
    return AlertWords(
        code=alert.code,
        title=f"{what}{where}{', ' + span if span else ''}",
        why=reason_sentences(alert.reasons, voice),
        advice=alert_advice(alert, voice),
        headline=f"{what[0].lower()}{what[1:]}{soon}",
    )


def alert_advice(alert: Alert, voice: Voice) -> str:
    """Return what to do about an alert, with its crops."""
    sentences = [_ADVICE[alert.code](alert, voice)]
    if alert.crops and alert.code not in _NAMES_CROPS:
        sentences.append(f"At risk: {_crops(alert)}.")
    return " ".join(sentence for sentence in sentences if sentence)


def _crops(alert: Alert) -> str:
    return listing(name(crop) for crop in alert.crops)


def _dusk(alert: Alert, voice: Voice) -> str:
    return "dusk" if alert.starts_at is None else voice.dusk_before(alert.starts_at)


def _freeze(alert: Alert, voice: Voice) -> str:
    cover = (
        f"Cover {_crops(alert)} before {_dusk(alert, voice)}, or harvest. " if alert.crops else ""
    )
    return (
        f"{cover}Drain the hose and the tap before dusk, and mind wet hands; what bales are given "
        "they get in the warm hours."
    )


def _frost(alert: Alert, voice: Voice) -> str:
    what = _crops(alert) if alert.crops else "tender plants"
    return (
        f"Cover {what} before {_dusk(alert, voice)}, held off the leaves; take covers off in the "
        "morning once it is above freezing. Bales stand higher than beds, and low corners of a "
        "garden are colder than the forecast."
    )


def _heavy_rain(_alert: Alert, _voice: Voice) -> str:
    return (
        "Feed nothing before it has passed. Cover bales that were fed in the last few days until "
        "then, and let water run off where it cannot reach a well."
    )


def _hot_dry(alert: Alert, voice: Voice) -> str:
    top, dry = alert.detail, ""
    if top is not None and top.dry_at is not None:
        dry = f"The top surface will be dry by about {about_time(top.dry_at)}. "
    if top is None or top.water_per_bale_l is None:
        return f"{dry}Water in the cool of the day, not at midday."
    water, times = voice.measures.water(top.water_per_bale_l), top.times_a_day
    often = "" if times <= 1 else ", twice today" if times == 2 else f", {times} times today"  # noqa: PLR2004
    return f"{dry}Water the top surface early in the morning: {water} a bale{often}; not at midday."


def _heat_person(_alert: Alert, _voice: Voice) -> str:
    return (
        "Do the work early in the morning or in the evening, drink, wear a hat and rest in "
        "the shade. Stop when dizzy, sick or confused, and call for medical help if it does not "
        "pass."
    )


def _self_heating(_alert: Alert, _voice: Voice) -> str:
    return (
        "Measure it morning and evening. Smoke, a smell of burning or a reading that still "
        "climbs: keep away, keep others away, and call the fire service; do not pull it apart "
        "yourself."
    )


def _unjudged(alert: Alert, voice: Voice) -> str:
    if _night_unknown(alert):
        what = _crops(alert) if alert.crops else "tender plants"
        return (
            "How cold the night will be is not known. Look at a thermometer in the evening, and "
            f"cover {what} when in doubt."
        )
    return look_yourself(voice)


def _night_unknown(alert: Alert) -> bool:
    """Return whether a forecast is there, but not for the night over the plants of a batch."""
    return alert.code is AlertCode.NO_FORECAST and alert.batch is not None


ALERT_TITLES: MappingProxyType[AlertCode, str] = MappingProxyType(
    {
        AlertCode.FREEZE: "Freeze",
        AlertCode.FROST: "Frost",
        AlertCode.HEAVY_RAIN: "Heavy rain",
        AlertCode.HOT_DRY: "Hot and dry",
        AlertCode.HEAT_PERSON: "Heat for people",
        AlertCode.SELF_HEATING: "Self-heating bale",
        AlertCode.NO_FORECAST: "No forecast",
        AlertCode.STALE_FORECAST: "Forecast too old",
    }
)
_ADVICE: MappingProxyType[AlertCode, Callable[[Alert, Voice], str]] = MappingProxyType(
    {
        AlertCode.FREEZE: _freeze,
        AlertCode.FROST: _frost,
        AlertCode.HEAVY_RAIN: _heavy_rain,
        AlertCode.HOT_DRY: _hot_dry,
        AlertCode.HEAT_PERSON: _heat_person,
        AlertCode.SELF_HEATING: _self_heating,
        AlertCode.NO_FORECAST: _unjudged,
        AlertCode.STALE_FORECAST: _unjudged,
    }
)
NIGHT_UNKNOWN = "Night not known"
_TIMED = frozenset({AlertCode.FREEZE, AlertCode.FROST, AlertCode.HEAVY_RAIN, AlertCode.HOT_DRY})
_NAMES_CROPS = frozenset({AlertCode.FREEZE, AlertCode.FROST})
