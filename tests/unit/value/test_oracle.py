"""The oracle: the best that was possible, measure by measure."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from itertools import combinations_with_replacement

import pytest
from msgspec.structs import replace

from strawbell.rehearsal.course import Course, Fed, course_of
from strawbell.rehearsal.outcomes import dry_top_hours, given_by
from strawbell.rehearsal.truth import Truth
from strawbell.season.journal_index import Record
from support.gardens import RADISH, START, batch, garden, planting
from support.recorded_weather import mild_weather
from tests.value.measures import measure
from tests.value.oracle import beside_it, best_dates, oracle_measures

LAST = START + timedelta(days=55)
BATCH = batch(plantings=(planting(), planting(RADISH)))
PLAN = garden(BATCH)


def day(number: int) -> date:
    """Return the date of a day of the schedule."""
    return START + timedelta(days=number - 1)


def calendar(truth: Truth) -> Course:
    """Return what the plan alone does."""
    return course_of(truth, BATCH, (), Record(), LAST)


def test_it_waits_for_nothing_in_fair_weather() -> None:
    """Costs that are all the same leave the plan's own dates."""
    plain = calendar(Truth(PLAN, mild_weather()))
    assert best_dates(plain, 7, lambda _, on: 0.0) == tuple(fed.feeding.on for fed in plain.fed)


def test_it_keeps_order_and_gaps_and_its_patience() -> None:
    """Waiting before one feeding makes all later ones wait."""
    plain = calendar(Truth(PLAN, mild_weather()))
    dates = best_dates(plain, 3, lambda _, on: float(on == day(5)))
    waits = [(on - fed.feeding.on).days for on, fed in zip(dates, plain.fed, strict=True)]
    assert waits == sorted(waits)
    assert waits == [0, 0, 1, 1, 1, 1, 1]


def test_it_finds_what_trying_every_way_finds() -> None:
    """Against all ways to wait up to three days in all, with costs like those of a wet spring."""
    plain = calendar(Truth(PLAN, mild_weather()))

    def cost(fed: Fed, on: date) -> float:
        return (on.toordinal() * 7919 + fed.feeding.on.toordinal() * 104729) % 101 / 10.0

    found = sum(cost(f, on) for f, on in zip(plain.fed, best_dates(plain, 3, cost), strict=True))
    ways = combinations_with_replacement(range(4), len(plain.fed))
    least = min(
        sum(cost(f, f.feeding.on + timedelta(days=w)) for f, w in zip(plain.fed, way, strict=True))
        for way in ways
    )
    assert found == pytest.approx(least)


def test_no_policy_beats_it_where_the_weather_is_known() -> None:
    """A course that waited ten days is met with as much patience."""
    wet = {day(number): 30.0 for number in range(3, 12)}
    truth = Truth(PLAN, mild_weather(wet, {day(4): -2.0}))
    plain = calendar(truth)
    late = replace(
        plain,
        fed=tuple(
            Fed(
                fed.at + timedelta(days=10),
                replace(fed.feeding, on=fed.feeding.on + timedelta(days=10)),
            )
            for fed in plain.fed
        ),
    )
    best = oracle_measures(truth, plain, measure(truth, plain, 50), (plain, late))
    for course in (plain, late):
        theirs = measure(truth, course, 50)
        assert best.washed_percent <= theirs.washed_percent + 1e-9  # type: ignore[operator]
        assert best.fed_before_rain <= theirs.fed_before_rain
        assert best.fed_on_freeze <= theirs.fed_on_freeze
    assert best.fed_before_rain == best.fed_on_freeze == 0
    assert measure(truth, plain, 50).fed_before_rain > 0


def test_who_stands_beside_the_bales_has_the_fewest_dry_hours() -> None:
    """Any course waters within the same twelve hours of the day."""
    truth = Truth(PLAN, mild_weather(usual_c=24.0, swing_c=7.0))
    plain = calendar(truth)
    once = dry_top_hours(truth, plain, given_by(plain))
    never = dry_top_hours(truth, plain, lambda _, dry: 0.0)
    best = dry_top_hours(truth, plain, beside_it(truth))
    assert best is not None
    assert once is not None
    assert never is not None
    assert best <= once <= never
    assert never > 400.0


def test_he_goes_to_bed() -> None:
    """Nothing is given at night, and the last round is twelve hours after the morning."""
    truth = Truth(PLAN, mild_weather())
    give = beside_it(truth)
    morning = truth.morning(START)
    assert give(morning + timedelta(hours=12), False) > 0.0
    assert give(morning + timedelta(hours=13), True) == 0.0
    assert give(morning - timedelta(hours=2), True) == 0.0
    assert give(morning + timedelta(hours=5), True) > 0.0
    assert give(morning + timedelta(hours=5), False) == 0.0


def test_hours_at_which_others_fed_are_open_to_it_too() -> None:
    """Who fed in the afternoon, past the rain, is not better than the oracle."""
    truth = Truth(PLAN, mild_weather({day(1): 24.0}))
    plain = calendar(truth)
    afternoon: datetime = truth.morning(day(1)) + timedelta(hours=12)
    shifted = replace(plain, fed=(replace(plain.fed[0], at=afternoon), *plain.fed[1:]))
    assert truth.after(afternoon).washed is False
    assert truth.after(truth.morning(day(1))).washed is True
    best = oracle_measures(truth, plain, measure(truth, plain, 50), (plain, shifted))
    assert best.fed_before_rain == 0
