"""What holds for every feed, dose, storm and list: masses balance and nothing is negative."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from strawbell.agronomy.bale.leaching import bale_water, leached_share
from strawbell.agronomy.bale.make_up import ceiling_g, make_up_dose, without_storm
from strawbell.agronomy.bale.nitrogen import UNKNOWN_DAY_MM, Feeding, NitrogenLedger, ledger
from strawbell.agronomy.bale.size_and_mass import BALES
from strawbell.agronomy.bale.straw import moisture_with, water_to_reach
from strawbell.agronomy.feeding.doses import (
    LARGEST_FEEDING_G,
    finishing_dose,
    nitrogen_dose,
)
from strawbell.agronomy.feeding.feeds import LIGHTEST_LIQUID_KG_PER_L, parse_label
from strawbell.agronomy.feeding.schedules import SCHEDULES, start_for, validate_schedule
from strawbell.agronomy.feeding.supplies import FeedItem, WaterItem, needs
from strawbell.model.feeds import Feed, FeedForm, Label
from strawbell.model.garden import Bale, Straw

START = date(2027, 3, 1)
DAY = timedelta(days=1)
LENGTH = 30

percents = st.integers(1, 330).map(lambda tenth: tenth / 10)
feeds = st.builds(
    Feed,
    name=st.just("Feed"),
    label=st.builds(Label, percents, percents, percents),
    form=st.sampled_from(FeedForm),
    density_kg_per_l=st.none() | st.floats(0.1, 2.5),
    dilution_ml_per_l=st.none() | st.floats(0.1, 500.0),
)
liquids = st.builds(
    replace,
    feeds,
    form=st.just(FeedForm.LIQUID),
    dilution_ml_per_l=st.floats(0.1, 500.0),
)
bales = st.builds(
    Bale,
    kind=st.just("own"),
    length_cm=st.floats(20.0, 250.0),
    width_cm=st.floats(20.0, 120.0),
    height_cm=st.floats(20.0, 120.0),
    dry_mass_kg=st.floats(3.0, 400.0),
    straw=st.sampled_from(Straw),
)
rain_mm = st.none() | st.floats(0.0, 200.0)
skies = st.dictionaries(st.integers(0, LENGTH - 1).map(lambda day: START + DAY * day), rain_mm)
feedings = st.lists(
    st.builds(
        Feeding,
        on=st.integers(0, LENGTH).map(lambda day: START + DAY * day),
        feed=st.sampled_from(("A", "B")),
        nitrogen_per_bale_g=st.floats(0.0, 250.0),
        given=st.booleans(),
        urea=st.booleans(),
        washed_in=st.sampled_from((True, False, None)),
        planned_per_bale_g=st.none() | st.floats(0.0, 250.0),
        slow=st.booleans(),
    ),
    max_size=8,
)
TODAY = START + DAY * LENGTH


@given(feeds, st.floats(0.01, 1000.0), st.integers(1, 10_000))
def test_a_dose_holds_the_nitrogen_that_was_wanted(feed: Feed, wanted_g: float, count: int) -> None:
    """By its own label, weighed or measured, and the batch is its bales."""
    dose = nitrogen_dose(feed, wanted_g, count)
    assert dose.nitrogen_per_bale_g == pytest.approx(wanted_g, rel=1e-12)
    assert dose.total_g == pytest.approx(dose.per_bale_g * count, rel=1e-12)
    share = feed.label.nitrogen_percent / 100.0
    assert dose.per_bale_g * share == pytest.approx(wanted_g, rel=1e-12)
    assert (dose.per_bale_ml is None) is (feed.density_kg_per_l is None)
    if dose.per_bale_ml is not None and feed.density_kg_per_l is not None:
        grams = dose.per_bale_ml * feed.density_kg_per_l
        assert grams * share == pytest.approx(wanted_g, rel=1e-12)
    assert all(
        math.isfinite(each) and each >= 0
        for each in (dose.phosphorus_per_bale_g, dose.potassium_per_bale_g, dose.water_per_bale_l)
    )


@given(liquids, st.floats(0.01, 300.0))
def test_a_liquid_is_never_stronger_than_its_label(feed: Feed, wanted_g: float) -> None:
    """Its volume over its water stays at or under the dilution, its density known or not."""
    dose = nitrogen_dose(feed, wanted_g, 1)
    volume_ml = dose.per_bale_g / (feed.density_kg_per_l or LIGHTEST_LIQUID_KG_PER_L)
    assert feed.dilution_ml_per_l is not None
    assert volume_ml / dose.water_per_bale_l <= feed.dilution_ml_per_l * (1 + 1e-9)


@given(feeds, st.integers(1, 100))
def test_the_last_feeding_is_never_too_much_to_work_in(feed: Feed, count: int) -> None:
    """However weak the label."""
    assert 0 < finishing_dose(feed, count).per_bale_g <= LARGEST_FEEDING_G


@given(st.tuples(percents, percents, percents))
def test_a_label_is_read_as_it_is_written(figures: tuple[float, float, float]) -> None:
    """With a point, a comma, blanks or dashes of any length."""
    label = Label(*figures)
    plain = str(label)
    assert parse_label(plain) == label
    assert parse_label(plain.replace(".", ",").replace("-", " \u2013 ") + " + 24 S") == label


@settings(max_examples=60)
@given(bales, feedings, skies)
def test_the_ledger_balances_and_is_never_negative(
    bale: Bale, plan: list[Feeding], rain: dict[date, float | None]
) -> None:
    """In every line and in the sums; low is never above high; everything is finite."""
    book = ledger(bale, plan, rain, TODAY)
    for line in book.lines:
        for fate in (line.least, line.most, line.most_by_known_rain):
            if fate is not None:
                parts = (fate.volatilised_g, fate.leached_g, fate.kept_g)
                assert min(parts) >= 0.0
                assert abs(sum(parts) - line.feeding.nitrogen_per_bale_g) <= 1e-9
    assert abs(sum(feed.nitrogen_per_bale_g for feed in plan if feed.given) - book.given_g) <= 1e-9
    assert -1e-9 <= book.lost_low_g <= book.lost_known_rain_high_g + 1e-9
    assert book.lost_known_rain_high_g <= book.lost_high_g + 1e-9 <= book.given_g + 2e-9
    assert 0.0 <= book.left_low_g <= book.left_high_g + 1e-9
    _spans_in_order(book)


def _spans_in_order(book: NitrogenLedger) -> None:
    before, now, after = (
        book.carbon_to_nitrogen_before,
        book.carbon_to_nitrogen_now,
        book.carbon_to_nitrogen_after,
    )
    for span in (before, now, after):
        assert 0 < span.low <= span.value <= span.high < math.inf
    assert after.value <= now.value * (1 + 1e-12)
    assert now.value <= before.value * (1 + 1e-12)


@settings(max_examples=60)
@given(bales, feedings, skies, st.integers(0, LENGTH - 1), st.floats(0.0, 300.0))
def test_more_rain_never_leaches_less(
    bale: Bale, plan: list[Feeding], rain: dict[date, float | None], day: int, more_mm: float
) -> None:
    """Of what cannot go to the air; a soaking ends the loss of urea, so that is another matter."""
    dissolved = [replace(feed, urea=False) for feed in plan]
    on = START + DAY * day
    known = {**rain, on: rain.get(on) or 0.0}
    wetter = {**known, on: (known[on] or 0.0) + more_mm}
    less, more = ledger(bale, dissolved, known, TODAY), ledger(bale, dissolved, wetter, TODAY)
    assert more.lost_high_g >= less.lost_high_g - 1e-9
    assert more.lost_low_g >= less.lost_low_g - 1e-9


@settings(max_examples=60)
@given(bales, feedings, skies, st.integers(0, LENGTH - 1))
def test_forgetting_the_rain_of_a_day_never_promises_more(
    bale: Bale, plan: list[Feeding], rain: dict[date, float | None], day: int
) -> None:
    """A day becomes unknown: the least lost never rises."""
    on = START + DAY * day
    known = {**rain, on: rain.get(on) or 0.0}
    less = ledger(bale, plan, {**known, on: None}, TODAY)
    assert less.lost_low_g <= ledger(bale, plan, known, TODAY).lost_low_g + 1e-9


@settings(max_examples=60)
@given(bales, feedings, skies, st.integers(0, LENGTH - 1), st.floats(0.0, UNKNOWN_DAY_MM))
def test_learning_the_rain_of_an_unknown_day_only_narrows_the_range(
    bale: Bale, plan: list[Feeding], rain: dict[date, float | None], day: int, fell_mm: float
) -> None:
    """Whatever an unknown day may have had lies in the range told before, urea included."""
    on = START + DAY * day
    wide = ledger(bale, plan, {**rain, on: None}, TODAY)
    narrow = ledger(bale, plan, {**rain, on: fell_mm}, TODAY)
    assert wide.lost_low_g <= narrow.lost_low_g + 1e-9
    assert wide.lost_high_g >= narrow.lost_high_g - 1e-9
    assert wide.unknown_rain_days >= narrow.unknown_rain_days


@settings(max_examples=60)
@given(bales, feedings, skies, st.integers(0, LENGTH - 1), st.floats(0.0, 300.0))
def test_more_rain_never_leaches_less_even_of_urea(
    bale: Bale, plan: list[Feeding], rain: dict[date, float | None], day: int, more_mm: float
) -> None:
    """Washed in, there is more of it to wash out."""
    on = START + DAY * day
    known = rain.get(on) or 0.0
    less = ledger(bale, plan, {**rain, on: known}, TODAY)
    more = ledger(bale, plan, {**rain, on: known + more_mm}, TODAY)
    assert more.leached_high_g >= less.leached_high_g - 1e-9


@settings(max_examples=60)
@given(bales, feedings, skies)
def test_a_slow_feed_may_always_have_lost_nothing_to_rain(
    bale: Bale, plan: list[Feeding], rain: dict[date, float | None]
) -> None:
    """Hungry straw may take it up as it is set free; the most never exceeds the dose."""
    slow = ledger(bale, [replace(each, slow=True) for each in plan], rain, TODAY)
    assert slow.leached_low_g == 0.0
    assert slow.leached_high_g <= slow.given_g + 1e-9


@given(bales, st.floats(0.0, 500.0), st.floats(0.0, 500.0))
def test_the_shares_of_a_storm_are_shares_and_rise(bale: Bale, one: float, other: float) -> None:
    """Whatever the bale."""
    water = bale_water(bale)
    low, high = sorted((one, other))
    less, more = leached_share(water, low, low), leached_share(water, high, high)
    assert 0.0 <= less.low <= less.high <= 1.0
    assert less.low <= more.low + 1e-12
    assert less.high <= more.high + 1e-12


@settings(max_examples=60)
@given(bales, feedings, skies, st.floats(1.0, 250.0))
def test_making_up_never_goes_over_its_ceilings(
    bale: Bale, plan: list[Feeding], rain: dict[date, float | None], full_g: float
) -> None:
    """At most a full dose, the middle of what was lost, and the whole of what a bale may get."""
    storms = [on for on, mm in rain.items() if mm is not None and mm >= 12.7]
    before = ledger(bale, plan, without_storm(rain, storms), TODAY)
    after = ledger(bale, plan, rain, TODAY)
    dose = make_up_dose(bale, before, after, full_g)
    if dose is None:
        return
    assert 0 < dose.nitrogen_per_bale_g <= full_g
    assert dose.nitrogen_per_bale_g <= (dose.lost_low_g + dose.lost_high_g) / 2 + 1e-9
    total = dose.nitrogen_per_bale_g + after.given_g + after.remaining_g
    assert total <= ceiling_g(bale) + 1e-6


@given(bales, st.floats(0.0, 0.94), st.floats(0.0, 0.94))
def test_water_to_reach_a_moisture_reaches_it(bale: Bale, first: float, second: float) -> None:
    """And more moisture never takes less."""
    assume(second >= 0.12)
    litres = water_to_reach(bale, 0.12, second)
    assume(litres <= 5000.0)
    assert moisture_with(bale, litres) == pytest.approx(second, abs=1e-9)
    low, high = sorted((first, second))
    assert water_to_reach(bale, 0.12, low) <= water_to_reach(bale, 0.12, high)


@given(
    st.lists(
        st.tuples(st.integers(0, 60), st.floats(0.1, 100.0), st.integers(1, 20)),
        min_size=1,
        max_size=12,
    ),
    st.floats(0.1, 50.0),
    st.floats(0.0, 100.0),
)
def test_what_is_bought_is_enough_and_no_package_is_idle(
    feedings_of: list[tuple[int, float, int]], package_kg: float, price: float
) -> None:
    """Feed of all batches together, in whole packages, by the first day it is needed."""
    feed = Feed("Feed", Label(12, 0, 0), package_kg=package_kg, price=price)
    items = [
        FeedItem(START + DAY * day, feed, nitrogen_dose(feed, grams, count))
        for day, grams, count in feedings_of
    ]
    water = [WaterItem(item.on, item.dose.water_per_bale_l) for item in items]
    wanted = needs([*items, *water])
    bought = next(need for need in wanted if need.name == "Feed")
    kg = sum(item.dose.total_g for item in items) / 1000
    assert bought.kg == pytest.approx(kg, rel=1e-12)
    assert bought.packages is not None
    assert bought.packages * package_kg >= kg * (1 - 1e-6)
    assert bought.packages == 1 or (bought.packages - 1) * package_kg < kg * (1 + 1e-6)
    assert bought.needed_by == min(item.on for item in items)


@pytest.mark.parametrize("name", sorted(SCHEDULES))
@given(plant_on=st.dates(date(2000, 1, 1), date(2100, 1, 1)))
def test_counting_back_and_on_comes_to_the_same_day(name: str, plant_on: date) -> None:
    """Planting is on its day of the sequence, the first soaking on day 1."""
    schedule = SCHEDULES[name]
    assert validate_schedule(schedule) == ()
    ends = start_for(plant_on, schedule) + DAY * (schedule.plant_from_day - 1)
    assert ends == plant_on


@pytest.mark.parametrize("name", sorted(BALES))
@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
def test_a_bale_that_cannot_be_has_no_ledger(name: str, bad: float) -> None:
    """Its mass and its sides are refused by name."""
    for field in ("dry_mass_kg", "length_cm", "width_cm", "height_cm"):
        with pytest.raises(ValueError, match=field):
            ledger(replace(BALES[name], **{field: bad}), [], {}, START)
