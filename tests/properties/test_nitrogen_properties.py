"""What holds for every feed, dose, storm and list: masses balance and nothing is negative."""

from __future__ import annotations

import math
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from strawbell.agronomy.doses import (
    LARGEST_FEEDING_G,
    finishing_dose,
    nitrogen_dose,
)
from strawbell.agronomy.feeds import UNKNOWN_KG_PER_L, parse_label
from strawbell.agronomy.schedules import SCHEDULES, start_for, validate_schedule
from strawbell.agronomy.supplies import FeedItem, WaterItem, needs
from strawbell.model.feeds import Feed, FeedForm, Label, LabelRate
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
    rate=st.none() | st.builds(LabelRate, ml_per_l=st.floats(0.1, 100.0)),
)
liquids = st.builds(
    replace,
    feeds,
    form=st.just(FeedForm.LIQUID),
    rate=st.builds(LabelRate, ml_per_l=st.floats(0.1, 100.0)),
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
    volume_ml = dose.per_bale_g / (feed.density_kg_per_l or UNKNOWN_KG_PER_L)
    assert feed.rate is not None
    assert feed.rate.ml_per_l is not None
    assert volume_ml / dose.water_per_bale_l <= feed.rate.ml_per_l * (1 + 1e-9)


@given(feeds, st.integers(1, 100))
def test_the_last_feeding_is_never_too_much_to_work_in(feed: Feed, count: int) -> None:
    """However weak the label."""
    assert 0 < finishing_dose(feed, count, 3.6).per_bale_g <= LARGEST_FEEDING_G


@given(st.tuples(percents, percents, percents))
def test_a_label_is_read_as_it_is_written(figures: tuple[float, float, float]) -> None:
    """With a point, a comma, blanks or dashes of any length."""
    label = Label(*figures)
    plain = str(label)
    assert parse_label(plain) == label
    assert parse_label(plain.replace(".", ",").replace("-", " \u2013 ") + " + 24 S") == label


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
