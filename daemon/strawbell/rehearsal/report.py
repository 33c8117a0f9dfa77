"""What a rehearsed season came to, in numbers and day by day, by the weather that really came.

The plain calendar is reckoned by the same code from an empty journal: there the plan's own days
count as done as planned, whatever the weather.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from msgspec import Struct

from strawbell.agronomy.cold_and_heat import is_harmed
from strawbell.agronomy.ensemble import weighted
from strawbell.model.brief import Action, AlertCode, AlertKey, State, TaskKey
from strawbell.model.garden import Batch, Garden, Units, slug
from strawbell.model.journal import EntryKind, Journal
from strawbell.model.season import BatchReport, ReportDay, ReportFigure, SeasonReport
from strawbell.rehearsal.course import (
    Course,
    Truth,
    course_of,
    days_to_ready,
    dry_top_hours,
    feeding_keys,
    given_by,
    standing_crops,
    top_walk,
    washed_out_g,
)
from strawbell.rehearsal.recorded import Report, Weather
from strawbell.season.conditioning import front
from strawbell.season.journal_index import ALERT_TOLD, DayLog, JournalIndex
from strawbell.season.local_time import DAY
from strawbell.season.stage import Day
from strawbell.weather.thresholds import RAIN_HOLD_MM
from strawbell.words.advice import noun
from strawbell.words.catalogue import BRITISH, Tongue
from strawbell.words.units import Measures

DAYS_A_WEEK = 7.0
GAPS_NAMED = 3


class BatchTally(Struct, frozen=True):
    """One batch under one policy [g N per bale].

    `held_days` counts the days a feeding waited, `moved_days` how late the last one given was by
    the plan. `before_heavy_rain` and `on_freezing_nights` count feedings with 12.7 mm or more, or
    0 degC or less, in the 24 h from when they were told (by the calendar: from the morning).
    Nights and days are those on which the weather that came asked for a cover, or dried out the
    tops; told is what the grower heard of them.
    """

    batch: str
    feedings: int = 0
    held_days: int = 0
    moved_days: int = 0
    nitrogen_given_g: float = 0.0
    leached_low_g: float = 0.0
    leached_high_g: float = 0.0
    before_heavy_rain: int = 0
    on_freezing_nights: int = 0
    weather_unknown: int = 0
    """Feedings after which rain or low is not known whole, so that neither can be ruled out."""
    frost_nights_protected: int = 0
    frost_nights_unprotected: int = 0
    hot_dry_days_told: int = 0
    hot_dry_days_untold: int = 0
    days_to_ready: int | None = None
    """Mornings from the start until the plan, and the air that came, allowed planting."""
    dry_top_h: float | None = None
    """Hours with a dry top in the first three weeks of what grows."""
    feedings_on: tuple[date, ...] = ()


class Tally(Struct, frozen=True):
    """One garden, from a date through another, as told and by a plain calendar."""

    garden: str
    first: date
    last: date
    notices_on: Mapping[date, int]
    """How often the grower was spoken to, by date."""
    strawbell: tuple[BatchTally, ...]
    calendar: tuple[BatchTally, ...]

    @property
    def notices(self) -> int:
        """Return how often the grower was spoken to in all."""
        return sum(self.notices_on.values())

    @property
    def notices_per_week(self) -> float:
        """Return how often the grower was spoken to."""
        return self.notices / ((self.last - self.first).days + 1) * DAYS_A_WEEK


def tally(
    garden: Garden,
    journal: Journal,
    weather: Weather,
    dates: tuple[date, date],
    notices_on: Mapping[date, int],
) -> Tally:
    """Return the numbers of a garden; `journal` is that of the rehearsal."""
    first, last = dates
    truth = Truth(garden, weather)
    index = JournalIndex.of(journal)
    within = [batch for batch in garden.batches if batch.start_on <= last]
    return Tally(
        garden=garden.name,
        first=first,
        last=last,
        notices_on=dict(notices_on),
        strawbell=tuple(_batch_tally(truth, batch, journal, index, last) for batch in within),
        calendar=tuple(_batch_tally(truth, batch, (), JournalIndex(), last) for batch in within),
    )


def _batch_tally(
    truth: Truth, batch: Batch, journal: Journal, index: JournalIndex, last: date
) -> BatchTally:
    course = course_of(truth, batch, journal, index, last)
    feedings = [fed.feeding for fed in course.fed]
    low_g, high_g = washed_out_g(course)
    after = [truth.after(fed.at) for fed in course.fed]
    frosts, days = _frosts(truth, course), _hot(truth, course, index)
    return BatchTally(
        batch=batch.name,
        feedings=len(feedings),
        held_days=_held_days(batch, index),
        moved_days=_moved_days(course),
        nitrogen_given_g=sum(each.nitrogen_per_bale_g for each in feedings),
        leached_low_g=low_g,
        leached_high_g=high_g,
        before_heavy_rain=sum(each.washed is True for each in after),
        on_freezing_nights=sum(each.frozen is True for each in after),
        weather_unknown=sum(each.washed is None or each.frozen is None for each in after),
        frost_nights_protected=len(frosts & course.covered),
        frost_nights_unprotected=len(frosts - course.covered),
        hot_dry_days_told=days[True],
        hot_dry_days_untold=days[False],
        days_to_ready=days_to_ready(course),
        dry_top_h=dry_top_hours(truth, course, given_by(course)),
        feedings_on=tuple(each.on for each in feedings),
    )


def _moved_days(course: Course) -> int:
    """Return how late the last feeding given was by the plan."""
    given = course.walk[-1][2].sequence.given
    if not given:
        return 0
    return (given[-1].on - course.batch.start_on).days + 1 - given[-1].step.day


def _held_days(batch: Batch, index: JournalIndex) -> int:
    feedings = feeding_keys(batch)
    return sum(
        standing is State.HELD
        for told in index.batch(batch.name).told.values()
        for key, standing in told.items()
        if key in feedings
    )


def _frosts(truth: Truth, course: Course) -> frozenset[date]:
    """Return the nights that asked for a cover, by the date they begin on."""
    frosts = set()
    for on, plantings in standing_crops(truth, course):
        band = truth.conditions(on).night(on).leaf_band()
        if band is not None and any(is_harmed(each.crop, band[0]) for each in plantings):
            frosts.add(on)
    return frozenset(frosts)


def _hot(truth: Truth, course: Course, index: JournalIndex) -> Mapping[bool, int]:
    """Count the days that dried out the tops, by whether the grower was told."""
    counted = {True: 0, False: 0}
    batch = course.batch
    for on, before, _ in course.walk:
        standing = Day(truth.garden, batch, before, DayLog(on)).standing
        if front(before.sequence, batch) is None and not standing:
            continue
        if not truth.conditions(on).on(on).hot.reached:
            continue
        key = AlertKey(AlertCode.HOT_DRY, slug(batch.name))
        counted[key in index.alerts.get(on, {})] += 1
    return counted


GIVEN_DIGITS, WASHED_DIGITS = 0, 1
"""Decimals of nitrogen in grams."""


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
    frosts = _frosts(truth, ours)
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
            hours[at.astimezone(truth.zone).date()] += int(dry)
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


def figure_rows(units: Units) -> Iterator[tuple[str, Callable[[BatchTally], str]]]:
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
