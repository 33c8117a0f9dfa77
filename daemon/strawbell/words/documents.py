"""What is kept and printed as JSON, version 2: names carry units, times carry offsets.

Names are only ever added; renaming one is a new version. `None` is unknown. Typed details stand in
it as numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time, tzinfo
from enum import Enum
from types import MappingProxyType
from typing import assert_never

from msgspec import Struct, to_builtins

from strawbell.model.brief import (
    Action,
    Alert,
    BatchOutlook,
    Brief,
    Preparation,
    Reason,
    Task,
    TaskKey,
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
from strawbell.model.feeds import Dose, Need
from strawbell.model.forecast import DayWeather, ForecastUse
from strawbell.model.garden import Garden
from strawbell.model.journal import JournalEntry
from strawbell.model.season import BatchSummary, Chances, SeasonDay, Summary
from strawbell.words.advice import beside, instead_sentences
from strawbell.words.morning import crowding_sentences, step_sentences
from strawbell.words.reasons import alert_words, caution_list
from strawbell.words.start_when import RISKS_PERCENT, Proposal, Risk
from strawbell.words.summary import hint_sentences
from strawbell.words.voice import Voice

VERSION = 2
FINE_DIGITS = 2
"""Decimals of a number whose name has none of its own."""
DIGITS: Mapping[str, int] = MappingProxyType(
    {
        **dict.fromkeys(("kg", "package_kg", "package_l", "stock_kg"), 3),
        **dict.fromkeys(("per_bale_g", "total_g", "per_bale_ml", "total_ml"), 1),
        **dict.fromkeys(("nitrogen_per_bale_g", "phosphorus_per_bale_g"), 1),
        **dict.fromkeys(("potassium_per_bale_g", "litres", "water_l", "temperature_c"), 1),
        "pieces": 0,
    }
)
"""Decimals of the numbers by their names: of a mass what a kitchen scale shows."""
MINUTES_AN_HOUR = 60

Json = dict[str, object]
Figures = dict[str, float]


def plain(value: object, zone: tzinfo | None = None, digits: int = FINE_DIGITS) -> object:
    """Return a value in types that JSON has: a moment in `zone`, else as it stands.

    A number is rounded, and never -0.0; what is not a number is unknown, as JSON has none.
    """
    match value:
        case float():
            return round(value, digits) + 0.0 if math.isfinite(value) else None
        case Enum():
            return value.value
        case TaskKey():
            return value.text()
        case datetime():
            return (value if zone is None else value.astimezone(zone)).isoformat(timespec="seconds")
        case date():
            return value.isoformat()
        case Struct():
            return picked(value, *value.__struct_fields__, zone=zone)
        case tuple():
            return [plain(each, zone) for each in value]
    return value


def picked(value: Struct | None, *names: str, zone: tzinfo | None = None) -> Json:
    """Return fields of a value by their names, all unknown where there is no value.

    The date that something is on is called so.
    """
    found: Json = {}
    for name in names:
        each = None if value is None else getattr(value, name)
        called = "date" if name in ("on", "local_date") else name
        found[called] = plain(each, zone, DIGITS.get(name, FINE_DIGITS))
    return found


def brief_json(brief: Brief, garden: Garden) -> Json:
    """Return the brief as version 2 of the JSON of `strawbell today`."""
    voice = Voice.of(garden, brief.on)
    crowds = ("batch", "early", "late", "wanted_on", "over_on")
    return {
        "version": VERSION,
        **picked(brief, "garden", "on", "as_of", zone=voice.zone),
        "forecast": _forecast(brief.forecast, voice.zone),
        "weather": plain(brief.weather),
        "tasks": [task_json(task, voice) for task in brief.tasks],
        "alerts": [_alert(alert, voice) for alert in brief.alerts],
        "ahead": [_day(each.on, each.weather, each.tasks, voice) for each in brief.ahead],
        "questions": [picked(each, "key", "batch", "day", "on") for each in brief.questions],
        "outlooks": [_outlook(outlook) for outlook in brief.outlooks],
        "not_told": plain(brief.not_told),
        "preparing": [_preparation(each, voice) for each in brief.preparing],
        "crowding": [
            {**picked(each, *crowds), "advice": crowding_sentences(each, voice)}
            for each in brief.crowding
        ],
    }


def season_json(days: Iterable[SeasonDay], garden: Garden, today: date) -> Json:
    """Return the season of a garden; `projected` days move with weather and record."""
    voice = Voice.of(garden, today)
    return {
        "version": VERSION,
        "garden": garden.name,
        "date": today.isoformat(),
        "days": [
            {**_day(day.on, day.weather, day.tasks, voice), "projected": day.projected}
            for day in days
        ],
    }


def _day(on: date, weather: DayWeather, tasks: Iterable[Task], voice: Voice) -> Json:
    told = [task_json(task, voice) for task in tasks]
    return {"date": on.isoformat(), "weather": plain(weather), "tasks": told}


_COVER = {Action.LAY_TARP: "on", Action.LIFT_TARP: "off"}


def task_json(task: Task, voice: Voice) -> Json:
    """Return one task; what it has no amount of is None."""
    return {
        **picked(task, "key", "batch", "bales", "day", "action", "state"),
        **_dose(task.dose),
        "water_per_bale_l": plain(task.pour_l),
        "times_a_day": task.times_a_day,
        "cover": _COVER.get(task.action),
        "crop": ", ".join(task.crops) or None,
        **picked(task, "crops", "plants", "held_until", "held_days"),
        "reasons": [_reason(reason, voice.zone) for reason in task.reasons],
        "instead": list(instead_sentences(task.instead, voice)),
        "cautions": [caution.whole for caution in caution_list(task.cautions, voice)],
        "figures": _figures(detail_figures(task.detail)),
        "note": " ".join(beside(task, voice)),
    }


def _dose(dose: Dose | None) -> Json:
    rate = picked(None if dose is None else dose.rate, "ml_per_l", "g_per_l")
    return {
        **picked(dose, "feed", "form", "per_bale_g", "total_g", "per_bale_ml", "total_ml"),
        **picked(dose, "nitrogen_per_bale_g", "phosphorus_per_bale_g", "potassium_per_bale_g"),
        **{f"dilution_{name}": each for name, each in rate.items()},
    }


def _reason(reason: Reason, zone: tzinfo) -> Json:
    turn = picked(reason.turn, "by", "at")
    return {
        **picked(reason, "code", "value", "threshold", "unit", "at", "chance", zone=zone),
        **picked(reason, "loss_if_done", "loss_if_waited", "wait_costs_days"),
        **{f"turns_{name}": each for name, each in turn.items()},
    }


def _alert(alert: Alert, voice: Voice) -> Json:
    return {
        **picked(alert, "code", "batch", "starts_at", "ends_at", "crops", zone=voice.zone),
        "reasons": [_reason(reason, voice.zone) for reason in alert.reasons],
        "advice": alert_words(alert, voice).advice,
        "figures": _figures(detail_figures(alert.detail)),
    }


def _forecast(use: ForecastUse, zone: tzinfo) -> Json:
    named = ("status", "source", "issued_at", "age_h", "attribution", "attribution_url")
    members = {"count": use.members, "from": use.members_source} if use.members else None
    return {**picked(use, *named, zone=zone), "members": members}


def _preparation(each: Preparation, voice: Voice) -> Json:
    named = ("batches", "bales", "start_on", "steps", "next_on", "next_steps")
    return {**picked(each, *named), "advice": list(step_sentences(each, voice))}


def _outlook(outlook: BatchOutlook) -> Json:
    return {
        **picked(outlook, "batch", "stage", "ready_on", "ready_on_latest"),
        "figures": _figures(outlook_figures(outlook)),
    }


def journal_json(entries: Iterable[JournalEntry], zone: tzinfo) -> list[Json]:
    """Return journal rows, oldest first as given, on the garden's clock."""
    return [
        {
            **picked(entry, "at", "garden", "local_date", "kind", "batch", "task", zone=zone),
            **picked(entry, "state", "value", "text"),
            "data": to_builtins(dict(entry.data)),
        }
        for entry in entries
    ]


def supplies_json(wanted: Iterable[Need], garden: Garden, today: date) -> Json:
    """Return what is still to be bought, as `strawbell supplies` has it."""
    return {
        "version": VERSION,
        "garden": garden.name,
        "date": today.isoformat(),
        "supplies": [
            {
                **picked(need, "kind", "name", "kg", "litres", "package_kg", "package_l"),
                "packages": need.packages,
                "buy": [
                    {"count": each.count, "kg": each.package.kg, "litres": each.package.litres}
                    for each in need.buy
                ],
                "in_stock_kg": plain(need.stock_kg, digits=DIGITS["stock_kg"]),
                **picked(need, "lasts_until", "cost", "needed_by", "last_on"),
            }
            for need in wanted
        ],
    }


def start_json(
    garden: Garden, risks: Sequence[Risk], proposals: Iterable[Proposal], year: int
) -> Json:
    """Return frost dates and proposed starts, as `strawbell start-when` has them."""
    return {
        "version": VERSION,
        "garden": garden.name,
        "year": year,
        "freezes": [
            {
                "season": str(risk.season),
                "threshold_c": risk.threshold_c,
                "method": str(risk.method),
                "years": risk.years,
                "dates": {
                    f"risk_{percent:.0f}_percent": plain(risk.on(percent, year))
                    for percent in RISKS_PERCENT
                },
            }
            for risk in risks
        ],
        "crops": [
            {
                "crop": each.crop,
                "soak_on": each.soak_on.isoformat(),
                "plant_on": each.plant_on.isoformat(),
                "ripe_by": each.ripe_by.isoformat(),
                "ripens_before_freeze": each.ripens,
                "uncertain": each.uncertain,
            }
            for each in proposals
        ],
    }


def summary_json(found: Summary, garden: Garden) -> Json:
    """Return the summary of a season; masses and pieces are apart."""
    advice = hint_sentences(found.hints, Voice.of(garden, found.last))
    hints = zip(found.hints, advice, strict=True)
    return {
        "version": VERSION,
        **picked(found, "garden", "first", "kept_since", "mornings_told", "not_told"),
        **picked(found, "feeds", "costs", "cost_noted"),
        "date": found.last.isoformat(),
        "batches": [_batch(each) for each in found.batches],
        **chances_json(found.chances),
        "hints": [
            {
                **picked(hint, "code", "batch", "crop", "on"),
                "figures": dict(hint.figures),
                "advice": said,
            }
            for hint, said in hints
        ],
    }


def chances_json(kept: Chances) -> Json:
    """Return how the chances came out that were told."""
    return {"rain_chances": plain(kept.rain), "freeze_chances": plain(kept.freeze)}


def _batch(each: BatchSummary) -> Json:
    return {
        **picked(each, *each.__struct_fields__, "nitrogen_per_bale_g"),
        "given": len(each.given),
        "held_days": len(each.held),
        "held_days_rain": sum(one.held_for_rain for one in each.held),
        "held_days_freeze": sum(one.held_for_freeze for one in each.held),
        "missed": len(each.missed),
        "readings": each.readings and picked(each.readings, "count", "first", "highest", "last"),
    }


# Typed details as numbers, each named with its unit.


def detail_figures(detail: Detail | DryTopDetail | None) -> Figures:
    """Return a detail as it stands in a document; yes is 1, and no and unknown are left out."""
    match detail:
        case None:
            return {}
        case SoakDetail():
            return _named(soaked_before=detail.again)
        case FeedDetail():
            return _named(every_days=detail.every_days)
        case LookDetail():
            return _named(week=detail.week)
        case MixDetail():
            return _named(layer_cm=detail.layer_cm, mix_per_bale_l=detail.per_bale_l)
        case PlantDetail():
            return _named(
                spacing_cm=detail.spacing_cm,
                plants_per_bale=detail.per_bale,
                edge_cm=detail.edge_cm,
                rows=detail.rows,
                killed=detail.again,
                depth_cm=detail.depth_cm,
                up_in_days=detail.up_in_days,
                upright_cm=detail.upright_cm,
            )
        case TopWaterDetail():
            return _named(up_in_days=detail.up_in_days, dry_at_hour=detail.dry_at)
        case ThinDetail():
            return _named(thin_to_cm=detail.to_cm)
        case SupportDetail():
            return _named(height_cm=detail.height_cm, upright_cm=detail.upright_cm)
        case HarvestDetail(ending=ending):
            return _named(
                last_harvest=ending is not Ending.TOO_LATE,
                killed=ending is Ending.KILLED,
                too_late=ending is Ending.TOO_LATE,
            )
        case SpreadDetail():
            return _named(
                strings=detail.strings,
                spread_cm=detail.depth_cm,
                area_m2=detail.area_m2,
                nitrogen_g=detail.nitrogen_g,
            )
        case DryTopDetail():
            return _named(
                water_l_per_bale=detail.water_per_bale_l,
                times_a_day=detail.times_a_day,
                dry_at_hour=detail.dry_at,
            )
    assert_never(detail)


def outlook_figures(outlook: BatchOutlook) -> Figures:
    """Return what is computed for a batch as it stands in a document."""
    found: Figures = {}
    if (conditioning := outlook.conditioning) is not None:
        done, to_go = conditioning.done_days, conditioning.to_go_days
        found |= _named(conditioned_days=done, to_go_days=to_go)
    if (core := outlook.core) is not None:
        found |= _named(core_c=Band(core.low_c, core.high_c), core_expected_c=core.expected_c)
        found["core_from_probe"] = float(core.from_probe)
    if (nitrogen := outlook.nitrogen) is not None:
        found |= _named(
            nitrogen_given_g_per_bale=nitrogen.given_g,
            nitrogen_planned_g_per_bale=nitrogen.planned_g,
            nitrogen_lost_g_per_bale=nitrogen.lost_g,
            carbon_to_nitrogen=nitrogen.carbon_to_nitrogen,
            unknown_rain_days=nitrogen.unknown_rain_days or None,
        )
    if (make_up := outlook.make_up) is not None:
        found |= _named(
            make_up_nitrogen_g_per_bale=make_up.nitrogen_g, make_up_feed_g_per_bale=make_up.feed_g
        )
    return found | _named(evaporation_today_mm=outlook.evaporation_mm)


def _named(**values: Band | time | float | None) -> Figures:
    """Return what is known by its name: a band as its two ends, a time of day in hours."""
    found: Figures = {}
    for name, value in values.items():
        match value:
            case Band():
                found |= _named(**{f"{name}_low": value.low, f"{name}_high": value.high})
            case time():
                found[name] = round(value.hour + value.minute / MINUTES_AN_HOUR, FINE_DIGITS)
            case bool() | None:
                found |= {name: 1.0} if value else {}
            case _:
                found[name] = float(value)
    return found


def _figures(figures: Figures) -> Json:
    return {name: plain(value) for name, value in figures.items()}
