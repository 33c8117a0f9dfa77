"""Whatever weather comes and however long is waited, the judge is fair and the oracle a bound."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from strawbell.rehearsal.course import Course, Fed, course_of
from strawbell.rehearsal.truth import Truth
from strawbell.season.journal_index import Record
from support.gardens import START, batch, garden
from support.recorded_weather import mild_weather
from tests.value.board import value_of
from tests.value.measures import Measures, measure
from tests.value.oracle import oracle_measures
from tests.value.verification import COST_LOSS, Contingency

CASES = 25
LAST = START + timedelta(days=30)
PLAN = garden(batch())
RAIN_MM = st.sampled_from((0.0, 0.0, 0.0, 4.0, 12.6, 12.7, 30.0, 90.0))
LOW_C = st.sampled_from((14.0, 14.0, 14.0, 0.1, 0.0, -3.0))
WEATHER = st.lists(st.tuples(RAIN_MM, LOW_C), min_size=31, max_size=31)
WAITS = st.lists(st.integers(0, 2), min_size=7, max_size=7)


def seen(days: list[tuple[float, float]]) -> tuple[Truth, Course]:
    """Return the truth of some days and what the calendar does in them."""
    dates = [START + timedelta(days=number) for number in range(len(days))]
    rain = {on: rain_mm for on, (rain_mm, _) in zip(dates, days, strict=True)}
    lows = {on: low_c for on, (_, low_c) in zip(dates, days, strict=True) if low_c < 14.0}
    truth = Truth(PLAN, mild_weather(rain, lows))
    return truth, course_of(truth, PLAN.batches[0], (), Record(), LAST)


def waited(truth: Truth, plain: Course, waits: list[int]) -> Course:
    """Return a course that waits some days before each feeding, all later ones with it."""
    late, fed = 0, []
    for each, more in zip(plain.fed, waits, strict=True):
        late += more
        on: date = each.feeding.on + timedelta(days=late)
        fed.append(Fed(truth.morning(on), replace(each.feeding, on=on)))
    return replace(plain, fed=tuple(fed))


def compared(found: Measures) -> tuple[float, ...]:
    """Return the measures that feeding dates change."""
    return (found.washed_percent or 0.0, found.fed_before_rain, found.fed_on_freeze)


@settings(max_examples=CASES, deadline=None)
@given(WEATHER, WAITS)
def test_no_way_of_waiting_beats_the_oracle(
    days: list[tuple[float, float]], waits: list[int]
) -> None:
    """So no value is over 1."""
    truth, plain = seen(days)
    other = waited(truth, plain, waits)
    calendar = measure(truth, plain, 31)
    best = oracle_measures(truth, plain, calendar, (plain, other))
    theirs = measure(truth, other, 31)
    for least, most, ours in zip(compared(best), compared(calendar), compared(theirs), strict=True):
        assert least <= most + 1e-9
        assert least <= ours + 1e-9
        value = value_of(most, ours, least)
        assert value is None or value <= 1.0 + 1e-9


@settings(max_examples=CASES, deadline=None)
@given(WEATHER)
def test_the_judge_balances_and_counts_each_feeding_once(days: list[tuple[float, float]]) -> None:
    """Nothing is washed out that was not given; counts never pass the feedings."""
    truth, plain = seen(days)
    found = measure(truth, plain, 31)
    assert 0.0 <= found.washed_low_g <= found.washed_high_g <= found.nitrogen_given_g + 1e-9
    assert 0 <= found.fed_before_rain <= found.feedings == 7
    assert 0 <= found.fed_on_freeze <= found.feedings
    assert found.feedings_unknown == 0
    assert found.days_to_ready is None or found.days_to_ready >= 11


COUNT = st.integers(0, 50)


@given(COUNT, COUNT, COUNT, COUNT)
def test_no_holds_are_worth_more_than_perfect_ones(
    hits: int, false_alarms: int, misses: int, rightly_given: int
) -> None:
    """At any cost; and the value is largest where cost and loss meet the base rate."""
    table = Contingency(hits, false_alarms, misses, rightly_given)
    values = [value for _, value in table.curve() if value is not None]
    assert all(value <= 1.0 + 1e-9 for value in values)
    base = table.base_rate
    if base is not None and 0.0 < base < 1.0:
        peak = table.value(base)
        assert peak is not None
        assert all((table.value(ratio) or 0.0) <= max(peak, 0.0) + 1e-9 for ratio in COST_LOSS)
