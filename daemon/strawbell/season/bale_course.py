"""One bale of a batch day by day: what the journal says was done to it, through the balance.

Past days are followed once and kept (`season.checkpoint`), until a row about them comes. Where no
journal was kept, the plan counts as done, with the water it would have told.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from functools import lru_cache
from typing import NamedTuple

from strawbell.agronomy.air.evapotranspiration import hargreaves_et
from strawbell.agronomy.air.sun import daily_extraterrestrial
from strawbell.agronomy.bale.balance import NOTHING, Work
from strawbell.agronomy.bale.ensemble import (
    Ensemble,
    begin,
    believe,
    held_l,
    steps_of,
    walk,
)
from strawbell.agronomy.bale.size_and_mass import top_area_m2
from strawbell.agronomy.bale.water import Canopy, in_the_open, transpired_l
from strawbell.agronomy.bale.watering import first_soak_l, refill, wash_in
from strawbell.agronomy.feeding.dosing import dose_of, feed_of
from strawbell.agronomy.feeding.feeds import nitrogen_forms
from strawbell.model.brief import Action, State
from strawbell.model.feeds import Feed
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Batch, Place
from strawbell.model.schedule import ScheduleDay
from strawbell.season.aftercare import canopy_of
from strawbell.season.feedings_given import FeedingGiven, feedings_given
from strawbell.season.fold import Reached
from strawbell.season.journal_index import DayLog, JournalIndex
from strawbell.season.local_time import DAY, zone_of
from strawbell.season.sequence import is_feeding
from strawbell.season.stage import BatchState, lies_after, over_on, planted_on

FOLLOWED_DAYS = 240
"""A bale wetted longer ago is not followed any more [d]: no season is longer between frosts
(design choice)."""
TOP_WATER_MM = 3.0
"""Water over the top of young plants where no amount was told and the weather is unknown [mm]: what
it loses on a mild day of spring (common practice: until it is moist a finger deep)."""
DEFAULT_AIR_C = (7.0, 17.0)
"""Low and high of a day where nothing at all is known of the weather: spring (common practice)."""
UNKNOWN_RAIN_MM = 2.5
"""Rain a day of unknown weather is taken to have brought: 75 mm a month (design choice)."""
BARE = Canopy(0.0, 0.0)
"""No leaves."""
WATERS = frozenset({Action.SOAK, Action.WATER, Action.SURFACE_WATER, Action.FEED, Action.PLANT})
"""Work whose litres go into the bale."""


WASHED_DAYS = 4
"""Mornings for which it is kept how much had been washed out, to tell what a storm took."""


class Course(NamedTuple):
    """A bale at the beginning of a date: its draws, the air last known, and what was not known.

    `read_on` is when the core was last read, `unknown_days` counts days of unknown rain.
    `warmest` is the date of the strongest heating so far with its excess over the air [K];
    `washed_g` what had been washed out on the last mornings, oldest first [g N].
    """

    draws: Ensemble
    low_c: float
    high_c: float
    read_on: date | None = None
    unknown_days: int = 0
    warmest: tuple[float, date | None] = (0.0, None)
    washed_g: tuple[float, ...] = (0.0,)
    covered: bool = False
    """Whether a tarp lies over it."""


Stood = tuple[tuple[date | None, date | None], ...]
"""Since and until when each planting stood: with others a bale is followed anew."""


def course_at(
    batch: Batch,
    state: BatchState,
    index: JournalIndex,
    on: date,
    place: Place,
    reached: dict[str, Reached[tuple[Stood, Course]]] | None = None,
) -> Course:
    """Return a bale of a batch at the beginning of a date, followed from its first soaking.

    Where it was on the day before is kept in `reached`.
    """
    stood, since = _stood(batch, state), None
    known = None if reached is None else reached.get(batch.name)
    if known is not None and known.batch is batch and known.on <= on and known.value[0] == stood:
        since = known.on, known.value[1]
    for day, course in mornings(batch, state, index, on, place, since=since):
        if reached is not None and day == on - DAY:
            reached[batch.name] = Reached(batch, day, (stood, course))
    return course


def mornings(
    batch: Batch,
    state: BatchState,
    index: JournalIndex,
    last: date,
    place: Place,
    weather: Mapping[date, DayWeather] | None = None,
    since: tuple[date, Course] | None = None,
) -> Iterator[tuple[date, Course]]:
    """Yield a bale at the beginning of each date up to the last, or until it is not followed.

    `weather` is that of the journal unless it is given; `since` is where to go on from.
    """
    weather = index.weather if weather is None else weather
    if since is None:
        low_c, high_c = _first_air(batch, weather)
        since = batch.start_on, Course(begin(batch.bale, (low_c + high_c) / 2.0), low_c, high_c)
    day, course = since
    yield day, course
    given = feedings_given(batch, state, index.day(batch, last))
    planted = any(planted_on(batch, state, each) for each in batch.plantings)
    last = min(last, batch.start_on + timedelta(days=FOLLOWED_DAYS))
    for log in index.days(batch, day, last):
        conditions = weather.get(log.on, DayWeather())
        work = _done(batch, log, course, conditions, given, place)
        leaves = canopy_of(batch, state, log.on) if planted else BARE
        course = next_course(course, batch, log, conditions, work, place, leaves)
        yield log.on + DAY, course


def next_course(
    course: Course,
    batch: Batch,
    log: DayLog,
    weather: DayWeather,
    work: Work,
    place: Place,
    leaves: Canopy,
) -> Course:
    """Return a bale after a date with its weather, its work, its plants and its readings."""
    if not weather.complete:
        weather = DayWeather()
    known = weather.low_c is not None and weather.high_c is not None
    low_c = weather.low_c if weather.low_c is not None and known else course.low_c
    high_c = weather.high_c if weather.high_c is not None and known else course.high_c
    rain_mm = UNKNOWN_RAIN_MM if weather.rain_mm is None else weather.rain_mm
    et0_mm = _et0_mm(low_c, max(low_c, high_c), log.on, place)
    work = work._replace(taken_l=transpired_l(et0_mm, leaves))
    et0_mm *= in_the_open(leaves, top_area_m2(batch.bale))
    steps = steps_of(low_c, high_c, rain_mm, et0_mm, work, whole=leaves.area_m2 > 0.0)
    draws, read_on, zone = course.draws, course.read_on, zone_of(place.time_zone)
    readings = sorted(
        (at.hour * len(steps) // 24, reading.temperature_c)
        for reading in log.readings
        if (at := reading.at.astimezone(zone)).date() == log.on
    )
    done = 0
    for quarter, reading_c in readings:
        draws = walk(draws, batch.bale, steps[done : quarter + 1])
        draws = believe(draws, reading_c, (low_c + high_c) / 2.0)
        done, read_on = quarter + 1, log.on
    draws = walk(draws, batch.bale, steps[done:])
    pairs = tuple(zip(draws.weights, draws.states, draws.left, strict=True))
    excess_k = sum(weight * state.temperature_c for weight, state, _ in pairs)
    excess_k -= (low_c + high_c) / 2.0
    washed_g = sum(weight * left.leached_g for weight, _, left in pairs)
    return Course(
        draws,
        low_c,
        high_c,
        read_on,
        course.unknown_days + (weather.rain_mm is None),
        max(course.warmest, (excess_k, log.on), key=lambda each: each[0]),
        (*course.washed_g, washed_g)[-WASHED_DAYS:],
        work.covered,
    )


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


def _stood(batch: Batch, state: BatchState) -> Stood:
    return tuple(
        (planted_on(batch, state, each), over_on(batch, state, each)) for each in batch.plantings
    )


def _first_air(batch: Batch, kept: Mapping[date, DayWeather]) -> tuple[float, float]:
    """Return the low and high that a bale began in: of its own first day, never of a later one.

    Decided 2026-11-29: weather that is kept later must not change what was told of today, and a
    projected morning must be the next morning's.
    """
    weather = kept.get(batch.start_on, DayWeather())
    if weather.low_c is None or weather.high_c is None:
        return DEFAULT_AIR_C
    return weather.low_c, weather.high_c


def _done(
    batch: Batch,
    log: DayLog,
    course: Course,
    weather: DayWeather,
    given: Sequence[FeedingGiven],
    place: Place,
) -> Work:
    """Return what was done to a bale on a past date.

    A top is watered until it is moist: with what the day took and rain did not bring back, however
    often.
    """
    on, step = log.on, None
    work = Work(covered=lies_after(batch, log, lying=course.covered))
    for each in given:
        if each.on == on and each.feed is not None:
            work, step = _with(work, each.feed, each.nitrogen_per_bale_g), each.step or step
    if not log.is_kept:
        rain_mm = 0.0 if work.covered else weather.rain_mm or 0.0
        planned = planned_work(batch, step, course, rain_mm, first=on == batch.start_on)
        return work._replace(poured_l=planned.poured_l)
    litres = 0.0
    for key, standing in (log.told or {}).items():
        if standing is State.HELD or log.is_missed(key):
            continue
        amounts = log.amounts.get(key, {})
        water, times = amounts.get("water_per_bale_l"), amounts.get("times_a_day", 1)
        if amounts.get("action") == Action.SURFACE_WATER and water is None:
            fallen_mm = 0.0 if work.covered else weather.rain_mm or 0.0
            lost_mm = max(0.0, _top_loses_mm(weather, log.on, place) - fallen_mm)
            litres += lost_mm * top_area_m2(batch.bale)
        if amounts.get("action") in WATERS and isinstance(water, (int, float)):
            litres += water * (times if isinstance(times, int) else 1)
    return work._replace(poured_l=litres)


def _top_loses_mm(weather: DayWeather, on: date, place: Place) -> float:
    if weather.low_c is None or weather.high_c is None:
        return TOP_WATER_MM
    return _et0_mm(weather.low_c, weather.high_c, on, place)


def _feed(batch: Batch, step: ScheduleDay) -> Work:
    dose, feed = dose_of(batch, step), feed_of(batch, step)
    if dose is None or feed is None:
        return NOTHING
    litres = dose.water_per_bale_l if feed.form.is_poured else 0.0
    return _with(NOTHING, feed, dose.nitrogen_per_bale_g)._replace(poured_l=litres)


def _with(work: Work, feed: Feed, grams: float) -> Work:
    forms = nitrogen_forms(feed)
    return work._replace(
        urea_g=work.urea_g + grams * forms.urea,
        ammonium_g=work.ammonium_g + grams * forms.ammonium,
        nitrate_g=work.nitrate_g + grams * forms.nitrate,
        organic_g=work.organic_g + grams * forms.organic,
        dissolved=work.dissolved or feed.form.is_poured,
    )


def _et0_mm(low_c: float, high_c: float, on: date, place: Place) -> float:
    """Return what the air of a day takes from a wet surface [mm]."""
    return hargreaves_et(low_c, high_c, _radiation(place.latitude, on.timetuple().tm_yday))


@lru_cache(maxsize=1024)
def _radiation(latitude: float, day_of_year: int) -> float:
    return daily_extraterrestrial(latitude, day_of_year)
