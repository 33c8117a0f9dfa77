"""The judge: one set of measures for a batch, from what a policy did and the weather that came.

Every policy is judged by the same code. Smaller is better in each measure.
"""

from __future__ import annotations

from dataclasses import dataclass

from strawbell.decision.frost_watch import risk_of
from strawbell.rehearsal.course import Course, standing_crops
from strawbell.rehearsal.outcomes import days_to_ready, dry_top_hours, given_by, washed_out_g
from strawbell.rehearsal.truth import Aftermath, Truth

DAYS_A_WEEK = 7.0


@dataclass(frozen=True, slots=True)
class Measures:
    """One batch under one policy; None where the record does not say, or nothing grows.

    `washed_*` is what rain may have carried out of what was given [g N a bale], least and most
    (`agronomy.bale.balance`). `fed_before_rain` and `fed_on_freeze` count feedings with 12.7 mm or
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


def to_hold(after: Aftermath) -> bool | None:
    """Return whether a feeding was one to hold, by what came after it; None is unknown."""
    if after.washed or after.frozen:
        return True
    return None if after.washed is None or after.frozen is None else False


def measure(truth: Truth, course: Course, messages: int) -> Measures:
    """Return the measures of a course; `messages` were sent from its first day to its last."""
    feedings = [fed.feeding for fed in course.fed]
    low_g, high_g = washed_out_g(course)
    after = [truth.after(fed.at) for fed in course.fed]
    days = (course.last - course.batch.start_on).days + 1
    return Measures(
        feedings=len(feedings),
        nitrogen_given_g=sum(each.nitrogen_per_bale_g for each in feedings),
        washed_low_g=low_g,
        washed_high_g=high_g,
        fed_before_rain=sum(each.washed is True for each in after),
        fed_on_freeze=sum(each.frozen is True for each in after),
        feedings_unknown=sum(to_hold(each) is None for each in after),
        days_to_ready=days_to_ready(course),
        dry_top_h=dry_top_hours(truth, course, given_by(course)),
        frost_nights=frost_nights(truth, course),
        messages_per_week=messages / days * DAYS_A_WEEK,
    )


def frost_nights(truth: Truth, course: Course) -> int | None:
    """Return on how many nights that asked for a cover nobody had said so."""
    if not course.batch.plantings:
        return None
    found = 0
    for on, plantings in standing_crops(truth, course):
        crops = tuple(each.crop for each in plantings)
        if crops and on not in course.covered:
            found += any(risk_of(truth.sky(on).night(on), crop) for crop in crops)
    return found
