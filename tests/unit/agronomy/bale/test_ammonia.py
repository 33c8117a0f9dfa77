"""Urea that goes to the air when it is not washed in."""

from __future__ import annotations

import pytest

from strawbell.agronomy.bale.ammonia import (
    LEAST_IN_A_WEEK,
    MOST_IN_A_WEEK,
    MOST_IN_ALL,
    WASHED_IN_MOST,
    volatilised_share,
)


def test_urea_that_was_washed_in_loses_next_to_nothing() -> None:
    """The water of the dose itself sees to it."""
    share = volatilised_share([0.0] * 7, True)
    assert (share.low, share.high) == (0.0, WASHED_IN_MOST)


def test_a_dry_week_on_top_loses_up_to_a_fifth() -> None:
    """Montana State University: up to 22 % in one week, typically 8 to 15 %."""
    share = volatilised_share([0.0] * 7, False)
    assert share.high == pytest.approx(MOST_IN_A_WEEK)
    assert share.low == pytest.approx(0.08)


@pytest.mark.parametrize(("rain_mm", "stops"), [(12.6, False), (12.7, True), (12.8, True)])
def test_half_an_inch_in_a_day_ends_the_loss(rain_mm: float, stops: bool) -> None:
    """Montana State University: 0.5 in in one event moves urea in."""
    week = volatilised_share([0.0, rain_mm, 0.0, 0.0, 0.0, 0.0, 0.0], False)
    day = volatilised_share([0.0], False)
    assert (week.high == pytest.approx(day.high)) is stops


def test_unknown_rain_may_have_washed_it_in_or_not() -> None:
    """The least takes it for a soaking, the most for none."""
    share = volatilised_share([0.0, None, 0.0], False)
    assert share.low < volatilised_share([0.0, 0.0, 0.0], False).low
    assert share.high == volatilised_share([0.0, 0.0, 0.0], False).high


def test_no_more_is_lost_than_in_any_trial() -> None:
    """44.1 %, reached after two dry weeks; the least stops at the week's 8 %."""
    fortnight, season = (volatilised_share([0.0] * days, False) for days in (14, 90))
    assert fortnight.high == pytest.approx(0.44)
    assert (season.low, season.high) == (LEAST_IN_A_WEEK, MOST_IN_ALL)
