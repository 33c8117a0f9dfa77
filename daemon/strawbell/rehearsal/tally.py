"""What a rehearsed season came to, in numbers, measured by the weather that really came.

The plain calendar is reckoned by the same code from an empty journal: there the plan's own days
count as done as planned, whatever the weather.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from msgspec import Struct

from strawbell.decision.alerts import planted
from strawbell.decision.daily_weather import risk_of
from strawbell.model.brief import AlertCode, AlertKey, State
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import Journal
from strawbell.model.names import slug
from strawbell.rehearsal.course import Course, course_of, feeding_keys, standing_crops
from strawbell.rehearsal.outcomes import days_to_ready, dry_top_hours, given_by, washed_out_g
from strawbell.rehearsal.recorded import Weather
from strawbell.rehearsal.truth import Truth
from strawbell.season.conditioning import front
from strawbell.season.journal_index import JournalIndex

DAYS_A_WEEK = 7.0


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
        strawbell=tuple(_batch(truth, batch, journal, index, last) for batch in within),
        calendar=tuple(_batch(truth, batch, (), JournalIndex(), last) for batch in within),
    )


def _batch(
    truth: Truth, batch: Batch, journal: Journal, index: JournalIndex, last: date
) -> BatchTally:
    course = course_of(truth, batch, journal, index, last)
    feedings = [fed.feeding for fed in course.fed]
    low_g, high_g = washed_out_g(course)
    after = [truth.after(fed.at) for fed in course.fed]
    nights, days = _frost(truth, course), _hot(truth, course, index)
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
        frost_nights_protected=nights[True],
        frost_nights_unprotected=nights[False],
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


def _frost(truth: Truth, course: Course) -> Mapping[bool, int]:
    """Count the nights that asked for a cover, by whether one was told."""
    counted = {True: 0, False: 0}
    for on, plantings in standing_crops(truth, course):
        crops = tuple(each.crop for each in plantings)
        if any(risk_of(truth.conditions(on).night(on), crop) for crop in crops):
            counted[on in course.covered] += 1
    return counted


def _hot(truth: Truth, course: Course, index: JournalIndex) -> Mapping[bool, int]:
    """Count the days that dried out the tops, by whether the grower was told."""
    counted = {True: 0, False: 0}
    batch = course.batch
    for on, before, _ in course.walk:
        if front(before.sequence, batch) is None and not planted(batch, before):
            continue
        hot = truth.conditions(on).on(on).hot
        if hot is None or not hot.reached:
            continue
        key = AlertKey(AlertCode.HOT_DRY, slug(batch.name))
        counted[key in index.alerts.get(on, {})] += 1
    return counted
