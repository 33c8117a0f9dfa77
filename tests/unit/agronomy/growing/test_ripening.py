"""Claims about when a crop may be picked."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.growing import (
    days_to_harvest,
    growing_days,
    usual_method,
)
from strawbell.model.garden import Crop, Method

KALE, TOMATO, LETTUCE, RADISH, BEAN, PEPPER = (
    CROPS[name] for name in ("kale", "tomato", "lettuce", "radish", "bean", "pepper")
)
PLANTED = date(2027, 5, 15)
Days = dict[date, tuple[float | None, float | None]]


def after(days: int) -> date:
    return PLANTED + timedelta(days=days)


def weather(high_c: float | None, low_c: float | None, days: int = 500) -> Days:
    return {after(each): (high_c, low_c) for each in range(days)}


@pytest.mark.parametrize(
    ("crop", "mean_c", "days"),
    [
        (KALE, 5.0, 0.0),
        (KALE, 9.0, 0.5),
        (KALE, 12.6, 0.95),
        (KALE, 13.0, 1.0),
        (KALE, 25.0, 1.0),
        (PEPPER, 10.0, 0.0),
        (PEPPER, 14.0, 0.5),
        (PEPPER, 18.0, 1.0),
        (PEPPER, 26.0, 1.0),
    ],
)
def test_a_cool_day_counts_for_a_part_of_one_of_the_packet(
    crop: Crop, mean_c: float, days: float
) -> None:
    """Nothing under 5 degC on the mean, tender crops 10; all of it from 13 and 18."""
    assert growing_days(crop, mean_c + 5.0, mean_c - 5.0) == pytest.approx(days)


def test_a_day_of_degree_days_counts_for_its_share_of_the_middle_of_the_packet() -> None:
    """Tomato: 12 of 694 degC days are 1.253 of 72.5 days."""
    assert growing_days(TOMATO, 28.0, 16.0) == pytest.approx(72.5 * 12.0 / 694.0)


def test_a_day_that_is_not_known_counts_whole() -> None:
    """Missing is not cold."""
    assert growing_days(KALE, None, -5.0) == growing_days(TOMATO, 8.0, None) == 1.0


def test_a_transplant_saves_ten_to_fourteen_days() -> None:
    """Lettuce 40 to 60 days from seed."""
    assert days_to_harvest(LETTUCE, Method.SEED) == (40, 60)
    assert days_to_harvest(LETTUCE, Method.TRANSPLANT) == (26, 50)


def test_seed_takes_twenty_five_to_thirty_days_more_than_a_transplant() -> None:
    """Tomato 65 to 80 days from transplant."""
    assert days_to_harvest(TOMATO, Method.TRANSPLANT) == (65, 80)
    assert days_to_harvest(TOMATO, Method.SEED) == (90, 110)


def test_no_crop_is_ready_within_ten_days() -> None:
    """Whatever a transplant saves."""
    quick = replace(RADISH, days_to_maturity=(15, 20))
    assert days_to_harvest(quick, Method.TRANSPLANT) == (10, 10)


def test_the_usual_way_is_seed_for_what_is_sown_in_place() -> None:
    """Beans and radishes are sown; lettuce, kale and tomatoes are set out."""
    assert {usual_method(crop) for crop in (BEAN, RADISH)} == {Method.SEED}
    assert {usual_method(crop) for crop in (LETTUCE, KALE, TOMATO)} == {Method.TRANSPLANT}
