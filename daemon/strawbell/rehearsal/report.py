"""Puts a rehearsed season into the figures of its report."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from strawbell.agronomy.nitrogen import ledger
from strawbell.model.brief import Action, State
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import EntryKind, Journal
from strawbell.model.report import BatchReport, ReportDay, ReportFigure, SeasonReport
from strawbell.planning.frost_watch import most_endangered
from strawbell.planning.keys import is_dated
from strawbell.planning.local_time import DAY, local_date
from strawbell.planning.record import ALERT_TOLD, Record
from strawbell.rehearsal.course import Course, course_of, feeding_keys, standing_crops
from strawbell.rehearsal.measures import given_by, top_walk
from strawbell.rehearsal.recorded import Report, Weather
from strawbell.rehearsal.tally import BatchTally, Tally
from strawbell.rehearsal.truth import Truth

SKILL_SENTENCES: Mapping[str, str] = {
    "perfect": "The forecasts knew ten days ahead what came.",
    "persistence": "The forecasts were the 24 hours before them, again and again.",
    "usual": "The forecasts erred as usual: more with every day ahead, with rain missed and rain"
    " that never came.",
}
UNKNOWN = "unknown"
GAPS_NAMED = 3


def season_report(
    garden: Garden, journal: Journal, weather: Weather, tally: Tally, skill: str, seed: int
) -> SeasonReport:
    """Return the report of a garden's rehearsal; `tally` holds its numbers."""
    truth = Truth(garden, weather)
    record = Record.of(journal)
    numbers = {each.batch: (each, plain) for each, plain in _pairs(tally)}
    return SeasonReport(
        garden=garden.name,
        units=garden.units,
        first=tally.first,
        last=tally.last,
        forecast=f"{SKILL_SENTENCES[skill]} Seed {seed}.",
        weather=tuple(weather_sentences(weather.report)),
        notices=tally.notices,
        notices_per_week=round(tally.notices_per_week, 2),
        batches=tuple(
            _batch(truth, batch, journal, record, tally, numbers[batch.name])
            for batch in garden.batches
            if batch.name in numbers
        ),
        plant_below_c=garden.rules.plant_below_c,
    )


def weather_sentences(report: Report) -> Iterator[str]:
    """Yield what a record held, what it did not know, and what was not believed."""
    kind = "days, spread over their hours" if report.daily else "hours"
    yield f"Weather by {kind}, {report.first} to {report.last}."
    if report.gaps:
        first = ", ".join(
            f"{gap.start:%Y-%m-%d %H:%M} UTC ({gap.hours} h)" for gap in report.gaps[:GAPS_NAMED]
        )
        more = (
            f", and {len(report.gaps) - GAPS_NAMED} more" if len(report.gaps) > GAPS_NAMED else ""
        )
        yield f"Unknown: {report.unknown_hours} hours in {len(report.gaps)} gaps: {first}{more}."
    if report.rejected:
        one = report.rejected[0]
        yield (
            f"Rejected as impossible: {len(report.rejected)} figures"
            f" (first: line {one.line}, {one.column}: {one.text})."
        )
    if report.doubles:
        yield f"Lines of a time that had been before, passed over: {report.doubles}."


def _pairs(tally: Tally) -> Iterator[tuple[BatchTally, BatchTally]]:
    yield from zip(tally.strawbell, tally.calendar, strict=True)


@dataclass(frozen=True, slots=True)
class _Kept:
    """What the journal kept of the dates of one batch."""

    told: Mapping[date, tuple[str, ...]]
    core: Mapping[date, tuple[float | None, float | None]]
    alerts: Mapping[date, tuple[str, ...]]


def _batch(
    truth: Truth,
    batch: Batch,
    journal: Journal,
    record: Record,
    tally: Tally,
    numbers: tuple[BatchTally, BatchTally],
) -> BatchReport:
    last = tally.last
    ours = course_of(truth, batch, journal, record, last)
    plain = course_of(truth, batch, (), Record(), last)
    return BatchReport(
        name=batch.name,
        feed=batch.feed.name,
        days=tuple(
            _days(truth, ours, plain, record, _kept(batch, journal, record), tally.notices_on)
        ),
        figures=tuple(_figures(*numbers)),
        planted=tuple((on, each.crop.name) for each, on in ours.planted),
        calendar_planted=tuple((on, each.crop.name) for each, on in plain.planted),
    )


def _days(
    truth: Truth,
    ours: Course,
    plain: Course,
    record: Record,
    kept: _Kept,
    sent: Mapping[date, int],
) -> Iterator[ReportDay]:
    batch = ours.batch
    fed = {each.feeding.on for each in ours.fed}
    plan_fed = {each.feeding.on for each in plain.fed}
    keys = feeding_keys(batch)
    told = record.batch(batch.name).told
    dry = _dry_by_date(truth, ours)
    frosts = frozenset(_frosts(truth, ours))
    on = batch.start_on
    while on <= ours.last:
        day = truth.day(on)
        low_c, high_c = kept.core.get(on, (None, None))
        given, left = _nitrogen(truth, ours, on)
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
        if crops and most_endangered(truth.sky(on).night(on), crops)[0] is not None:
            yield on


def _nitrogen(truth: Truth, course: Course, on: date) -> tuple[float, tuple[float, float]]:
    """Return what was given by the night of a date, and the least and most of it left."""
    feedings = [each.feeding for each in course.fed if each.feeding.on <= on]
    if not feedings:
        return 0.0, (0.0, 0.0)
    rain = truth.rain_by_date(feedings[0].on, on + DAY)
    book = ledger(course.batch.bale, feedings, rain, on + DAY)
    return round(book.given_g, 1), (round(book.left_low_g, 1), round(book.left_high_g, 1))


def _dry_by_date(truth: Truth, course: Course) -> Mapping[date, float]:
    hours: Counter[date] = Counter()
    for at, dry in top_walk(truth, course, given_by(course)):
        if dry is not None:
            hours[local_date(at, truth.zone)] += int(dry)
    return {on: float(count) for on, count in hours.items()}


def _kept(batch: Batch, journal: Journal, record: Record) -> _Kept:
    """Return what the kept briefs and the rows of the journal say, by date."""
    told: dict[date, tuple[str, ...]] = {}
    core: dict[date, tuple[float | None, float | None]] = {}
    alerts: dict[date, tuple[str, ...]] = {}
    states = record.batch(batch.name).told
    for entry in journal:
        on = entry.local_date
        if entry.kind is EntryKind.ALERT and entry.state == ALERT_TOLD and entry.task:
            if entry.batch in (None, batch.name):
                words = alert_words(entry.task)
                alerts[on] = tuple(dict.fromkeys((*alerts.get(on, ()), words)))
        elif entry.kind is EntryKind.BRIEF:
            tasks = [each for each in _items(entry.data, "tasks") if each["batch"] == batch.name]
            last = states.get(on, {})
            told[on] = tuple(task_words(each, last.get(each["key"])) for each in tasks)
            for outlook in _items(entry.data, "outlooks"):
                if outlook.get("batch") == batch.name:
                    figures = outlook.get("figures", {})
                    core[on] = (figures.get("core_c_low"), figures.get("core_c_high"))
    return _Kept(told, core, alerts)


def _items(data: Mapping[str, object], name: str) -> Sequence[Mapping[str, Any]]:
    found = data.get(name)
    return found if isinstance(found, list) else ()


def alert_words(key: str) -> str:
    """Return what an alert warned of, out of its key."""
    for code in ("freeze", "frost", "heavy-rain", "hot-dry", "heat-person", "self-heating"):
        if key.startswith(f"alert-{code}"):
            return _ALERT_WORDS[code]
    return "no forecast to go by"


_ALERT_WORDS = {
    "freeze": "freeze",
    "frost": "frost",
    "heavy-rain": "heavy rain",
    "hot-dry": "hot and dry",
    "heat-person": "heat for people",
    "self-heating": "self-heating",
}


def task_words(task: Mapping[str, Any], last: State | None) -> str:
    """Return a task of a kept brief in a few words, and whether it waited."""
    action = Action(task["action"])
    words = action.value.replace("-", " ")
    if action is Action.FEED and task.get("day") is not None:
        words = f"feed (day {task['day']})"
    elif task.get("crop") and not is_dated(task["key"]):
        words = f"{words} {task['crop']}"
    return f"{words}: held" if last is State.HELD else words


def _figures(ours: BatchTally, plain: BatchTally) -> Iterator[ReportFigure]:
    for label, name in FIGURES:
        yield ReportFigure(label, str(getattr(ours, name)), str(getattr(plain, name)))
    yield ReportFigure(
        "nitrogen given [g a bale]", _g(ours.nitrogen_given_g), _g(plain.nitrogen_given_g)
    )
    yield ReportFigure("of it washed out [g a bale]", washed(ours), washed(plain))
    yield ReportFigure(
        "days from start to ready",
        _or_unknown(ours.days_to_ready),
        _or_unknown(plain.days_to_ready),
    )
    yield ReportFigure(
        "hours with a dry top, first three weeks",
        _or_unknown(ours.dry_top_h),
        _or_unknown(plain.dry_top_h),
    )


FIGURES: tuple[tuple[str, str], ...] = (
    ("feedings", "feedings"),
    ("days a feeding was held", "held_days"),
    ("days the last feeding moved", "moved_days"),
    ("feedings within 24 h before 12.7 mm (0.5 in) of rain", "before_heavy_rain"),
    ("feedings within 24 h before a freeze", "on_freezing_nights"),
    ("feedings with weather unknown after them", "weather_unknown"),
    ("nights of frost danger, told", "frost_nights_protected"),
    ("nights of frost danger, not told", "frost_nights_unprotected"),
    ("hot dry days, told", "hot_dry_days_told"),
    ("hot dry days, not told", "hot_dry_days_untold"),
)
"""The counted figures: how they are called, and their name in a tally."""


def washed(each: BatchTally) -> str:
    """Return what was washed out, from the least to the most."""
    return f"{each.leached_low_g:.1f} to {each.leached_high_g:.1f}"


def _g(value: float) -> str:
    return f"{value:.0f}"


def _or_unknown(value: float | None) -> str:
    return UNKNOWN if value is None else f"{value:.0f}"
