"""What one policy did with a batch in a season, and what came of it in the weather that came.

A course is read out of a journal. An empty journal gives the plain calendar: the plan's own days
count as done as planned, whatever the weather.

The thresholds here are the published defaults, not the rules of the garden that is judged: a grower
who holds at other figures is still judged by the same ones.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from msgspec import Struct

from strawbell.agronomy.bales import top_area_m2
from strawbell.agronomy.ensemble import MILD_DAYS_NEEDED, conditioned_days, weighted
from strawbell.agronomy.surface import (
    SurfaceHour,
    SurfaceLayer,
    depletion_after,
    potting_mix_layer,
    seed_bed_layer,
    surface_hours,
    watered_at,
)
from strawbell.decision.daily_weather import DailyWeather
from strawbell.decision.telling import NIGHT
from strawbell.model.brief import Action, AlertCode, AlertKey, State, TaskKey
from strawbell.model.forecast import DayWeather, Forecast
from strawbell.model.garden import Batch, Garden, Method, Planting, slug
from strawbell.model.journal import EntryKind, Journal
from strawbell.rehearsal.recorded import Weather
from strawbell.season.bale_course import Course as BaleCourse
from strawbell.season.bale_course import mornings
from strawbell.season.conditioning import is_feeding, step_key
from strawbell.season.feedings import FeedingGiven, feedings_given
from strawbell.season.fold import begin, candidates, step
from strawbell.season.journal_index import ALERT_TOLD, DayLog, JournalIndex, task_of
from strawbell.season.local_time import DAY, bounds_of, moment_of
from strawbell.season.stage import (
    FIRST_WEEKS_DAYS,
    BatchState,
    Day,
    dated_key,
    plant_from,
    planted_on,
)
from strawbell.weather.judgement import day_weather
from strawbell.weather.thresholds import FREEZE_HOLD_C, RAIN_HOLD_MM
from strawbell.weather.windows import HOUR, hours_between, lowest_temperature, rain_total

AFTER_FEEDING = timedelta(hours=24)
"""How long after a feeding rain and frost are charged to it (as the holds look ahead)."""
WIND_HEIGHT_M = 10.0
"""Height at which stations measure wind (WMO standard, from memory) [m]."""
KNOWN_SHARE = 0.9
"""Share of the first three weeks that has to be known for their dry hours to count (design
choice)."""
FIRST_WEEKS = timedelta(days=FIRST_WEEKS_DAYS)
WETS = frozenset(
    {Action.SOAK, Action.WATER, Action.SURFACE_WATER, Action.FEED, Action.PLANT, Action.SOW}
)
"""Actions that bring water onto the top of a bale."""
FILLS = frozenset({Action.SOAK, Action.WATER, Action.SURFACE_WATER})
"""Of these, the ones that fill the top up where no amount is said."""
FILLS_MM = 100.0
"""More than any top of a bale lacks: stands for a watering that fills it up [mm]."""
Walk = list[tuple[date, BatchState, BatchState]]
"""Each date of a batch with its state in the morning and in the night after."""
Work = list[tuple[date, datetime, Action, float | None, int]]
"""Work done: date, from when, what, litres a bale, times a day."""
Give = Callable[[datetime, bool], float]
"""What is given over the hour that begins at a moment, told whether the top is dry [mm]."""


class Aftermath(Struct, frozen=True):
    """What the 24 h after a moment brought; None where it is not known whole and not reached."""

    washed: bool | None
    """12.7 mm of rain or more."""
    frozen: bool | None
    """0 degC or less."""


class Watering(Struct, frozen=True):
    """A watering that was recorded [mm over the top]; `mm` is None where the amount was not."""

    at: datetime
    mm: float | None = None


class Truth:
    """The record of one garden; each date and moment is looked at once."""

    def __init__(self, garden: Garden, weather: Weather) -> None:
        """Look at `weather` from where a garden lies."""
        self.garden = garden
        self.weather = weather
        self.zone = weather.zone
        self._hours = tuple(weather.hours.values())
        self._days: dict[date, DayWeather] = {}
        self._daily: dict[date, DailyWeather] = {}
        self._after: dict[datetime, Aftermath] = {}
        self._tops: dict[date, tuple[SurfaceHour, ...]] = {}

    def morning(self, on: date) -> datetime:
        """Return when the morning brief of a date is due."""
        return moment_of(on, self.garden.times.morning, self.zone)

    def day(self, on: date) -> DayWeather:
        """Return the weather of a local date."""
        if on not in self._days:
            start, end = bounds_of(on, self.zone)
            self._days[on] = day_weather(self._forecast(start, start, end), start, end)
        return self._days[on]

    def conditions(self, on: date) -> DailyWeather:
        """Return the conditions as a morning would see them that knows what comes."""
        if on not in self._daily:
            now = self.morning(on)
            known = self._forecast(now, now - DAY * 2, now + DAY * 12)
            self._daily[on] = DailyWeather(self.garden, known, now)
        return self._daily[on]

    def after(self, at: datetime) -> Aftermath:
        """Return what the 24 h after a moment brought."""
        if at not in self._after:
            rain = rain_total(self._hours, at, at + AFTER_FEEDING)
            low = lowest_temperature(self._hours, at, at + AFTER_FEEDING)
            washed = rain.value is not None and rain.value >= RAIN_HOLD_MM
            frozen = low.value is not None and low.value <= FREEZE_HOLD_C
            self._after[at] = Aftermath(
                washed=True if washed else False if rain.complete else None,
                frozen=True if frozen else False if low.complete else None,
            )
        return self._after[at]

    def top_hours(self, on: date) -> Sequence[SurfaceHour]:
        """Return the hours of a date as a bare top feels them."""
        if on not in self._tops:
            start, end = bounds_of(on, self.zone)
            around = hours_between(self._hours, start - DAY, end + DAY)
            hours = surface_hours(around, self.garden.place, WIND_HEIGHT_M)
            self._tops[on] = tuple(hour for hour in hours if start <= hour.starts_at < end)
        return self._tops[on]

    def _forecast(self, issued: datetime, start: datetime, end: datetime) -> Forecast:
        hours = tuple(hours_between(self._hours, start, end))
        return Forecast("record", issued, issued, hours, "", wind_height_m=WIND_HEIGHT_M)


class Fed(Struct, frozen=True):
    """A feeding: when it was told, and what it gave."""

    at: datetime
    feeding: FeedingGiven


class Course(Struct, frozen=True):
    """One batch under one policy, from its start through a date."""

    batch: Batch
    last: date
    fed: tuple[Fed, ...]
    bales: tuple[BaleCourse, ...]
    """One bale on each morning from the start on, through the weather that came."""
    finished_on: date | None
    planted: tuple[tuple[Planting, date], ...]
    """When each planting went in first."""
    waterings: tuple[Watering, ...]
    covered: frozenset[date]
    """Nights by the date they begin on, that the grower was told to cover for or warned of."""
    walk: Walk


def course_of(
    truth: Truth, batch: Batch, journal: Journal, index: JournalIndex, last: date
) -> Course:
    """Return what a journal, and its index, say was done; both empty: the plain calendar."""
    garden = truth.garden
    walk = list(walk_of(garden, batch, index, last))
    log = index.day(batch, last + DAY)
    state = begin(walk[-1][2], batch, log)
    told_at = told_moments(journal)
    told = _told_work(batch, journal, index, truth)
    work = list(told if journal else planned_work(truth, walk, batch))
    return Course(
        batch=batch,
        last=last,
        fed=tuple(_fed(truth, batch, state, log, told_at)),
        bales=tuple(_bales(truth, batch, state, index, last)),
        finished_on=state.sequence.finished_on,
        planted=tuple(_planted(batch, walk)),
        waterings=tuple(_waterings(batch, work)),
        covered=frozenset(on for on, told in dict(_covered(batch, journal)).items() if told),
        walk=walk,
    )


def walk_of(
    garden: Garden, batch: Batch, index: JournalIndex, last: date
) -> Iterator[tuple[date, BatchState, BatchState]]:
    """Yield each date of a batch with its state in the morning and in the night after."""
    before = BatchState()
    for log in index.days(batch, batch.start_on, last + DAY):
        after = step(before, garden, batch, log)
        yield log.on, begin(before, batch, log), after
        before = after


def told_moments(journal: Journal) -> Mapping[tuple[date, TaskKey], datetime]:
    """Return when a task was last told as due on a date: after rain that may be the afternoon."""
    return {
        (entry.local_date, key): entry.at
        for entry in journal
        if entry.kind in (EntryKind.TOLD, EntryKind.TAKEN_BACK)
        and entry.state == State.DUE
        and (key := task_of(entry)) is not None
    }


def feeding_keys(batch: Batch) -> frozenset[TaskKey]:
    """Return the keys of the feedings of a batch's conditioning."""
    return frozenset(step_key(batch, step) for step in batch.schedule.days if is_feeding(step))


def _fed(
    truth: Truth,
    batch: Batch,
    state: BatchState,
    log: DayLog,
    told_at: Mapping[tuple[date, TaskKey], datetime],
) -> Iterator[Fed]:
    for given in feedings_given(batch, state, log):
        if given.step is not None:
            at = told_at.get((given.on, given.key)) or truth.morning(given.on)
            yield Fed(at, given)


def _bales(
    truth: Truth, batch: Batch, state: BatchState, index: JournalIndex, last: date
) -> Iterator[BaleCourse]:
    came = {on: truth.day(on) for on in _dates(batch.start_on, last)}
    for _, course in mornings(batch, state, index, last + DAY, truth.garden.place, came):
        yield course


def _dates(first: date, last: date) -> Iterator[date]:
    return map(date.fromordinal, range(first.toordinal(), last.toordinal() + 1))


def _planted(batch: Batch, walk: Walk) -> Iterator[tuple[Planting, date]]:
    """Yield when each planting went in first; after a killing frost it may go in again."""
    for each in batch.plantings:
        dates = (planted_on(batch, after, each) for _, _, after in walk)
        first = min((on for on in dates if on is not None), default=None)
        if first is not None:
            yield each, first


def _covered(batch: Batch, journal: Journal) -> Iterator[tuple[date, bool]]:
    """Yield the nights of which a cover was told or a warning given on their date, or taken back.

    A warning may be of tomorrow's night: it is told again by its own date, or it has passed.
    """
    frost = AlertKey(AlertCode.FROST, slug(batch.name)).text()
    for entry in journal:
        on = entry.local_date
        if entry.task == frost:
            stands = entry.state == ALERT_TOLD
            if not stands or entry.data.get(NIGHT) in (None, on.isoformat()):
                yield on, stands
        elif entry.task == dated_key(batch.name, Action.PROTECT, on).text():
            yield on, entry.state == State.DUE


def planned_work(
    truth: Truth, walk: Walk, batch: Batch
) -> Iterator[tuple[date, datetime, Action, float | None, int]]:
    """Yield what the plan has due, date by date: when, what, litres a bale, times a day."""
    for on, before, _ in walk:
        for task in candidates(Day(truth.garden, batch, before, DayLog(on))):
            litres = task.water_per_bale_l
            yield on, truth.morning(on), task.action, litres, task.times_a_day


def _told_work(
    batch: Batch, journal: Journal, index: JournalIndex, truth: Truth
) -> Iterator[tuple[date, datetime, Action, float | None, int]]:
    """Yield what the briefs of a journal had due, and what was released later in the day."""
    told = index.batch(batch.name).told
    for entry in journal:
        if entry.kind is EntryKind.BRIEF and isinstance(tasks := entry.data.get("tasks"), list):
            on = entry.local_date
            standing_then = {key.text(): state for key, state in told.get(on, {}).items()}
            for task in tasks:
                is_due = standing_then.get(task["key"]) is State.DUE
                key = TaskKey.parse(task["key"], [batch.name])
                if is_due and key is not None and index.day(batch, on).is_open(key):
                    continue
                if task["batch"] == batch.name and is_due:
                    yield _work_of(task, on, truth.morning(on))


def _work_of(
    task: Mapping[str, Any], on: date, at: datetime
) -> tuple[date, datetime, Action, float | None, int]:
    return on, at, Action(task["action"]), task["water_per_bale_l"], int(task["times_a_day"])


def _waterings(batch: Batch, work: Work) -> Iterator[Watering]:
    """Yield each watering [mm over the top]."""
    area_m2 = top_area_m2(batch.bale)
    for _, at, action, litres, times in work:
        if action not in WETS or (litres is None and action not in FILLS):
            continue
        for moment in watered_at(at, times):
            yield Watering(moment, None if litres is None else litres / area_m2)


def washed_out_g(course: Course) -> tuple[float, float]:
    """Return the least and the most that water carried out of a bale by the end [g N]."""
    draws = course.bales[-1].draws
    band = weighted(draws, (left.leached_g for left in draws.left))
    return band.low, band.high


def days_to_ready(course: Course) -> int | None:
    """Return from which morning planting was possible [days after the start]."""
    if course.finished_on is None:
        return None
    earliest = (plant_from(course.batch.schedule, course.finished_on) - course.batch.start_on).days
    mornings = enumerate(course.bales)
    return next(
        (
            day
            for day, bale in mornings
            if day >= earliest and conditioned_days(bale.draws).mean >= MILD_DAYS_NEEDED
        ),
        None,
    )


def given_by(course: Course) -> Give:
    """Return what a course gives; a watering without an amount fills the top up."""
    by_hour: dict[datetime, float] = {}
    for given in course.waterings:
        hour = given.at.replace(minute=0, second=0, microsecond=0)
        by_hour[hour] = by_hour.get(hour, 0.0) + (FILLS_MM if given.mm is None else given.mm)
    return lambda begins, dry: by_hour.get(begins, 0.0)  # noqa: ARG005


def dry_top_hours(truth: Truth, course: Course, give: Give) -> float | None:
    """Return the hours with a dry top in the first three weeks, None without all of them."""
    since = first_planted(course)
    if since is None or since + FIRST_WEEKS > course.last:
        return None
    hours = [dry for _, dry in top_walk(truth, course, give) if dry is not None]
    end, _ = bounds_of(since + FIRST_WEEKS, truth.zone)
    wanted = (end - truth.morning(since)) / HOUR
    return float(sum(hours)) if len(hours) >= KNOWN_SHARE * wanted else None


def first_planted(course: Course) -> date | None:
    """Return when the first crop went in."""
    return min((on for _, on in course.planted), default=None)


def top_walk(truth: Truth, course: Course, give: Give) -> Iterator[tuple[datetime, bool | None]]:
    """Yield the hours of the first three weeks of what grows, and whether the top was dry.

    It begins wet, as planting waters it in; an hour of unknown weather is None.
    """
    since = first_planted(course)
    if since is None:
        return
    layer = _layer(truth, course, since)
    begins = truth.morning(since)
    depletion_mm = 0.0
    for on in map(date.fromordinal, range(since.toordinal(), (since + FIRST_WEEKS).toordinal())):
        for hour in truth.top_hours(on) if on <= course.last else ():
            if hour.starts_at < begins:
                continue
            given_mm = give(hour.starts_at, depletion_mm > layer.dry_at_mm)
            if hour.et_mm is None or hour.rain_mm is None:
                depletion_mm = max(0.0, depletion_mm - given_mm)
                yield hour.starts_at, None
                continue
            water_mm = hour.rain_mm + given_mm
            depletion_mm = depletion_after(layer, depletion_mm, hour.et_mm, water_mm)
            yield hour.starts_at, depletion_mm > layer.dry_at_mm


def _layer(truth: Truth, course: Course, since: date) -> SurfaceLayer:
    """Return the top of the bales on the day something went in (as the advice sees it)."""
    mulch_share = 1.0 if course.batch.mulched else 0.0
    if any(each.method is Method.SEED and on == since for each, on in course.planted):
        return seed_bed_layer(mulch_share)
    return potting_mix_layer(truth.garden.mix_layer_cm, mulch_share)


def standing_crops(truth: Truth, course: Course) -> Iterator[tuple[date, tuple[Planting, ...]]]:
    """Yield each date with what stands in the bales in the night after it."""
    for on, _, after in course.walk:
        day = Day(truth.garden, course.batch, after, DayLog(on))
        yield on, tuple(each for each, _ in day.standing)
