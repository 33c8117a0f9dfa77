"""The nitrogen of a batch: what was given, what the plan still asks, what left the bale.

What left it, and in which form, is the balance's: `season.bale_course` walks it with the rain that
came, and what was told and recorded. After a storm that took a large share a feeding to make up for
it is worth a word, within the limit of what the straw takes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from typing import NamedTuple

from strawbell.agronomy.bale.ensemble import Band, weighted
from strawbell.agronomy.bale.straw import carbon_g
from strawbell.agronomy.feeding.doses import nitrogen_dose
from strawbell.agronomy.feeding.dosing import ceiling_g, feed_water_l
from strawbell.model.feeds import Dose
from strawbell.model.garden import Batch
from strawbell.model.schedule import ScheduleDay
from strawbell.season.bale_course import Course
from strawbell.season.feedings_given import FeedingGiven, feedings_given, planned_nitrogen_g
from strawbell.season.journal_index import DayLog
from strawbell.season.local_time import DAY
from strawbell.season.sequence import coming, is_feeding
from strawbell.season.stage import BatchState

STORM_COUNTS = timedelta(days=3)
"""How long after a storm making up for it is spoken of (design choice: afterwards the next
feeding has come, or planting)."""
LARGE_SHARE = 0.20
"""A storm that took this share of the nitrogen in the bale is worth making up for (design
choice)."""
LEAST_MAKE_UP_G = 5.0
"""Less is not worth a walk with the scales [g N per bale] (design choice)."""


class Ledger(NamedTuple):
    """The nitrogen of one bale up to a date [g N]; bands are from the draws of the balance.

    `carbon_to_nitrogen` counts all nitrogen in the bale against the carbon it was bought with.
    `make_up` is what to give after a storm, None where nothing is.
    """

    given_g: float
    planned_g: float
    leached_g: Band
    lost_g: Band
    left_g: Band
    carbon_to_nitrogen: Band
    unknown_rain_days: int
    make_up: Dose | None


def planned_steps(
    batch: Batch, state: BatchState, today: date
) -> Iterator[tuple[date, ScheduleDay]]:
    """Yield the steps of the sequence that are still to come, each with its earliest date."""
    first = max(today, batch.start_on)
    for ahead, step in enumerate(coming(state.sequence, batch)):
        yield first + DAY * ahead, step


def ledger_of(
    batch: Batch, state: BatchState, log: DayLog, storm_mm: float, course: Course
) -> Ledger | None:
    """Return the nitrogen of a batch on the morning of a date, None before any is planned.

    `course` is its bale on that morning. A day of `storm_mm` or more [mm] counts as a storm for
    the three days after it.
    """
    given = feedings_given(batch, state, log)
    given_g = sum(each.nitrogen_per_bale_g for each in given)
    to_come_g = sum(
        planned_nitrogen_g(batch, step)
        for _, step in planned_steps(batch, state, log.on)
        if is_feeding(step)
    )
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
        left_g=weighted(draws, (max(0.0, given_g - each) for each in lost)),
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
