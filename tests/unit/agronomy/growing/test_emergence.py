"""Claims about days to emerge."""

from __future__ import annotations

import math
from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.growing import (
    DayRange,
    days_to_emerge,
    days_to_emerge_between,
    expected_emergence,
)

RADISH, TOMATO, ONION, POTATO = (CROPS[name] for name in ("radish", "tomato", "onion", "potato"))
SOWN = date(2027, 4, 17)


def steady(at_c: float | None, days: int) -> dict[date, float | None]:
    return {SOWN + timedelta(days=each): at_c for each in range(days)}


@pytest.mark.parametrize(
    ("bale_c", "days"), [(9.99, None), (10.0, 43.0), (35.0, 9.0), (35.1, None)]
)
def test_nothing_is_claimed_outside_the_tabulated_temperatures(
    bale_c: float, days: float | None
) -> None:
    """Tomato was tried from 10 to 35 degC."""
    assert days_to_emerge(TOMATO, bale_c) == days


def test_a_crop_without_a_table_has_no_days() -> None:
    """Potato pieces were not in the trials."""
    assert days_to_emerge(POTATO, 20.0) is None


def test_a_table_of_one_point_holds_at_that_point_only() -> None:
    """A grower may know just one figure."""
    single = replace(TOMATO, emergence=((20.0, 8.0),))
    assert days_to_emerge(single, 20.0) == 8.0
    assert days_to_emerge(single, 20.1) is None


def test_a_band_counts_the_tabulated_temperatures_inside_it() -> None:
    """Onion from 15 to 35 degC: quickest 4 days inside, slowest 13 at the hot end."""
    assert days_to_emerge_between(ONION, 15.0, 35.0) == DayRange(4.0, pytest.approx(13.0))


def test_a_band_that_reaches_too_cold_has_no_latest_day() -> None:
    """Tomato in a bale of 5 to 20 degC may not come up at all."""
    assert days_to_emerge_between(TOMATO, 5.0, 20.0) == DayRange(pytest.approx(8.0), None)


def test_a_band_wholly_outside_has_no_range() -> None:
    """Too cold throughout."""
    assert days_to_emerge_between(TOMATO, 0.0, 9.0) is None


def test_a_band_upside_down_is_refused_by_name() -> None:
    """The argument is named."""
    with pytest.raises(ValueError, match="coolest_c"):
        days_to_emerge_between(TOMATO, 20.0, 10.0)


@pytest.mark.parametrize("bale_c", [-40.1, 100.1, math.nan, math.inf])
def test_what_is_no_bale_temperature_is_refused(bale_c: float) -> None:
    """The argument is named."""
    with pytest.raises(ValueError, match="bale_c"):
        days_to_emerge(TOMATO, bale_c)


def test_steady_warmth_brings_emergence_after_the_tabulated_days() -> None:
    """Radish at 20 degC: four days after sowing."""
    assert expected_emergence(RADISH, SOWN, steady(20.0, 10)) == SOWN + timedelta(days=4)


def test_days_too_cold_add_nothing() -> None:
    """Three days at 0 degC first put it off by three days."""
    cold = {**steady(20.0, 20), **steady(0.0, 3)}
    assert expected_emergence(RADISH, SOWN, cold) == SOWN + timedelta(days=7)


def test_an_unknown_day_is_not_guessed_unless_a_stand_in_is_given() -> None:
    """Missing is unknown; the stand-in is the caller's."""
    assert expected_emergence(RADISH, SOWN, steady(20.0, 2)) is None
    assert expected_emergence(RADISH, SOWN, steady(None, 9)) is None
    assert expected_emergence(RADISH, SOWN, steady(20.0, 2), 20.0) == SOWN + timedelta(days=4)


def test_a_bale_that_stays_cold_never_brings_it_up() -> None:
    """After 200 days it is given up."""
    assert expected_emergence(TOMATO, SOWN, {}, 5.0) is None


def test_a_crop_without_a_table_has_no_expected_day() -> None:
    """Potato again."""
    assert expected_emergence(POTATO, SOWN, steady(20.0, 60)) is None


@pytest.mark.parametrize(("coolest_c", "latest"), [(14.0, None), (14.99, None), (15.0, 16.0)])
def test_beans_in_a_bed_under_15_degrees_have_a_soonest_and_no_latest_day(
    coolest_c: float, latest: float | None
) -> None:
    """The trials give no figure for them at 50 F, and 16 days at 59 F; nothing is made up."""
    band = days_to_emerge_between(CROPS["bean"], coolest_c, 20.0)
    assert band == DayRange(11.0, latest)
