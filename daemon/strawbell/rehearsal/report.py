"""Puts a rehearsed season into the figures of its report."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from msgspec import Struct

from strawbell.agronomy.bale.ensemble import weighted
from strawbell.decision.frost_watch import risk_of
from strawbell.model.brief import Action, AlertCode, AlertKey, State, TaskKey
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
from strawbell.words.catalogue import BRITISH
from strawbell.words.units import Measures

SKILL_SENTENCES: Mapping[str, str] = {
    "perfect": "The forecasts knew ten days ahead what came.",
    "persistence": "The forecasts were the 24 hours before them, again and again.",
    "usual": "The forecasts erred as usual: more with every day ahead, rain missed, rain at the"
    " wrong hour and rain that never came.",
    "ensemble": "The forecasts erred as usual, and came with an ensemble.",
    "issued": "The forecasts were those that the service really issued.",
    "hollow": "The forecasts erred as usual, and clear calm nights were colder than forecast.",
}
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
    index = JournalIndex.of(journal)
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
            _batch(truth, batch, journal, index, tally, numbers[batch.name])
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
    last = tally.last
    ours = course_of(truth, batch, journal, index, last)
    plain = course_of(truth, batch, (), JournalIndex(), last)
    return BatchReport(
        name=batch.name,
        feed=batch.feed.name,
        days=tuple(
            _days(truth, ours, plain, index, _kept(batch, journal, index), tally.notices_on)
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


def _kept(batch: Batch, journal: Journal, index: JournalIndex) -> _Kept:
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
                words = _ALERT_WORDS.get(key.code, "no forecast to go by")
                alerts[on] = tuple(dict.fromkeys((*alerts.get(on, ()), words)))
        elif entry.kind is EntryKind.BRIEF:
            tasks = [each for each in _items(entry.data, "tasks") if each["batch"] == batch.name]
            last = {key.text(): state for key, state in states.get(on, {}).items()}
            told[on] = tuple(task_words(each, last.get(each["key"])) for each in tasks)
            for outlook in _items(entry.data, "outlooks"):
                if outlook.get("batch") == batch.name:
                    figures = outlook.get("figures", {})
                    core[on] = (figures.get("core_c_low"), figures.get("core_c_high"))
    return _Kept(told, core, alerts)


def _items(data: Mapping[str, object], name: str) -> Sequence[Mapping[str, Any]]:
    found = data.get(name)
    return found if isinstance(found, list) else ()


_ALERT_WORDS = {
    AlertCode.FREEZE: "freeze",
    AlertCode.FROST: "frost",
    AlertCode.HEAVY_RAIN: "heavy rain",
    AlertCode.HOT_DRY: "hot and dry",
    AlertCode.HEAT_PERSON: "heat for people",
    AlertCode.SELF_HEATING: "self-heating",
    AlertCode.NOT_HEATING: "a bale that stays cool",
}


def task_words(task: Mapping[str, Any], last: State | None) -> str:
    """Return a task of a kept brief in a few words, and whether it waited."""
    action = Action(task["action"])
    words = action.value.replace("-", " ")
    if action is Action.FEED and task.get("day") is not None:
        words = f"feed (day {task['day']})"
    elif task.get("crop") and _is_of_no_date(task):
        words = f"{words} {task['crop']}"
    return f"{words}: held" if last is State.HELD else words


def _is_of_no_date(task: Mapping[str, Any]) -> bool:
    key = TaskKey.parse(task["key"], (task["batch"],))
    return key is not None and key.on is None


def figure_rows(units: Units) -> Iterator[FigureRow]:
    """Yield the rows of the table in the grower's units: how each is called, and how it is shown.

    All masses of a row are in one unit, which stands in its name: they are there to be compared.
    """
    measures = Measures(units)
    heavy = measures.rain(RAIN_HOLD_MM)
    mass = f"[{'oz' if measures.us else 'g'} a bale]"
    yield "feedings", _count("feedings")
    yield "days a feeding was held", _count("held_days")
    yield "days the last feeding moved", _count("moved_days")
    yield f"feedings within 24 h before {heavy} of rain", _count("before_heavy_rain")
    yield "feedings within 24 h before a freeze", _count("on_freezing_nights")
    yield "feedings with weather unknown after them", _count("weather_unknown")
    yield "nights of frost danger, told", _count("frost_nights_protected")
    yield "nights of frost danger, not told", _count("frost_nights_unprotected")
    yield "hot dry days, told", _count("hot_dry_days_told")
    yield "hot dry days, not told", _count("hot_dry_days_untold")
    yield (
        f"nitrogen given {mass}",
        lambda each: measures.mass_in_column(each.nitrogen_given_g, GIVEN_DIGITS),
    )
    yield (
        f"of it washed out {mass}",
        lambda each: " to ".join(
            measures.mass_in_column(washed_g, WASHED_DIGITS)
            for washed_g in (each.leached_low_g, each.leached_high_g)
        ),
    )
    yield "days from start to ready", _known("days_to_ready")
    yield "hours with a dry top, first three weeks", _known("dry_top_h")


def _count(name: str) -> Callable[[BatchTally], str]:
    return lambda each: str(getattr(each, name))


def _known(name: str) -> Callable[[BatchTally], str]:
    def show(each: BatchTally) -> str:
        value = getattr(each, name)
        return BRITISH.say("amount.unknown") if value is None else f"{value:.0f}"

    return show
