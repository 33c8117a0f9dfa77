"""What could have been, with the weather known ahead: the bound that policies are held against.

There is no single best season: who waits for ever washes nothing out. So the oracle is asked for
one measure at a time, and for each it does the best that is allowed:

* fed before rain, fed on a freeze: among all ways to hold feedings that keep the order
  and gaps of the schedule and wait no longer in all than `patience_days`, the one with the least of
  it, found exactly (dynamic programming over feedings and days waited).
* washed out: nothing. What a feeding loses depends in one balance on all that was given before it,
  so that the least is not found feeding by feeding; the value is the share of the loss saved.
* dry top: stands beside the bales with the can from the morning until twelve hours later, fills the
  top up in the hour it dries, and once more at the end of that time.
* frost: covers every night that asks for it, and no other.
* days to ready: holds nothing. Messages: speaks once on each day with work in the plan. A plain
  calendar does both already, so there is nothing to gain in these two; what Strawbell costs in
  them is seen beside it.

Each is a bound on its own; no policy reaches all of them at once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from functools import cache

from strawbell.agronomy.bale.surface_outlook import LAST_WATERING
from strawbell.rehearsal.course import Course, Fed
from strawbell.rehearsal.outcomes import FILLS_MM, Give, dry_top_hours
from strawbell.rehearsal.truth import Truth
from strawbell.season.sequence import is_feeding
from tests.value.measures import Measures

LEAST_PATIENCE_DAYS = 7
"""Days of waiting in all that the oracle is allowed at least: after as many held days a grower is
asked to decide (`weather.thresholds.ASK_AFTER_HELD_DAYS`)."""

Cost = Callable[[Fed, date], float]
"""What a feeding costs on a date."""


def oracle_measures(
    truth: Truth, calendar: Course, plain: Measures, others: Sequence[Course]
) -> Measures:
    """Return the best that was possible in each measure on its own.

    It may wait as long as any of the `others` did, and feed at any hour one of them fed at, so no
    policy can do better where the weather is known.
    """
    longest = max((_waited_days(calendar, course) for course in others), default=0)
    patience_days = max(LEAST_PATIENCE_DAYS, longest)
    moments: dict[date, set[datetime]] = {}
    for course in others:
        for fed in course.fed:
            moments.setdefault(fed.feeding.on, set()).add(fed.at)

    def hours_on(on: date) -> set[datetime]:
        return moments.get(on, set()) | {truth.morning(on)}

    def before_rain(_: Fed, on: date) -> float:
        return float(all(truth.after(at).washed is True for at in hours_on(on)))

    def on_freeze(_: Fed, on: date) -> float:
        return float(all(truth.after(at).frozen is True for at in hours_on(on)))

    return Measures(
        feedings=plain.feedings,
        nitrogen_given_g=plain.nitrogen_given_g,
        washed_low_g=0.0,
        washed_high_g=0.0,
        fed_before_rain=int(_least(calendar, patience_days, before_rain)),
        fed_on_freeze=int(_least(calendar, patience_days, on_freeze)),
        feedings_unknown=plain.feedings_unknown,
        days_to_ready=plain.days_to_ready,
        dry_top_h=dry_top_hours(truth, calendar, beside_it(truth)),
        frost_nights=None if plain.frost_nights is None else 0,
        messages_per_week=plain.messages_per_week,
    )


def best_dates(calendar: Course, patience_days: int, cost: Cost) -> tuple[date, ...]:
    """Return the dates of the feedings with the least cost in sum, waiting as little as may be."""

    @cache
    def best(number: int, waited: int) -> tuple[float, tuple[int, ...]]:
        """Return the cost of the feedings from one on, and the days waited before each."""
        if number == len(calendar.fed):
            return 0.0, ()
        fed = calendar.fed[number]
        choices = []
        for waits in range(waited, patience_days + 1):
            rest, later = best(number + 1, waits)
            choices.append((price(fed, waits) + rest, (waits, *later)))
        return min(choices)

    @cache
    def price(fed: Fed, waits: int) -> float:
        return cost(fed, fed.feeding.on + timedelta(days=waits))

    _, waits = best(0, 0)
    return tuple(
        fed.feeding.on + timedelta(days=each) for fed, each in zip(calendar.fed, waits, strict=True)
    )


def beside_it(truth: Truth) -> Give:
    """Return the waterings of one who stands beside the bales all day."""

    def give(begins: datetime, dry: bool) -> float:
        morning = truth.morning(begins.astimezone(truth.zone).date())
        since = begins - morning
        evening = LAST_WATERING - timedelta(hours=1) < since <= LAST_WATERING
        awake = timedelta(hours=-1) < since <= LAST_WATERING
        return FILLS_MM if evening or (dry and awake) else 0.0

    return give


def _least(calendar: Course, patience_days: int, cost: Cost) -> float:
    dates = best_dates(calendar, patience_days, cost)
    return sum(cost(fed, on) for fed, on in zip(calendar.fed, dates, strict=True))


def _waited_days(calendar: Course, course: Course) -> int:
    """Return how late the latest of a course's feedings was by the calendar."""
    count = sum(1 for step in calendar.batch.schedule.days if is_feeding(step))
    pairs = zip(calendar.fed[:count], course.fed, strict=False)
    return max(((ours.feeding.on - plan.feeding.on).days for plan, ours in pairs), default=0)
