"""The judge: the same for every policy, by the weather that came."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.bale.drying import Watering
from strawbell.model.garden import Method
from strawbell.rehearsal.course import Course, course_of
from strawbell.rehearsal.outcomes import dry_top_hours, given_by
from strawbell.rehearsal.recorded import Weather
from strawbell.rehearsal.truth import Truth
from strawbell.season.journal_index import Record
from support.gardens import RADISH, START, batch, garden, planting
from support.recorded_weather import mild_weather
from tests.value.measures import measure

LAST = START + timedelta(days=55)
BATCH = batch(plantings=(planting(),))
SOWN = batch(plantings=(planting(RADISH, Method.SEED, 60),))


def day(number: int) -> date:
    """Return the date of a day of the schedule."""
    return START + timedelta(days=number - 1)


def plain(weather: Weather, what: object = BATCH, last: date = LAST) -> tuple[Truth, Course]:
    """Return the calendar's course on a record."""
    truth = Truth(garden(what), weather)  # type: ignore[arg-type]
    return truth, course_of(truth, what, (), Record(), last)  # type: ignore[arg-type]


def test_a_calendar_in_mild_weather_is_ready_on_its_own_day() -> None:
    """The bales need twelve days at 16 degC, one more than the schedule's eleven."""
    truth, course = plain(mild_weather(usual_c=16.0))
    found = measure(truth, course, 56)
    assert (found.days_to_ready, found.feedings) == (12, 7)
    assert found.washed_percent == pytest.approx(0.0, abs=0.2)
    assert found.messages_per_week == 7.0


def test_cold_air_makes_it_later_whatever_was_fed() -> None:
    """At 7 degC about three weeks, as Montana State counts."""
    truth, course = plain(mild_weather(usual_c=7.0))
    ready = measure(truth, course, 0).days_to_ready
    assert ready is not None
    assert 18 <= ready <= 26


@pytest.mark.parametrize(("rain_mm", "wet"), [(12.69, 0), (12.7, 1), (12.71, 1)])
def test_rain_counts_from_half_an_inch_in_the_day_after(rain_mm: float, wet: int) -> None:
    """Below, at and above; the wet window is the day from the morning of the feeding."""
    truth = Truth(garden(BATCH), mild_weather())
    morning = truth.morning(day(5))
    start = morning.replace(minute=0) + timedelta(hours=3)
    hours = dict(truth.weather.hours)
    hours[start] = replace(hours[start], rain_mm=rain_mm)
    truth, course = plain(replace(truth.weather, hours=hours))
    assert measure(truth, course, 0).fed_before_rain == wet


@pytest.mark.parametrize(("low_c", "cold"), [(0.01, 0), (0.0, 1), (-0.01, 1)])
def test_a_freeze_counts_from_nought(low_c: float, cold: int) -> None:
    """One feeding of day 3; day 4 is of water."""
    truth, course = plain(mild_weather(low_c={day(3): low_c}))
    found = measure(truth, course, 0).fed_on_freeze
    assert found == cold


def test_the_judge_keeps_its_own_thresholds() -> None:
    """A grower who holds from 50 mm on is still judged by half an inch."""
    lax = garden(BATCH)
    lax = replace(lax, rules=replace(lax.rules, rain_hold_mm=50.0, freeze_hold_c=-10.0))
    truth = Truth(lax, mild_weather({day(5): 30.0}, {day(3): -2.0}))
    found = measure(truth, course_of(truth, BATCH, (), Record(), LAST), 0)
    assert (found.fed_before_rain, found.fed_on_freeze) == (1, 1)


def test_unknown_weather_is_said_and_never_fair() -> None:
    """A feeding after which nothing is known counts apart."""
    truth, course = plain(mild_weather(unknown=frozenset({day(5), day(6)})))
    found = measure(truth, course, 0)
    assert found.feedings_unknown >= 1
    assert found.fed_before_rain == found.fed_on_freeze == 0
    assert found.washed_high_g > 0.0


def test_rain_after_a_feeding_washes_out() -> None:
    """More than the bale has room for; less of it only does the work of the can."""
    some = [
        measure(*plain(mild_weather({day(5): mm})), 0).washed_percent or 0.0 for mm in (30, 60, 120)
    ]
    assert some == sorted(some)
    assert some[0] < some[-1]


def test_frost_nights_count_while_something_tender_stands() -> None:
    """A night before planting harms nothing; the calendar never said to cover."""
    frost = {day(3): -2.0, day(30): -2.0}
    truth, course = plain(mild_weather(low_c=frost))
    nights = measure(truth, course, 0).frost_nights
    assert nights is not None
    assert nights in (1, 2)
    covered = replace(course, covered=frozenset({day(29), day(30)}))
    assert measure(truth, covered, 0).frost_nights == 0


def test_without_plants_there_is_no_frost_and_no_top_to_judge() -> None:
    """Unknown, not nought."""
    truth, course = plain(mild_weather(), batch())
    found = measure(truth, course, 0)
    assert found.frost_nights is None
    assert found.dry_top_h is None


def test_a_seed_bed_that_nobody_waters_is_dry_nearly_always() -> None:
    """And one that is filled up each morning from the afternoon to the next one only."""
    truth, course = plain(mild_weather(usual_c=20.0, swing_c=7.0), SOWN)
    dry = dry_top_hours(
        truth, replace(course, waterings=()), given_by(replace(course, waterings=()))
    )
    wet = measure(truth, course, 0).dry_top_h
    assert dry is not None
    assert wet is not None
    assert dry > 400.0
    assert wet < dry * 0.7


def test_three_weeks_that_are_not_over_are_unknown() -> None:
    """Hours of a shorter time would look like fewer dry ones."""
    truth, course = plain(mild_weather(), SOWN, day(30))
    assert measure(truth, course, 0).dry_top_h is None


def test_an_unknown_week_leaves_the_dry_hours_unknown() -> None:
    """More than a tenth of the hours."""
    gap = frozenset(day(number) for number in range(14, 19))
    truth, course = plain(mild_weather(unknown=gap), SOWN)
    assert measure(truth, course, 0).dry_top_h is None


def test_a_watering_without_an_amount_fills_the_top_up() -> None:
    """One with an amount brings just that."""
    truth, course = plain(mild_weather(usual_c=20.0, swing_c=7.0), SOWN)
    mornings = [truth.morning(day(12) + timedelta(days=number)) for number in range(22)]

    def hours(mm: float | None) -> float:
        given = replace(course, waterings=tuple(Watering(at, mm) for at in mornings))
        found = dry_top_hours(truth, given, given_by(given))
        assert found is not None
        return found

    assert hours(None) == hours(50.0) <= hours(2.0) <= hours(0.0)
    assert hours(0.0) > hours(None)
