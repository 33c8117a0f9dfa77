"""What holds for every crop in every weather."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from strawbell.agronomy.cold_and_heat import is_harmed, plant_low
from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.frost_dates import FrostSeason, freeze_risk, window_of
from strawbell.agronomy.growing import (
    days_to_emerge,
    days_to_emerge_between,
    days_to_harvest,
    degree_days,
    rows_on,
    support_plan,
)
from strawbell.model.garden import Bale, Crop, Method

crops = st.sampled_from(sorted(CROPS)).map(CROPS.__getitem__)
bale_temperatures = st.floats(-10.0, 50.0)
air_temperatures = st.floats(-30.0, 45.0)
clouds = st.none() | st.floats(0.0, 100.0)
winds = st.none() | st.floats(0.0, 30.0)
dates = st.dates(date(2000, 1, 1), date(2050, 12, 31))
methods = st.sampled_from(Method)


@given(crops, bale_temperatures)
def test_days_to_emerge_lie_within_the_trial(crop: Crop, bale_c: float) -> None:
    """Interpolation invents neither a quicker nor a slower seed."""
    days = days_to_emerge(crop, bale_c)
    tried = [each for _, each in crop.emergence]
    if days is None:
        assert not tried or not crop.emergence[0][0] <= bale_c <= crop.emergence[-1][0]
    else:
        assert min(tried) - 1e-9 <= days <= max(tried) + 1e-9


@given(crops, bale_temperatures, bale_temperatures, st.floats(0.0, 1.0))
def test_every_temperature_of_a_band_emerges_within_its_range(
    crop: Crop, one_c: float, other_c: float, share: float
) -> None:
    """The range of a band leaves none of its temperatures out."""
    coolest, warmest = sorted((one_c, other_c))
    within = min(warmest, coolest + share * (warmest - coolest))
    days, band = days_to_emerge(crop, within), days_to_emerge_between(crop, coolest, warmest)
    if days is not None and band is not None:
        assert band.soonest - 1e-9 <= days
        assert band.latest is None or days <= band.latest + 1e-9


@given(crops, air_temperatures, st.floats(0.0, 10.0), clouds, winds)
def test_a_colder_night_is_never_less_dangerous(
    crop: Crop, low_c: float, colder_c: float, cloud: float | None, wind: float | None
) -> None:
    """Harm only grows as the low falls."""
    mild, cold = (plant_low(low, cloud, wind)[0] for low in (low_c, low_c - colder_c))
    assert is_harmed(crop, cold) >= is_harmed(crop, mild)


@given(air_temperatures, clouds, winds)
def test_not_knowing_the_sky_is_never_milder_than_knowing_it(
    low_c: float, cloud: float | None, wind: float | None
) -> None:
    """And plants are never warmer than the air."""
    coldest_c, mildest_c = plant_low(low_c, cloud, wind)
    assert plant_low(low_c, None, None)[0] <= coldest_c <= mildest_c <= low_c


@given(air_temperatures, st.floats(0.0, 15.0), st.floats(0.0, 20.0))
def test_degree_days_lie_between_none_and_what_the_ceiling_leaves(
    low_c: float, range_c: float, base_c: float
) -> None:
    """And a warmer day never brings fewer."""
    found = degree_days(low_c + range_c, low_c, base_c)
    assert 0.0 <= found <= 30.0 - base_c
    assert degree_days(low_c + range_c + 1.0, low_c, base_c) >= found


@given(crops, dates, methods)
def test_a_support_stands_from_planting_day_to_the_first_harvest(
    crop: Crop, planted: date, method: Method
) -> None:
    """Never before there is a plant, never after it is picked."""
    plan = support_plan(crop, planted, 35.0, method)
    first_harvest = planted + timedelta(days=days_to_harvest(crop, method)[0])
    assert plan is None or planted <= plan.by < first_harvest


@given(st.integers(1, 80), st.floats(25.0, 250.0), st.floats(25.0, 250.0))
def test_there_are_never_more_rows_than_plants(plants: int, length: float, width: float) -> None:
    """And always one."""
    bale = Bale("own", length_cm=length, width_cm=width, height_cm=35.0, dry_mass_kg=20.0)
    assert 1 <= rows_on(bale, plants) <= plants


@given(
    st.lists(st.none() | st.integers(1, 150), min_size=1, max_size=30),
    st.sampled_from(FrostSeason),
    st.booleans(),
)
def test_a_smaller_risk_is_never_on_the_riskier_side(
    days: list[int | None], season: FrostSeason, southern: bool
) -> None:
    """In spring it lies later, in autumn earlier; a date out of reach stays so for larger risks."""
    minima: dict[date, float | None] = {}
    for number, freeze in enumerate(days):
        first, last = window_of(season, 1990 + number, southern=southern)
        for day in range(1, (last - first).days + 2):
            minima[first + timedelta(days=day - 1)] = -1.0 if day == freeze else 5.0
    found = freeze_risk(minima, season, 0.0, southern=southern)
    assert found.years == len(days)
    reckoned = [found.days[risk].day for risk in (50.0, 20.0, 10.0)]
    known = [day for day in reckoned if day is not None]
    assert reckoned[len(reckoned) - len(known) :] == known
    assert known == sorted(known, reverse=season is FrostSeason.AUTUMN)
