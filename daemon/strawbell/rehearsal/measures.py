"""The judge: one set of measures for a batch, from what a policy did and the weather that came.

Every policy is judged by the same code. Smaller is better in each measure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from strawbell.agronomy.air.constants import DayTemperature
from strawbell.agronomy.bale.nitrogen import Feeding, ledger
from strawbell.agronomy.bale.progress import MILD_DAYS_NEEDED, effective_days
from strawbell.agronomy.bale.surface import SurfaceLayer, SurfaceState, step
from strawbell.agronomy.bale.surface_layers import potting_mix_layer, seed_bed_layer
from strawbell.decision.frost_watch import most_endangered
from strawbell.model.garden import Batch, Method
from strawbell.rehearsal.course import Course, standing_crops
from strawbell.rehearsal.truth import Truth
from strawbell.season.local_time import DAY, bounds_of
from strawbell.season.stage import FIRST_WEEKS_DAYS, plant_from
from strawbell.weather.days import day_temperature
from strawbell.weather.windows import HOUR

KNOWN_SHARE = 0.9
"""Share of the first three weeks that has to be known for their dry hours to count (design
choice)."""
FIRST_WEEKS = timedelta(days=FIRST_WEEKS_DAYS)
DAYS_A_WEEK = 7.0
FILLS_MM = 100.0
"""More than any top of a bale lacks: stands for a watering that fills it up [mm]."""


@dataclass(frozen=True, slots=True)
class Measures:
    """One batch under one policy; None where the record does not say, or nothing grows.

    `washed_*` is what rain may have carried out of what was given [g N a bale], least and most
    (`agronomy.nitrogen`). `fed_before_rain` and `fed_on_freeze` count feedings with 12.7 mm or
    more, and 0 degC or less, in the 24 h after. `days_to_ready`: from the start to the first
    morning on which the sequence is over and the air that came has brought a mild spring's
    conditioning. `dry_top_h`: hours with a dry top in the first three weeks of what grows.
    `frost_nights`: nights that asked for a cover and nobody had said so.
    """

    feedings: int
    nitrogen_given_g: float
    washed_low_g: float
    washed_high_g: float
    fed_before_rain: int
    fed_on_freeze: int
    feedings_unknown: int
    days_to_ready: int | None
    dry_top_h: float | None
    frost_nights: int | None
    messages_per_week: float

    @property
    def washed_percent(self) -> float | None:
        """Return the middle of the washed out as a share of the given [percent]."""
        if self.nitrogen_given_g <= 0:
            return None
        return (self.washed_low_g + self.washed_high_g) / 2.0 / self.nitrogen_given_g * 100.0


def measure(truth: Truth, course: Course, messages: int) -> Measures:
    """Return the measures of a course; `messages` were sent from its first day to its last."""
    feedings = [fed.feeding for fed in course.fed]
    low_g, high_g = washed_out_g(truth, course.batch, feedings, course.last + DAY)
    after = [truth.after(fed.at) for fed in course.fed]
    days = (course.last - course.batch.start_on).days + 1
    return Measures(
        feedings=len(feedings),
        nitrogen_given_g=sum(each.nitrogen_per_bale_g for each in feedings),
        washed_low_g=low_g,
        washed_high_g=high_g,
        fed_before_rain=sum(each.washed is True for each in after),
        fed_on_freeze=sum(each.frozen is True for each in after),
        feedings_unknown=sum(each.bad is None for each in after),
        days_to_ready=days_to_ready(truth, course.batch, course.finished_on, course.last),
        dry_top_h=dry_top_hours(truth, course, given_by(course)),
        frost_nights=frost_nights(truth, course),
        messages_per_week=messages / days * DAYS_A_WEEK,
    )


def washed_out_g(
    truth: Truth, batch: Batch, feedings: Sequence[Feeding], end: date
) -> tuple[float, float]:
    """Return the least and the most that rain carried out by the morning of `end` [g N a bale]."""
    if not feedings:
        return 0.0, 0.0
    rain = truth.rain_by_date(min(each.on for each in feedings), end)
    found = ledger(batch.bale, feedings, rain, end)
    return found.leached_low_g, found.leached_high_g


def days_to_ready(truth: Truth, batch: Batch, finished_on: date | None, last: date) -> int | None:
    """Return from which morning planting was possible [days after the start]."""
    if finished_on is None:
        return None
    earliest = plant_from(batch.schedule, finished_on)
    air: list[DayTemperature | None] = []
    on = batch.start_on
    while on <= last:
        done = effective_days(air)
        if on >= earliest and (done.low + done.high) / 2.0 >= MILD_DAYS_NEEDED:
            return (on - batch.start_on).days
        air.append(day_temperature(truth.day(on)))
        on += DAY
    return None


def frost_nights(truth: Truth, course: Course) -> int | None:
    """Return on how many nights that asked for a cover nobody had said so."""
    if not course.batch.plantings:
        return None
    found = 0
    for on, plantings in standing_crops(truth, course):
        crops = tuple(each.crop for each in plantings)
        if crops and on not in course.covered:
            found += most_endangered(truth.sky(on).night(on), crops)[0] is not None
    return found


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
