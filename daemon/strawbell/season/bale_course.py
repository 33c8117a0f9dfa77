"""One bale of a batch day by day: what the journal says was done to it, through the balance.

Past days are walked once and kept; the index of the journal forgets them when a row about them
comes. Where no journal was kept, the plan counts as done, with the water it would have told.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import lru_cache
from typing import NamedTuple

from strawbell.agronomy.air.evapotranspiration import hargreaves_et
from strawbell.agronomy.air.sun import daily_extraterrestrial
from strawbell.agronomy.bale.balance import NOTHING, Work
from strawbell.agronomy.bale.ensemble import (
    QUARTERS,
    Ensemble,
    begin,
    believe,
    held_l,
    quarters,
    walk,
)
from strawbell.agronomy.bale.watering import first_soak_l, refill, wash_in
from strawbell.agronomy.feeding.feeds import nitrogen_forms
from strawbell.model.brief import Action, State
from strawbell.model.feeds import Feed, FeedForm
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Batch, Place
from strawbell.model.schedule import ScheduleDay
from strawbell.season.batch_state import BatchState
from strawbell.season.conditioning import dose_of
from strawbell.season.feedings_given import feed_of, feedings_given
from strawbell.season.journal_index import Record, Walked
from strawbell.season.local_time import zone_of
from strawbell.season.sequence import is_feeding

DAY = timedelta(days=1)
FOLLOWED_DAYS = 60
"""A bale wetted longer ago is not followed any more [d]: it has cooled, and plants feed on it (six
weeks is the longest conditioning published, Montana State University Extension)."""
DEFAULT_AIR_C = (7.0, 17.0)
"""Low and high of a day where nothing at all is known of the weather: spring (common practice)."""
UNKNOWN_RAIN_MM = 2.5
"""Rain a day of unknown weather is taken to have brought: 75 mm a month (design choice)."""
WATERS = frozenset({Action.SOAK, Action.WATER, Action.SURFACE_WATER, Action.FEED, Action.PLANT})
"""Work whose litres go into the bale."""


class Course(NamedTuple):
    """A bale at the beginning of a date: its draws, the air last known, and what was not known."""

    draws: Ensemble
    low_c: float
    high_c: float
    read_on: date | None = None
    unknown_days: int = 0


def course_at(batch: Batch, state: BatchState, record: Record, on: date, place: Place) -> Course:
    """Return a bale of a batch at the beginning of a date, walked from its first soaking."""
    course, day = _known(batch, record, on)
    last = min(on, batch.start_on + timedelta(days=FOLLOWED_DAYS))
    if course is None:
        low_c, high_c = _first_air(batch, record)
        course = Course(begin(batch.bale, (low_c + high_c) / 2.0), low_c, high_c)
    while day < last:
        if day == on - DAY:
            record.courses[batch.name] = Walked(batch, day, course)
        weather = record.weather.get(day, DayWeather())
        work = _done(batch, state, record, day, course, weather)
        course = next_course(course, batch, record, day, weather, work, place)
        day += DAY
    return course


def next_course(
    course: Course,
    batch: Batch,
    record: Record,
    on: date,
    weather: DayWeather,
    work: Work,
    place: Place,
) -> Course:
    """Return a bale after a date with its weather, its work and its readings."""
    known = weather.low_c is not None and weather.high_c is not None
    low_c = weather.low_c if weather.low_c is not None and known else course.low_c
    high_c = weather.high_c if weather.high_c is not None and known else course.high_c
    rain_mm = UNKNOWN_RAIN_MM if weather.rain_mm is None else weather.rain_mm
    above_air = _radiation(place.latitude, on.timetuple().tm_yday)
    et0_mm = hargreaves_et(low_c, max(low_c, high_c), above_air)
    steps = quarters(low_c, high_c, rain_mm, et0_mm, work)
    draws, read_on, zone = course.draws, course.read_on, zone_of(place.time_zone)
    readings = sorted(
        (min(at.hour * len(QUARTERS) // 24, len(QUARTERS) - 1), reading.temperature_c)
        for reading in record.batch(batch.name).readings
        if (at := reading.at.astimezone(zone)).date() == on
    )
    done = 0
    for quarter, reading_c in readings:
        draws = walk(draws, batch.bale, steps[done : quarter + 1])
        draws = believe(draws, reading_c, (low_c + high_c) / 2.0)
        done, read_on = quarter + 1, on
    draws = walk(draws, batch.bale, steps[done:])
    unknown = course.unknown_days + (weather.rain_mm is None)
    return Course(draws, low_c, high_c, read_on, unknown)


def planned_work(
    batch: Batch, step: ScheduleDay | None, course: Course, rain_mm: float, *, first: bool
) -> Work:
    """Return the work of a day as the plan and the water rules would have it.

    `rain_mm` is the rain that is counted on that day.
    """
    bale = batch.bale
    held = held_l(course.draws)
    fed = _feed(batch, step) if step is not None else NOTHING
    if first:
        return fed._replace(poured_l=first_soak_l(bale))
    if step is not None and is_feeding(step):
        return fed._replace(poured_l=max(fed.poured_l, wash_in(bale, held, rain_mm).litres))
    return Work(poured_l=refill(bale, held, rain_mm).litres)


def _known(batch: Batch, record: Record, on: date) -> tuple[Course | None, date]:
    walked = record.courses.get(batch.name)
    if walked is None or walked.batch is not batch or walked.on > on:
        return None, batch.start_on
    return (walked.state, walked.on) if isinstance(walked.state, Course) else (None, batch.start_on)


def _first_air(batch: Batch, record: Record) -> tuple[float, float]:
    for offset in range(FOLLOWED_DAYS):
        weather = record.weather.get(batch.start_on + timedelta(days=offset))
        if weather is not None and weather.low_c is not None and weather.high_c is not None:
            return weather.low_c, weather.high_c
    return DEFAULT_AIR_C


def _done(
    batch: Batch, state: BatchState, record: Record, on: date, course: Course, weather: DayWeather
) -> Work:
    """Return what was done to a bale on a past date."""
    own = record.batch(batch.name)
    work = _fed(batch, state, record, on)
    if not own.kept_on(on, batch.start_on):
        step = next((each.step for each in state.sequence.given if each.on == on), None)
        first = on == batch.start_on
        planned = planned_work(batch, step, course, weather.rain_mm or 0.0, first=first)
        return work._replace(poured_l=planned.poured_l)
    litres = 0.0
    for key, standing in own.told.get(on, {}).items():
        if standing is State.HELD or record.missed_on(key, on):
            continue
        amounts = record.amounts.get(key, {})
        water, times = amounts.get("water_per_bale_l"), amounts.get("times_a_day", 1)
        if amounts.get("action") in WATERS and isinstance(water, (int, float)):
            litres += water * (times if isinstance(times, int) else 1)
    return work._replace(poured_l=litres)


def _fed(batch: Batch, state: BatchState, record: Record, on: date) -> Work:
    """Return the nitrogen that was given on a date, by form."""
    work = NOTHING
    for given in feedings_given(batch, state, record):
        if given.on == on and given.feed is not None:
            work = _with(work, given.feed, given.nitrogen_per_bale_g)
    return work


def _feed(batch: Batch, step: ScheduleDay) -> Work:
    dose, feed = dose_of(batch, step), feed_of(batch, step)
    if dose is None or feed is None:
        return NOTHING
    litres = dose.water_per_bale_l if feed.form is FeedForm.LIQUID else 0.0
    return _with(NOTHING, feed, dose.nitrogen_per_bale_g)._replace(poured_l=litres)


def _with(work: Work, feed: Feed, grams: float) -> Work:
    forms = nitrogen_forms(feed)
    return work._replace(
        urea_g=work.urea_g + grams * forms.urea,
        ammonium_g=work.ammonium_g + grams * forms.ammonium,
        nitrate_g=work.nitrate_g + grams * forms.nitrate,
        organic_g=work.organic_g + grams * forms.organic,
        dissolved=work.dissolved or feed.form is FeedForm.LIQUID,
    )


@lru_cache(maxsize=1024)
def _radiation(latitude: float, day_of_year: int) -> float:
    return daily_extraterrestrial(latitude, day_of_year)
