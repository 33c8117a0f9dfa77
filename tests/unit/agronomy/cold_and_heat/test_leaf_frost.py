"""Claims about frost on plants."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.cold_and_heat import (
    dies_in_a_freeze,
    is_clear_and_calm,
    is_harmed,
    night_air,
    plant_low,
)
from strawbell.agronomy.crop_table import CROPS
from strawbell.model.forecast import Hour
from strawbell.model.garden import Crop

TOMATO, KALE = CROPS["tomato"], CROPS["kale"]
EVENING = datetime(2027, 5, 1, 18, tzinfo=UTC)


@pytest.mark.parametrize(
    ("cloud", "wind", "clear"),
    [
        (29.9, 2.23, True),
        (30.0, 2.23, False),
        (29.9, 2.24, False),
        (None, 5.0, False),
        (90.0, None, False),
        (None, 1.0, None),
        (10.0, None, None),
        (None, None, None),
    ],
)
def test_a_night_is_mild_only_when_cloud_or_wind_is_known_to_make_it_so(
    cloud: float | None, wind: float | None, clear: bool | None
) -> None:
    """Unknown is never taken for cloudy or windy."""
    assert is_clear_and_calm(cloud, wind) is clear


def test_plants_are_two_to_four_f_colder_on_a_clear_calm_night() -> None:
    """1.11 to 2.22 degC."""
    assert plant_low(3.0, 10.0, 1.0) == pytest.approx((0.78, 1.89))


def test_plants_are_up_to_one_f_colder_on_another_night() -> None:
    """0 to 0.56 degC."""
    assert plant_low(3.0, 100.0, 6.0) == pytest.approx((2.44, 3.0))


def test_an_unknown_night_is_judged_as_a_clear_calm_one() -> None:
    """The careful offset."""
    assert plant_low(3.0, None, None) == plant_low(3.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("crop", "plant_c", "harmed"),
    [(TOMATO, 0.57, False), (TOMATO, 0.56, True), (KALE, -3.32, False), (KALE, -3.33, True)],
)
def test_a_crop_is_harmed_from_where_it_should_have_been_covered(
    crop: Crop, plant_c: float, harmed: bool
) -> None:
    """Tomatoes from 33 F, kale from 26 F."""
    assert is_harmed(crop, plant_c) is harmed


@pytest.mark.parametrize(("kill_at_c", "harmed"), [(1.0, True), (0.99, False), (None, False)])
def test_what_kills_a_crop_harms_it_however_late_it_is_covered(
    kill_at_c: float | None, harmed: bool
) -> None:
    """A grower's own crop may say so of one that the table covers later."""
    assert is_harmed(replace(TOMATO, kill_at_c=kill_at_c), 1.0) is harmed


@pytest.mark.parametrize(
    ("low_c", "cloud", "wind", "name"),
    [
        (math.nan, 0.0, 0.0, "low_c"),
        (-90.1, 0.0, 0.0, "low_c"),
        (0.0, 100.1, 0.0, "cloud_percent"),
        (0.0, -0.1, 0.0, "cloud_percent"),
        (0.0, 0.0, -0.1, "wind_m_s"),
        (0.0, 0.0, 120.1, "wind_m_s"),
    ],
)
def test_values_out_of_range_are_refused_by_name(
    low_c: float, cloud: float, wind: float, name: str
) -> None:
    """The argument is named."""
    with pytest.raises(ValueError, match=name):
        plant_low(low_c, cloud, wind)


def hours(*values: tuple[float | None, float | None, float | None]) -> list[Hour]:
    return [
        Hour(EVENING + timedelta(hours=n), temperature_c=t, cloud_percent=c, wind_m_s=w)
        for n, (t, c, w) in enumerate(values)
    ]


def test_a_night_is_its_low_and_its_mean_cloud_and_wind() -> None:
    """Three full hours."""
    air = night_air(hours((5.0, 0.0, 1.0), (2.0, 30.0, 2.0), (4.0, 60.0, 3.0)))
    assert (air.low_c, air.cloud_percent, air.wind_m_s) == (2.0, 30.0, 2.0)


def test_a_gap_makes_a_figure_unknown() -> None:
    """An unknown hour may have been the coldest, the clearest, the calmest."""
    air = night_air(hours((5.0, None, 1.0), (None, 30.0, 2.0), (4.0, 60.0, None)))
    assert (air.low_c, air.cloud_percent, air.wind_m_s) == (None, None, None)


def test_a_freeze_seen_beside_a_gap_is_not_thrown_away() -> None:
    """At 0 degC it stands; just over it the gap wins."""
    assert night_air(hours((0.0, 0.0, 0.0), (None, 0.0, 0.0))).low_c == 0.0
    assert night_air(hours((0.1, 0.0, 0.0), (None, 0.0, 0.0))).low_c is None


def test_no_hours_are_an_unknown_night() -> None:
    """Nothing is known of it."""
    air = night_air([])
    assert (air.low_c, air.cloud_percent, air.wind_m_s) == (None, None, None)


def test_a_light_freeze_ends_what_it_kills_and_what_is_tender() -> None:
    """Kale lives; a tender crop without a figure of its own does not."""
    assert dies_in_a_freeze(TOMATO)
    assert not dies_in_a_freeze(KALE)
    assert dies_in_a_freeze(replace(TOMATO, kill_at_c=None))
    assert not dies_in_a_freeze(replace(TOMATO, kill_at_c=-0.1))
