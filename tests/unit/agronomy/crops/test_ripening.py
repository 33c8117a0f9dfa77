"""Claims about when a crop may be picked."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from strawbell.agronomy.crops.ripening import (
    days_to_harvest,
    growing_days,
    harvest_window,
    usual_method,
)
from strawbell.agronomy.crops.table import CROPS
from strawbell.model.crops import Crop
from strawbell.model.garden import Method

KALE, TOMATO, LETTUCE, RADISH, BEAN, PEPPER = (
    CROPS[name] for name in ("kale", "tomato", "lettuce", "radish", "bean", "pepper")
)
PLANTED = date(2027, 5, 15)
Days = dict[date, tuple[float | None, float | None]]


def after(days: int) -> date:
    return PLANTED + timedelta(days=days)


def weather(high_c: float | None, low_c: float | None, days: int = 500) -> Days:
    return {after(each): (high_c, low_c) for each in range(days)}


def test_without_weather_the_days_to_maturity_decide() -> None:
    """Tomato 65 to 80 days, picked for 60."""
    window = harvest_window(TOMATO, PLANTED, {})
    assert window is not None
    assert (window.first, window.ready_by) == (after(65), after(80))
    assert window.last == after(80 + 59)
    assert window.weather_share == 0.0


def test_with_weather_the_degree_days_decide() -> None:
    """Tomato needs 694 degC days; 65/72.5 of them at 12 a day are 51.9 days, 80/72.5 63.8."""
    window = harvest_window(TOMATO, PLANTED, weather(28.0, 16.0))
    assert window is not None
    assert (window.first, window.ready_by) == (after(52), after(64))
    assert window.weather_share > 0.99


def test_a_warm_year_brings_the_harvest_forward_and_a_cool_one_puts_it_off() -> None:
    """Compared with no weather at all."""
    warm = harvest_window(BEAN, PLANTED, weather(30.0, 20.0), method=Method.SEED)
    plain = harvest_window(BEAN, PLANTED, {}, method=Method.SEED)
    cool = harvest_window(BEAN, PLANTED, weather(20.0, 8.0), method=Method.SEED)
    assert warm is not None
    assert plain is not None
    assert cool is not None
    assert warm.first < plain.first < cool.first


def test_known_days_count_by_warmth_and_the_rest_by_days() -> None:
    """Twenty days without any warmth at all put a harvest off by exactly these twenty days."""
    window = harvest_window(TOMATO, PLANTED, weather(8.0, 2.0, days=20))
    assert window is not None
    assert window.first == after(65 + 20)


def test_a_day_with_an_unknown_figure_counts_as_a_day() -> None:
    """Missing is not cold."""
    assert harvest_window(TOMATO, PLANTED, weather(8.0, None)) == harvest_window(
        TOMATO, PLANTED, {}
    )


def test_a_crop_without_degree_days_goes_by_days_in_warm_weather() -> None:
    """No total is known for kale; nothing makes it faster than the packet says."""
    warm = harvest_window(KALE, PLANTED, weather(30.0, 20.0))
    plain = harvest_window(KALE, PLANTED, {})
    assert warm is not None
    assert plain is not None
    assert (warm.first, warm.last) == (plain.first, plain.last)


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


def test_a_killing_freeze_ends_the_picking_the_day_before() -> None:
    """Both the last day and the latest beginning are cut."""
    window = harvest_window(TOMATO, PLANTED, {}, killing_freeze_on=after(70))
    assert window is not None
    assert (window.first, window.ready_by, window.last) == (after(65), after(69), after(69))


def test_there_is_no_harvest_when_the_freeze_comes_on_or_before_its_first_day() -> None:
    """The day after is enough for one picking."""
    assert harvest_window(TOMATO, PLANTED, {}, killing_freeze_on=after(64)) is None
    assert harvest_window(TOMATO, PLANTED, {}, killing_freeze_on=after(65)) is None
    assert harvest_window(TOMATO, PLANTED, {}, killing_freeze_on=after(66)) is not None


def test_a_crop_that_never_gets_warm_never_ripens() -> None:
    """Under the base every day."""
    assert harvest_window(TOMATO, PLANTED, weather(8.0, 2.0)) is None


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


def test_a_cold_season_without_weather_share_is_none_not_an_error() -> None:
    """The soonest sort ripens on day 489 at 1.275 degC days a day, the latest not within 500."""
    # 694 * 65/72.5 = 622.2 and 694 * 80/72.5 = 765.8 degC days.
    assert harvest_window(TOMATO, PLANTED, weather(12.55, 8.0)) is None
