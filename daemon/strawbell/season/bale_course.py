"""One bale of a batch day by day: what the journal says was done to it, through the balance.

Past days are followed once and kept (`season.fold`), until a row about them comes. Where no
journal was kept, the plan counts as done, with the water it would have told.

The nitrogen of a batch is what was given, what the plan still asks, and what left the bale by that
walk. After a storm that took a large share a feeding to make up for
it is worth a word, within the limit of what the straw takes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from functools import lru_cache
from typing import NamedTuple

from strawbell.agronomy.balance import NOTHING, Work
from strawbell.agronomy.bales import carbon_g, top_area_m2
from strawbell.agronomy.doses import ceiling_g, dose_of, feed_of, feed_water_l, nitrogen_dose
from strawbell.agronomy.ensemble import (
    Band,
    Ensemble,
    begin,
    believe,
    held_l,
    steps_of,
    walk,
    weighted,
)
from strawbell.agronomy.evaporation import daily_extraterrestrial, hargreaves_et
from strawbell.agronomy.feeds import nitrogen_forms
from strawbell.agronomy.watering import (
    Canopy,
    first_soak_l,
    in_the_open,
    refill,
    transpired_l,
    wash_in,
)
from strawbell.model.brief import Action, State
from strawbell.model.feeds import Dose, Feed
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Batch, Place, ScheduleDay
from strawbell.season.aftercare import canopy_of
from strawbell.season.conditioning import coming, is_feeding
from strawbell.season.feedings import FeedingGiven, feedings_given
from strawbell.season.journal_index import DayLog, JournalIndex
from strawbell.season.local_time import DAY
from strawbell.season.stage import BatchState, lies_after, planted_on

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
STORM_COUNTS = timedelta(days=3)
"""How long after a storm making up for it is spoken of (design choice: afterwards the next
feeding has come, or planting)."""
LARGE_SHARE = 0.20
"""A storm that took this share of the nitrogen in the bale is worth making up for (design
choice)."""
LEAST_MAKE_UP_G = 5.0
"""Less is not worth a walk with the scales [g N per bale] (design choice)."""


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
    low_c, high_c = course.low_c, course.high_c
    if weather.low_c is not None and weather.high_c is not None:
        low_c, high_c = weather.low_c, weather.high_c
    rain_mm = UNKNOWN_RAIN_MM if weather.rain_mm is None else weather.rain_mm
    et0_mm = _et0_mm(low_c, max(low_c, high_c), log.on, place)
    work = work._replace(taken_l=transpired_l(et0_mm, leaves))
    et0_mm *= in_the_open(leaves, top_area_m2(batch.bale))
    steps = steps_of(low_c, high_c, rain_mm, et0_mm, work, whole=leaves.area_m2 > 0.0)
    draws, read_on, zone = course.draws, course.read_on, place.zone
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


class Ledger(NamedTuple):
    """The nitrogen of one bale up to a date [g N]; bands are from the draws of the balance.

    `carbon_to_nitrogen` counts all nitrogen in the bale against the carbon it was bought with.
    `make_up` is what to give after a storm, None where nothing is.
    """

    given_g: float
    planned_g: float
    leached_g: Band
    lost_g: Band
    carbon_to_nitrogen: Band
    unknown_rain_days: int
    make_up: Dose | None


def ledger_of(
    batch: Batch, state: BatchState, log: DayLog, storm_mm: float, course: Course
) -> Ledger | None:
    """Return the nitrogen of a batch on the morning of a date, None before any is planned.

    `course` is its bale on that morning. A day of `storm_mm` or more [mm] counts as a storm for
    the three days after it.
    """
    given = feedings_given(batch, state, log)
    given_g = sum(each.nitrogen_per_bale_g for each in given)
    to_come = (dose_of(batch, step) for step in coming(state.sequence, batch))
    to_come_g = sum(dose.nitrogen_per_bale_g for dose in to_come if dose is not None)
    planned_g = to_come_g + sum(each.planned_per_bale_g for each in given)
    if planned_g + given_g <= 0.0:
        return None
    draws = course.draws
    lost = [left.leached_g + left.air_g for left in draws.left]
    carbon = carbon_g(batch.bale).value
    return Ledger(
        given_g=given_g,
        planned_g=planned_g,
        leached_g=weighted(draws, (left.leached_g for left in draws.left)),
        lost_g=weighted(draws, lost),
        carbon_to_nitrogen=weighted(draws, (carbon / each.nitrogen_g for each in draws.states)),
        unknown_rain_days=course.unknown_days,
        make_up=_make_up(batch, log, storm_mm, course, given, to_come_g),
    )


def _make_up(
    batch: Batch,
    log: DayLog,
    storm_mm: float,
    course: Course,
    given: Sequence[FeedingGiven],
    to_come_g: float,
) -> Dose | None:
    """Return a feeding that makes up for a storm of the last days, None when none is called for.

    What the storm took, less what was given since to make up for it; at most a full dose, and
    within what the straw takes over its whole conditioning.
    """
    given_g = sum(each.nitrogen_per_bale_g for each in given)
    storms = [
        on
        for on, weather in log.weather.items()
        if log.on - STORM_COUNTS <= on < log.on
        and on >= batch.start_on
        and weather.rain_mm is not None
        and weather.rain_mm >= storm_mm
    ]
    if not storms or given_g <= 0.0:
        return None
    washed_g = course.washed_g[-1] - course.washed_g[0]
    if washed_g < LARGE_SHARE * (given_g - course.washed_g[0]):
        return None
    since_g = sum(
        each.nitrogen_per_bale_g
        for each in given
        if each.beyond_the_plan and each.on >= min(storms)
    )
    room_g = ceiling_g(batch.bale) - given_g - to_come_g
    wanted_g = min(washed_g - since_g, batch.nitrogen_per_full_dose_g, room_g)
    if wanted_g < LEAST_MAKE_UP_G:
        return None
    return nitrogen_dose(
        batch.feed, round(wanted_g, 1), batch.bales, feed_water_l(batch, batch.feed)
    )
