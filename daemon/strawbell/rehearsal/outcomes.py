"""What came of a course: washed out nitrogen, days to ready, dry tops, by the weather that came."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta

from strawbell.agronomy.bale.ensemble import MILD_DAYS_NEEDED, conditioned_days, weighted
from strawbell.agronomy.bale.surface import (
    SurfaceLayer,
    SurfaceState,
    potting_mix_layer,
    seed_bed_layer,
    step,
)
from strawbell.model.garden import Method
from strawbell.rehearsal.course import Course
from strawbell.rehearsal.truth import Truth
from strawbell.season.local_time import bounds_of
from strawbell.season.stage import FIRST_WEEKS_DAYS, plant_from
from strawbell.weather.windows import HOUR

KNOWN_SHARE = 0.9
"""Share of the first three weeks that has to be known for their dry hours to count (design
choice)."""
FIRST_WEEKS = timedelta(days=FIRST_WEEKS_DAYS)
FILLS_MM = 100.0
"""More than any top of a bale lacks: stands for a watering that fills it up [mm]."""


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


Give = Callable[[datetime, bool], float]
"""What is given over the hour that begins at a moment, told whether the top is dry [mm]."""


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
            largest = hour.largest(layer.crop_height_m, layer.basal_coefficient)
            state = SurfaceState(hour.starts_at, depletion_mm)
            after = step(layer, state, hour.et_mm, hour.rain_mm, given_mm, largest)
            depletion_mm = after.state.depletion_mm
            yield hour.starts_at, depletion_mm > layer.dry_at_mm


def _layer(truth: Truth, course: Course, since: date) -> SurfaceLayer:
    """Return the top of the bales on the day something went in (as the advice sees it)."""
    mulch_share = 1.0 if course.batch.mulched else 0.0
    if any(each.method is Method.SEED and on == since for each, on in course.planted):
        return seed_bed_layer(mulch_share)
    return potting_mix_layer(truth.garden.mix_layer_cm, mulch_share)
