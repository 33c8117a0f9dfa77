"""The brief, the season and the journal as JSON, version 2: names carry units, times offsets.

Names are only ever added; renaming one is a new version. `None` is unknown. Typed details stand in
them as numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import date, datetime, time, tzinfo
from types import MappingProxyType
from typing import assert_never

from strawbell.model.brief import (
    Action,
    Alert,
    BatchOutlook,
    Brief,
    Preparation,
    Question,
    Reason,
    Task,
)
from strawbell.model.details import (
    Band,
    Detail,
    DryTopDetail,
    Ending,
    FeedDetail,
    HarvestDetail,
    LookDetail,
    MixDetail,
    PlantDetail,
    SoakDetail,
    SpreadDetail,
    SupportDetail,
    ThinDetail,
    TopWaterDetail,
)
from strawbell.model.feeds import Dose
from strawbell.model.forecast import DayWeather, ForecastUse
from strawbell.model.garden import Garden
from strawbell.model.journal import JournalEntry
from strawbell.model.season import SeasonDay
from strawbell.words.advice import beside, instead_sentences
from strawbell.words.morning import crowding_sentences, step_sentences
from strawbell.words.reasons import alert_words, caution_list
from strawbell.words.voice import Voice

MINUTES_AN_HOUR = 60
Figures = dict[str, float]


def detail_figures(detail: Detail | DryTopDetail | None) -> Figures:
    """Return a detail as it stands in a document; yes is 1, and no and unknown are left out."""
    match detail:
        case None:
            return {}
        case SoakDetail():
            return _yes("soaked_before", detail.again)
        case FeedDetail():
            return {"every_days": detail.every_days}
        case LookDetail():
            return {"week": detail.week}
        case MixDetail():
            return {"layer_cm": detail.layer_cm, "mix_per_bale_l": detail.per_bale_l}
        case PlantDetail():
            return _plant_figures(detail)
        case TopWaterDetail():
            return _ends("up_in_days", detail.up_in_days) | _hour(detail.dry_at)
        case ThinDetail():
            return {"thin_to_cm": detail.to_cm}
        case SupportDetail():
            return {"height_cm": detail.height_cm, "upright_cm": detail.upright_cm}
        case HarvestDetail():
            return dict.fromkeys(_ENDINGS[detail.ending], 1.0)
        case SpreadDetail():
            return (
                {"strings": detail.strings, "spread_cm": detail.depth_cm}
                | _ends("area_m2", detail.area_m2)
                | _ends("nitrogen_g", detail.nitrogen_g)
            )
        case DryTopDetail():
            return (
                _known("water_l_per_bale", detail.water_per_bale_l)
                | {"times_a_day": detail.times_a_day}
                | _hour(detail.dry_at)
            )
    assert_never(detail)


def outlook_figures(outlook: BatchOutlook) -> Figures:
    """Return what is computed for a batch as it stands in a document."""
    figures: Figures = {}
    if (conditioning := outlook.conditioning) is not None:
        figures |= _ends("conditioned_days", conditioning.done_days)
        figures |= _ends("to_go_days", conditioning.to_go_days)
    if (core := outlook.core) is not None:
        figures |= {"core_c_low": core.low_c, "core_c_high": core.high_c}
        figures |= {"core_expected_c": core.expected_c, "core_from_probe": float(core.from_probe)}
    if (nitrogen := outlook.nitrogen) is not None:
        figures["nitrogen_given_g_per_bale"] = nitrogen.given_g
        figures["nitrogen_planned_g_per_bale"] = nitrogen.planned_g
        figures |= _ends("nitrogen_lost_g_per_bale", nitrogen.lost_g)
        figures |= _ends("carbon_to_nitrogen", nitrogen.carbon_to_nitrogen)
        figures |= _known("unknown_rain_days", nitrogen.unknown_rain_days or None)
    if (make_up := outlook.make_up) is not None:
        figures["make_up_nitrogen_g_per_bale"] = make_up.nitrogen_g
        figures["make_up_feed_g_per_bale"] = make_up.feed_g
    return figures | _known("evaporation_today_mm", outlook.evaporation_mm)


def _plant_figures(detail: PlantDetail) -> Figures:
    return (
        {"spacing_cm": detail.spacing_cm}
        | _ends("plants_per_bale", detail.per_bale)
        | {"edge_cm": detail.edge_cm}
        | _known("rows", detail.rows)
        | _yes("killed", detail.again)
        | _known("depth_cm", detail.depth_cm)
        | _ends("up_in_days", detail.up_in_days)
        | _known("upright_cm", detail.upright_cm)
    )


_ENDINGS: Mapping[Ending, tuple[str, ...]] = MappingProxyType(
    {
        Ending.LAST: ("last_harvest",),
        Ending.KILLED: ("last_harvest", "killed"),
        Ending.TOO_LATE: ("too_late",),
    }
)


def _yes(name: str, value: bool) -> Figures:
    return {name: 1.0} if value else {}


def _known(name: str, value: float | None) -> Figures:
    return {} if value is None else {name: value}


def _ends(name: str, ends: Band | None) -> Figures:
    return {} if ends is None else {f"{name}_low": ends.low} | _known(f"{name}_high", ends.high)


def _hour(at: time | None) -> Figures:
    return {} if at is None else {"dry_at_hour": round(at.hour + at.minute / MINUTES_AN_HOUR, 2)}


VERSION = 2
GRAM_DIGITS = 1
"""Decimals of a mass [g]: what a kitchen scale shows."""
FINE_DIGITS = 2
"""Decimals of everything else."""

Json = dict[str, object]


def brief_json(brief: Brief, garden: Garden) -> Json:
    """Return the brief as version 2 of the JSON of `strawbell today`."""
    voice = Voice.of(garden, brief.on)
    return {
        "version": VERSION,
        "garden": brief.garden,
        "date": brief.on.isoformat(),
        "as_of": _moment(brief.as_of, voice.zone),
        "forecast": _forecast(brief.forecast, voice),
        "weather": weather_json(brief.weather),
        "tasks": [task_json(task, voice) for task in brief.tasks],
        "alerts": [_alert(alert, voice) for alert in brief.alerts],
        "ahead": [
            {
                "date": ahead.on.isoformat(),
                "weather": weather_json(ahead.weather),
                "tasks": [task_json(task, voice) for task in ahead.tasks],
            }
            for ahead in brief.ahead
        ],
        "questions": [_question(question) for question in brief.questions],
        "outlooks": [_outlook(outlook) for outlook in brief.outlooks],
        "not_told": [on.isoformat() for on in brief.not_told],
        "preparing": [_preparation(each, voice) for each in brief.preparing],
        "crowding": [
            {
                "batch": each.batch,
                "early": each.early,
                "late": each.late,
                "wanted_on": each.wanted_on.isoformat(),
                "over_on": each.over_on.isoformat(),
                "advice": crowding_sentences(each, voice),
            }
            for each in brief.crowding
        ],
    }


_COVER = {Action.LAY_TARP: "on", Action.LIFT_TARP: "off"}


def task_json(task: Task, voice: Voice) -> Json:
    """Return one task; what it has no amount of is None."""
    water = task.water_per_bale_l
    if water is None and task.dose is not None:
        water = task.dose.water_per_bale_l
    return {
        "key": task.key.text(),
        "batch": task.batch,
        "bales": task.bales,
        "day": task.day,
        "action": task.action.value,
        "state": task.state.value,
        **_dose(task.dose),
        "water_per_bale_l": _number(water),
        "times_a_day": task.times_a_day,
        "cover": _COVER.get(task.action),
        "crop": ", ".join(task.crops) or None,
        "crops": list(task.crops),
        "plants": task.plants,
        "held_until": _date(task.held_until),
        "held_days": task.held_days,
        "reasons": [_reason(reason, voice.zone) for reason in task.reasons],
        "instead": list(instead_sentences(task.instead, voice)),
        "cautions": [caution.whole for caution in caution_list(task.cautions, voice)],
        "figures": _figures(detail_figures(task.detail)),
        "note": " ".join(beside(task, voice)),
    }


def journal_json(entries: Iterable[JournalEntry], zone: tzinfo | None = None) -> list[Json]:
    """Return journal rows, oldest first as given; `at` in the garden's zone, else in UTC."""
    return [
        {
            "at": _moment(entry.at, zone),
            "garden": entry.garden,
            "date": entry.local_date.isoformat(),
            "kind": entry.kind.value,
            "batch": entry.batch,
            "task": entry.task,
            "state": entry.state,
            "value": _number(entry.value),
            "text": entry.text,
            "data": _plain(entry.data),
        }
        for entry in entries
    ]


def _dose(dose: Dose | None) -> Json:
    if dose is None:
        names = ("feed", "form", "per_bale_g", "total_g", "per_bale_ml", "total_ml")
        nutrients = ("nitrogen", "phosphorus", "potassium")
        return dict.fromkeys(
            (
                *names,
                *(f"{each}_per_bale_g" for each in nutrients),
                *("dilution_ml_per_l", "dilution_g_per_l"),
            )
        )
    return {
        "feed": dose.feed,
        "form": dose.form.value,
        "per_bale_g": _number(dose.per_bale_g, GRAM_DIGITS),
        "total_g": _number(dose.total_g, GRAM_DIGITS),
        "per_bale_ml": _number(dose.per_bale_ml, GRAM_DIGITS),
        "total_ml": _number(dose.total_ml, GRAM_DIGITS),
        "nitrogen_per_bale_g": _number(dose.nitrogen_per_bale_g, GRAM_DIGITS),
        "phosphorus_per_bale_g": _number(dose.phosphorus_per_bale_g, GRAM_DIGITS),
        "potassium_per_bale_g": _number(dose.potassium_per_bale_g, GRAM_DIGITS),
        "dilution_ml_per_l": _number(None if dose.rate is None else dose.rate.ml_per_l),
        "dilution_g_per_l": _number(None if dose.rate is None else dose.rate.g_per_l),
    }


def _reason(reason: Reason, zone: tzinfo) -> Json:
    return {
        "code": reason.code.value,
        "value": _number(reason.value),
        "threshold": _number(reason.threshold),
        "unit": reason.unit,
        "at": None if reason.at is None else _moment(reason.at, zone),
        "chance": _number(reason.chance),
        "loss_if_done": _number(reason.loss_if_done),
        "loss_if_waited": _number(reason.loss_if_waited),
        "wait_costs_days": reason.wait_costs_days,
        "turns_by": None if reason.turn is None else reason.turn.by.value,
        "turns_at": None if reason.turn is None else _number(reason.turn.at),
    }


def _alert(alert: Alert, voice: Voice) -> Json:
    zone = voice.zone
    return {
        "code": alert.code.value,
        "batch": alert.batch,
        "starts_at": None if alert.starts_at is None else _moment(alert.starts_at, zone),
        "ends_at": None if alert.ends_at is None else _moment(alert.ends_at, zone),
        "reasons": [_reason(reason, zone) for reason in alert.reasons],
        "advice": alert_words(alert, voice).advice,
        "crops": list(alert.crops),
        "figures": _figures(detail_figures(alert.detail)),
    }


def _forecast(use: ForecastUse, voice: Voice) -> Json:
    return {
        "status": use.status.value,
        "source": use.source,
        "issued_at": None if use.issued_at is None else _moment(use.issued_at, voice.zone),
        "age_h": _number(use.age_h),
        "attribution": use.attribution,
        "attribution_url": use.attribution_url,
        "members": None if not use.members else {"count": use.members, "from": use.members_source},
    }


def weather_json(weather: DayWeather) -> Json:
    """Return a day's weather; what is unknown is None."""
    return {
        "low_c": _number(weather.low_c),
        "high_c": _number(weather.high_c),
        "rain_mm": _number(weather.rain_mm),
        "rain_chance_percent": _number(weather.rain_chance_percent),
        "complete": weather.complete,
    }


def _question(question: Question) -> Json:
    return {
        "key": question.key.text(),
        "batch": question.batch,
        "day": question.day,
        "date": question.on.isoformat(),
    }


def _preparation(each: Preparation, voice: Voice) -> Json:
    return {
        "batches": list(each.batches),
        "bales": each.bales,
        "start_on": each.start_on.isoformat(),
        "steps": [step.value for step in each.steps],
        "advice": list(step_sentences(each, voice)),
        "next_on": _date(each.next_on),
        "next_steps": [step.value for step in each.next_steps],
    }


def _outlook(outlook: BatchOutlook) -> Json:
    return {
        "batch": outlook.batch,
        "stage": outlook.stage.value,
        "figures": _figures(outlook_figures(outlook)),
        "ready_on": _date(outlook.ready_on),
        "ready_on_latest": _date(outlook.ready_on_latest),
    }


def _figures(figures: Mapping[str, float]) -> Json:
    return {name: _number(value) for name, value in figures.items()}


def _number(value: float | None, digits: int = FINE_DIGITS) -> float | None:
    """Return a rounded number, never -0.0; what is not a number is unknown, as JSON has none."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits) + 0.0


def _date(on: date | None) -> str | None:
    return None if on is None else on.isoformat()


def _moment(moment: datetime, zone: tzinfo | None) -> str:
    local = moment if zone is None else moment.astimezone(zone)
    return local.isoformat(timespec="seconds")


def _plain(value: object) -> object:
    """Return data from the journal in types that JSON has."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, (str, int)):
        return value
    return str(value)


def season_json(days: Iterable[SeasonDay], garden: Garden, today: date) -> Json:
    """Return the season of a garden; `projected` days move with weather and record."""
    voice = Voice.of(garden, today)
    return {
        "version": VERSION,
        "garden": garden.name,
        "date": today.isoformat(),
        "days": [
            {
                "date": day.on.isoformat(),
                "projected": day.projected,
                "weather": weather_json(day.weather),
                "tasks": [task_json(task, voice) for task in day.tasks],
            }
            for day in days
        ],
    }
