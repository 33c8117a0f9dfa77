"""What a rehearsed season came to, in numbers, measured by the weather that really came.

The plain calendar is reckoned by the same code from an empty journal: there the plan's own days
count as done as planned, whatever the weather.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from strawbell.model.brief import Action, AlertCode, State
from strawbell.model.forecast import DayWeather, Forecast
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import EntryKind, Journal
from strawbell.planning.alerts import planted
from strawbell.planning.batch_state import BatchState, begin, next_state
from strawbell.planning.candidates import once_due
from strawbell.planning.frost_watch import most_endangered
from strawbell.planning.keys import alert_key, dated_key
from strawbell.planning.local_time import DAY, bounds_of, moment_of
from strawbell.planning.nitrogen_book import book_of
from strawbell.planning.record import Record
from strawbell.planning.sequence import Given, front, is_feeding, step_key
from strawbell.planning.skies import Skies
from strawbell.planning.stage import Day, standing
from strawbell.rehearsal.recorded import Weather
from strawbell.weather.days import day_weather
from strawbell.weather.thresholds import FREEZE_HOLD_C, RAIN_HOLD_MM
from strawbell.weather.windows import lowest_temperature, rain_total

AFTER_FEEDING = timedelta(hours=24)
"""How long after a feeding rain and frost are charged to it (as the holds look ahead)."""
DAYS_A_WEEK = 7.0


@dataclass(frozen=True, slots=True)
class BatchTally:
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
    feedings_on: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True)
class Tally:
    """One garden, from a date through another, as told and by a plain calendar."""

    garden: str
    first: date
    last: date
    notices: int
    strawbell: tuple[BatchTally, ...]
    calendar: tuple[BatchTally, ...]

    @property
    def notices_per_week(self) -> float:
        """Return how often the grower was spoken to."""
        return self.notices / ((self.last - self.first).days + 1) * DAYS_A_WEEK


@dataclass(slots=True)
class _Truth:
    """The weather that came, as a forecast that knows it; each date is looked at once."""

    garden: Garden
    weather: Weather
    hours: Forecast
    told_at: Mapping[tuple[date, str], datetime]
    """When a task was last told as due on a date: after rain that may be the afternoon."""
    days: dict[date, DayWeather] = field(default_factory=dict)
    skies: dict[date, Skies] = field(default_factory=dict)

    def morning(self, on: date) -> datetime:
        return moment_of(on, self.garden.times.morning, self.weather.zone)

    def day(self, on: date) -> DayWeather:
        if on not in self.days:
            self.days[on] = day_weather(self.hours, *bounds_of(on, self.weather.zone))
        return self.days[on]

    def sky(self, on: date) -> Skies:
        if on not in self.skies:
            now = self.morning(on)
            known = replace(self.hours, issued_at=now, fetched_at=now)
            self.skies[on] = Skies(self.garden, known, now)
        return self.skies[on]


def tally(
    garden: Garden, journal: Journal, weather: Weather, dates: tuple[date, date], notices: int
) -> Tally:
    """Return the numbers of a garden; `journal` is that of the rehearsal."""
    first, last = dates
    at = moment_of(first, garden.times.morning, weather.zone)
    hours = Forecast("record", at, at, tuple(weather.hours.values()), "")
    truth = _Truth(garden, weather, hours, _told_at(journal))
    plain = replace(truth, told_at={})
    record = Record.of(journal)
    within = [batch for batch in garden.batches if batch.start_on <= last]
    return Tally(
        garden=garden.name,
        first=first,
        last=last,
        notices=notices,
        strawbell=tuple(_batch(truth, batch, record, dates) for batch in within),
        calendar=tuple(_batch(plain, batch, Record(), dates) for batch in within),
    )


def _batch(truth: _Truth, batch: Batch, record: Record, dates: tuple[date, date]) -> BatchTally:
    garden, last = truth.garden, dates[1]
    walk = list(_walk(garden, batch, record, last))
    state = begin(walk[-1][2], batch, record, last + DAY)
    given = state.sequence.given
    true_days = {on: truth.day(on) for on, _, _ in walk}
    storm_mm = garden.rules.rain_hold_mm
    book = book_of(batch, state, replace(record, weather=true_days), last + DAY, storm_mm)
    feedings = [each.on for each in given]
    nights, days = _frost(truth, batch, record, walk), _hot(truth, batch, record, walk)
    wet, freezing, unknown = _after(truth, given)
    return BatchTally(
        batch=batch.name,
        feedings=len(given),
        held_days=_held_days(batch, record),
        moved_days=((given[-1].on - batch.start_on).days + 1 - given[-1].step.day if given else 0),
        nitrogen_given_g=book.ledger.given_g if book else 0.0,
        leached_low_g=book.ledger.leached_low_g if book else 0.0,
        leached_high_g=book.ledger.leached_high_g if book else 0.0,
        before_heavy_rain=wet,
        on_freezing_nights=freezing,
        weather_unknown=unknown,
        frost_nights_protected=nights[True],
        frost_nights_unprotected=nights[False],
        hot_dry_days_told=days[True],
        hot_dry_days_untold=days[False],
        feedings_on=tuple(feedings),
    )


_Walk = list[tuple[date, BatchState, BatchState]]


def _walk(
    garden: Garden, batch: Batch, record: Record, last: date
) -> Iterator[tuple[date, BatchState, BatchState]]:
    """Yield each date of a batch with its state in the morning and in the night after."""
    once = once_due(garden)
    before = BatchState()
    on = batch.start_on
    while on <= last:
        after = next_state(before, batch, record, on, once)
        yield on, begin(before, batch, record, on), after
        before, on = after, on + DAY


def _held_days(batch: Batch, record: Record) -> int:
    feedings = {step_key(batch, step) for step in batch.schedule.days if is_feeding(step)}
    return sum(
        standing is State.HELD
        for told in record.batch(batch.name).told.values()
        for key, standing in told.items()
        if key in feedings
    )


def _told_at(journal: Journal) -> Mapping[tuple[date, str], datetime]:
    return {
        (entry.local_date, entry.task): entry.at
        for entry in journal
        if entry.kind in (EntryKind.TOLD, EntryKind.TAKEN_BACK)
        and entry.task
        and entry.state == State.DUE
    }


def _after(truth: _Truth, given: tuple[Given, ...]) -> tuple[int, int, int]:
    """Return how many feedings had heavy rain, a freeze, or unknown weather after them."""
    wet = freezing = unknown = 0
    for each in given:
        start = truth.told_at.get((each.on, each.key)) or truth.morning(each.on)
        rain = rain_total(truth.hours.hours, start, start + AFTER_FEEDING)
        low = lowest_temperature(truth.hours.hours, start, start + AFTER_FEEDING)
        wet += rain.value is not None and rain.value >= RAIN_HOLD_MM
        freezing += low.value is not None and low.value <= FREEZE_HOLD_C
        unknown += not (rain.complete and low.complete)
    return wet, freezing, unknown


def _frost(truth: _Truth, batch: Batch, record: Record, walk: _Walk) -> Mapping[bool, int]:
    """Count the nights that asked for a cover, by whether one was told."""
    counted = {True: 0, False: 0}
    for on, _, after in walk:
        crops = tuple(each.crop for each, _ in standing(Day(truth.garden, batch, after, on)))
        risk = most_endangered(truth.sky(on).night(on), crops)[0] if crops else None
        if risk is None:
            continue
        key = dated_key(batch.name, Action.PROTECT, on)
        covered = record.batch(batch.name).told.get(on, {}).get(key) is State.DUE
        warned = record.alerts.get(on, {}).get(alert_key(AlertCode.FROST, batch.name), False)
        counted[covered or warned] += 1
    return counted


def _hot(truth: _Truth, batch: Batch, record: Record, walk: _Walk) -> Mapping[bool, int]:
    """Count the days that dried out the tops, by whether the grower was told."""
    counted = {True: 0, False: 0}
    for on, before, _ in walk:
        if front(before.sequence, batch) is None and not planted(batch, before):
            continue
        hot = truth.sky(on).on(on).hot
        if hot is None or not hot.reached:
            continue
        key = alert_key(AlertCode.HOT_DRY, batch.name)
        counted[key in record.alerts.get(on, {})] += 1
    return counted
