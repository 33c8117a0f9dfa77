"""Puts a rehearsed season into the figures of its report."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from msgspec import Struct

from strawbell.agronomy.bale.ensemble import weighted
from strawbell.decision.daily_weather import risk_of
from strawbell.model.brief import Action, AlertKey, State, TaskKey
from strawbell.model.garden import Batch, Garden, Units
from strawbell.model.journal import EntryKind, Journal
from strawbell.model.report import BatchReport, ReportDay, ReportFigure, SeasonReport
from strawbell.rehearsal.course import Course, course_of, feeding_keys, standing_crops
from strawbell.rehearsal.outcomes import given_by, top_walk
from strawbell.rehearsal.recorded import Report, Weather
from strawbell.rehearsal.tally import BatchTally, Tally
from strawbell.rehearsal.truth import Truth
from strawbell.season.journal_index import ALERT_TOLD, JournalIndex
from strawbell.season.local_time import DAY, local_date
from strawbell.weather.thresholds import RAIN_HOLD_MM
from strawbell.words.advice import noun
from strawbell.words.catalogue import BRITISH, Tongue
from strawbell.words.units import Measures

GAPS_NAMED = 3
GIVEN_DIGITS, WASHED_DIGITS = 0, 1
"""Decimals of nitrogen in grams."""

FigureRow = tuple[str, Callable[[BatchTally], str]]
"""How a figure is called, and how it is shown out of a tally."""


def season_report(
    garden: Garden, journal: Journal, weather: Weather, tally: Tally, skill: str, seed: int
) -> SeasonReport:
    """Return the report of a garden's rehearsal; `tally` holds its numbers."""
    truth = Truth(garden, weather)
    index, tongue = JournalIndex.of(journal), Measures(garden.units).tongue
    numbers = {each.batch: (each, plain) for each, plain in _pairs(tally)}
    return SeasonReport(
        garden=garden.name,
        units=garden.units,
        first=tally.first,
        last=tally.last,
        forecast=tongue.say("rehearsal.skill", skill=skill, seed=seed),
        weather=tuple(weather_sentences(weather.report, tongue)),
        notices=tally.notices,
        notices_per_week=round(tally.notices_per_week, 2),
        batches=tuple(
            _batch(truth, batch, journal, index, tally, numbers[batch.name])
            for batch in garden.batches
            if batch.name in numbers
        ),
        plant_below_c=garden.rules.plant_below_c,
    )


def weather_sentences(report: Report, tongue: Tongue = BRITISH) -> Iterator[str]:
    """Yield what a record held, what it did not know, and what was not believed."""
    say = tongue.say
    first, last = (tongue.date("date.table", on) for on in (report.first, report.last))
    yield say("rehearsal.record", daily=report.daily, first=first, last=last)
    if report.gaps:
        gaps = [
            say("rehearsal.gap", start=f"{gap.start:%Y-%m-%d %H:%M}", hours=gap.hours)
            for gap in report.gaps[:GAPS_NAMED]
        ]
        yield say(
            "rehearsal.unknown",
            hours=report.unknown_hours,
            count=len(report.gaps),
            first=tongue.listing(gaps, "comma"),
            more=max(len(report.gaps) - GAPS_NAMED, 0),
        )
    if report.rejected:
        one = report.rejected[0]
        count, line = len(report.rejected), str(one.line)
        yield say("rehearsal.rejected", n=count, line=line, column=one.column, text=one.text)
    if report.doubles:
        yield say("rehearsal.doubles", n=report.doubles)


def _pairs(tally: Tally) -> Iterator[tuple[BatchTally, BatchTally]]:
    yield from zip(tally.strawbell, tally.calendar, strict=True)


class _Kept(Struct, frozen=True):
    """What the journal kept of the dates of one batch."""

    told: Mapping[date, tuple[str, ...]]
    core: Mapping[date, tuple[float | None, float | None]]
    alerts: Mapping[date, tuple[str, ...]]


def _batch(
    truth: Truth,
    batch: Batch,
    journal: Journal,
    index: JournalIndex,
    tally: Tally,
    numbers: tuple[BatchTally, BatchTally],
) -> BatchReport:
    last, tongue = tally.last, Measures(truth.garden.units).tongue
    ours = course_of(truth, batch, journal, index, last)
    plain = course_of(truth, batch, (), JournalIndex(), last)
    return BatchReport(
        name=batch.name,
        feed=batch.feed.name,
        days=tuple(
            _days(truth, ours, plain, index, _kept(batch, journal, index, tongue), tally.notices_on)
        ),
        figures=tuple(
            ReportFigure(label, *(show(each) for each in numbers))
            for label, show in figure_rows(truth.garden.units)
        ),
        planted=tuple((on, each.crop.name) for each, on in ours.planted),
        calendar_planted=tuple((on, each.crop.name) for each, on in plain.planted),
    )


def _days(
    truth: Truth,
    ours: Course,
    plain: Course,
    index: JournalIndex,
    kept: _Kept,
    sent: Mapping[date, int],
) -> Iterator[ReportDay]:
    batch = ours.batch
    fed = {each.feeding.on for each in ours.fed}
    plan_fed = {each.feeding.on for each in plain.fed}
    keys = feeding_keys(batch)
    told = index.batch(batch.name).told
    dry = _dry_by_date(truth, ours)
    frosts = frozenset(_frosts(truth, ours))
    on = batch.start_on
    while on <= ours.last:
        day = truth.day(on)
        low_c, high_c = kept.core.get(on, (None, None))
        given, left = _nitrogen(ours, on)
        yield ReportDay(
            on=on,
            low_c=day.low_c,
            high_c=day.high_c,
            rain_mm=day.rain_mm,
            told=kept.told.get(on, ()),
            held=any(told.get(on, {}).get(key) is State.HELD for key in keys),
            fed=on in fed,
            calendar_fed=on in plan_fed,
            core_low_c=low_c,
            core_high_c=high_c,
            nitrogen_given_g=given,
            nitrogen_left_low_g=left[0],
            nitrogen_left_high_g=left[1],
            dry_top_h=dry.get(on),
            covered=on in ours.covered,
            frost=on in frosts,
            alerts=kept.alerts.get(on, ()),
            messages=sent.get(on, 0),
        )
        on += DAY


def _frosts(truth: Truth, course: Course) -> Iterator[date]:
    for on, plantings in standing_crops(truth, course):
        crops = tuple(each.crop for each in plantings)
        if any(risk_of(truth.conditions(on).night(on), crop) for crop in crops):
            yield on


def _nitrogen(course: Course, on: date) -> tuple[float, tuple[float, float]]:
    """Return what was given by the night of a date, and the least and most of it left."""
    feedings = [each.feeding for each in course.fed if each.feeding.on <= on]
    given_g = sum(each.nitrogen_per_bale_g for each in feedings)
    night = min((on - course.batch.start_on).days + 1, len(course.bales) - 1)
    draws = course.bales[night].draws
    left = weighted(draws, (max(0.0, given_g - each.leached_g - each.air_g) for each in draws.left))
    return round(given_g, 1), (round(left.low, 1), round(left.high, 1))


def _dry_by_date(truth: Truth, course: Course) -> Mapping[date, float]:
    hours: Counter[date] = Counter()
    for at, dry in top_walk(truth, course, given_by(course)):
        if dry is not None:
            hours[local_date(at, truth.zone)] += int(dry)
    return {on: float(count) for on, count in hours.items()}


def _kept(batch: Batch, journal: Journal, index: JournalIndex, tongue: Tongue) -> _Kept:
    """Return what the kept briefs and the rows of the journal say, by date."""
    told: dict[date, tuple[str, ...]] = {}
    core: dict[date, tuple[float | None, float | None]] = {}
    alerts: dict[date, tuple[str, ...]] = {}
    states = index.batch(batch.name).told
    for entry in journal:
        on = entry.local_date
        if entry.kind is EntryKind.ALERT and entry.state == ALERT_TOLD:
            key = AlertKey.parse(entry.task or "")
            if key is not None and entry.batch in (None, batch.name):
                words = tongue.say("rehearsal.alert", code=key.code)
                alerts[on] = tuple(dict.fromkeys((*alerts.get(on, ()), words)))
        elif entry.kind is EntryKind.BRIEF:
            tasks = [each for each in _items(entry.data, "tasks") if each["batch"] == batch.name]
            last = {key.text(): state for key, state in states.get(on, {}).items()}
            told[on] = tuple(kept_task_words(each, last.get(each["key"]), tongue) for each in tasks)
            for outlook in _items(entry.data, "outlooks"):
                if outlook.get("batch") == batch.name:
                    figures = outlook.get("figures", {})
                    core[on] = (figures.get("core_c_low"), figures.get("core_c_high"))
    return _Kept(told, core, alerts)


def _items(data: Mapping[str, object], name: str) -> Sequence[Mapping[str, Any]]:
    found = data.get(name)
    return found if isinstance(found, list) else ()


def kept_task_words(task: Mapping[str, Any], last: State | None, tongue: Tongue) -> str:
    """Return a task of a kept brief in a few words, and whether it waited."""
    action, is_held = Action(task["action"]), last is State.HELD
    day = task.get("day") if action is Action.FEED else None
    crop = task.get("crop") if _is_of_no_date(task) else None
    said = noun(action, tongue)
    return tongue.say("rehearsal.task", noun=said, day=day, crop=crop, held=is_held)


def _is_of_no_date(task: Mapping[str, Any]) -> bool:
    key = TaskKey.parse(task["key"], (task["batch"],))
    return key is not None and key.on is None


def figure_rows(units: Units) -> Iterator[FigureRow]:
    """Yield the rows of the table in the grower's units: how each is called, and how it is shown.

    All masses of a row are in one unit, which stands in its name: they are there to be compared.
    """
    measures = Measures(units)
    heavy, unit = measures.rain(RAIN_HOLD_MM), "oz" if measures.us else "g"
    shown: Mapping[str, Callable[[BatchTally], str]] = {
        **{each: _count(each, measures.tongue) for each in _COUNTED},
        "nitrogen_given": lambda each: measures.mass_in_column(each.nitrogen_given_g, GIVEN_DIGITS),
        "leached": lambda each: measures.from_to(
            measures.mass_in_column(each.leached_low_g, WASHED_DIGITS),
            measures.mass_in_column(each.leached_high_g, WASHED_DIGITS),
        ),
        **{each: _count(each, measures.tongue) for each in ("days_to_ready", "dry_top_h")},
    }
    for row, show in shown.items():
        yield measures.tongue.say(f"rehearsal.figure.{row}", heavy=heavy, unit=unit), show


_COUNTED = (
    "feedings", "held_days", "moved_days", "before_heavy_rain", "on_freezing_nights",
    "weather_unknown", "frost_nights_protected", "frost_nights_unprotected", "hot_dry_days_told",
    "hot_dry_days_untold",
)  # fmt: skip


def _count(name: str, tongue: Tongue) -> Callable[[BatchTally], str]:
    def show(each: BatchTally) -> str:
        value = getattr(each, name)
        return tongue.say("amount.unknown") if value is None else tongue.number(value)

    return show
