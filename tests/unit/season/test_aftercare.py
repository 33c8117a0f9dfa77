"""Looking, thinning, mulch and water of what grows."""

from __future__ import annotations

import math
from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.growing import days_to_harvest, expected_emergence
from strawbell.agronomy.watering import Stage, canopy_at
from strawbell.model.details import LookDetail, Sign
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Method
from strawbell.season.aftercare import (
    canopy_of,
    daily_water,
    emerged_on,
    emergence_of,
    inspection,
    lately_c,
    mulching,
    thinning_due,
)
from strawbell.season.stage import Day
from support.gardens import RADISH, TOMATO, planting
from support.keys import key_of
from support.planted import BEAN, PLANTED, SPINACH, after, day, over, row, weather

TOMATOES = planting(TOMATO)
SOWN = planting(SPINACH, Method.SEED, plants=60)
THIN = key_of("row-a-thin-spinach")


@pytest.mark.parametrize(
    ("days", "week"), [(0, None), (6, None), (7, 1.0), (8, None), (14, 2.0), (15, None)]
)
def test_bales_are_looked_over_every_week_from_planting(days: int, week: float | None) -> None:
    """Not on planting day itself."""
    tasks = inspection(day(after(days), TOMATOES))
    weeks = [each.week for task in tasks if isinstance(each := task.detail, LookDetail)]
    assert weeks == ([] if week is None else [week])


def test_empty_bales_are_not_looked_over() -> None:
    """Neither before planting nor after the last harvest."""
    assert inspection(day(after(7), TOMATOES, since=None)) == ()
    done = over(row(TOMATOES), TOMATOES, after(6))
    assert inspection(day(after(7), TOMATOES, done=done)) == ()


@pytest.mark.parametrize(("low_c", "high_c"), [(2.0, 10.0), (8.0, 18.0)])
@pytest.mark.parametrize(("more", "due"), [(9, False), (10, True), (11, True)])
def test_a_sowing_is_thinned_ten_days_after_it_came_up(
    low_c: float, high_c: float, more: int, due: bool
) -> None:
    """By the warmth of the bed since; later in a cold spring."""
    known = weather(PLANTED, 80, low_c, high_c)
    up = emerged_on(day(after(60), SOWN, weather=known), SOWN, PLANTED)
    assert up is not None
    on = up + timedelta(days=more)
    assert bool(thinning_due(day(on, SOWN, weather=known))) is due


def test_warmth_brings_a_sowing_up_sooner() -> None:
    """As in the trials."""
    cold = emerged_on(day(after(60), SOWN, weather=weather(PLANTED, 60, 1.0, 7.0)), SOWN, PLANTED)
    warm = emerged_on(day(after(60), SOWN, weather=weather(PLANTED, 60, 9.0, 19.0)), SOWN, PLANTED)
    assert cold is not None
    assert warm is not None
    assert warm < cold


def test_the_bed_is_as_warm_as_its_past_days_were_to_yesterday() -> None:
    """What today is foretold to be changes nothing: an evening would say other than its morning."""
    on, past = after(5), weather(PLANTED, 4, 4.0, 8.0)

    def up(*skies: dict[date, DayWeather]) -> date | None:
        known = {each: sky for days in (past, *skies) for each, sky in days.items()}
        return emerged_on(day(on, SOWN, weather=known), SOWN, PLANTED)

    mild = weather(after(4), 1, 4.0, 8.0)
    hot, today = weather(after(4), 1, 20.0, 26.0), weather(on, 1, 20.0, 26.0)
    assert up(mild, today) == up(mild) != up(hot)


def test_each_past_day_warms_the_bed_as_much_as_its_air_was_warm() -> None:
    """The bed is 3 K warmer than the air (see `BED_WARMER_C`); yesterday counts like the others."""
    on = day(
        after(8), SOWN, weather=weather(PLANTED, 7, 2.0, 6.0) | weather(after(7), 1, 22.0, 28.0)
    )
    bed = {after(days): 4.0 + 3.0 for days in range(7)} | {after(7): 25.0 + 3.0}
    as_lately_c = round((6 * 4.0 + 25.0) / 7) + 3.0
    expected = expected_emergence(SOWN.crop, PLANTED, bed, as_lately_c)
    assert emerged_on(on, SOWN, PLANTED) == expected


@pytest.mark.parametrize(("age", "due"), [(90, True), (91, False)])
def test_a_sowing_is_thinned_no_more_after_three_months(age: int, due: bool) -> None:
    """By then it has thinned itself."""
    assert bool(thinning_due(day(after(age), SOWN))) is due


def test_transplants_and_what_was_thinned_are_left_alone() -> None:
    """Thinning is told once, and only of seedlings."""
    transplants = planting(SPINACH)
    assert thinning_due(day(after(60), transplants)) == ()
    assert thinning_due(day(after(60), SOWN, done={THIN: after(30)})) == ()


@pytest.mark.parametrize(("days", "due"), [(21, False), (22, True)])
def test_transplants_are_mulched_after_their_first_three_weeks(days: int, due: bool) -> None:
    """The day after."""
    assert bool(mulching(day(after(days), TOMATOES))) is due


@pytest.mark.parametrize(("more", "due"), [(10, False), (11, True)])
def test_a_sowing_is_mulched_only_once_it_has_its_true_leaves(more: int, due: bool) -> None:
    """Mulch would smother what is not up yet, and it is thinned first."""
    known = weather(PLANTED, 90, 0.0, 6.0)
    up = emerged_on(day(after(60), SOWN, weather=known), SOWN, PLANTED)
    assert up is not None
    assert up > after(15)
    assert bool(mulching(day(up + timedelta(days=more), SOWN, weather=known))) is due


def test_a_sowing_that_never_comes_up_is_not_mulched() -> None:
    """Beans in a bed under 15 degC."""
    beans = planting(BEAN, Method.SEED)
    known = weather(PLANTED, 90, 2.0, 8.0)
    assert mulching(day(after(80), beans, weather=known)) == ()


@pytest.mark.parametrize(("days", "due"), [(21, False), (22, True)])
def test_a_crop_of_which_nobody_knows_when_it_comes_up_is_mulched_by_days(
    days: int, due: bool
) -> None:
    """Seed potatoes have no table, and like it under straw."""
    potatoes = planting(CROPS["potato"], Method.SEED)
    assert bool(mulching(day(after(days), potatoes))) is due


def test_mulch_is_laid_once_and_not_on_a_mulched_batch() -> None:
    """Nor while another crop of the bales is young, nor on empty ones."""
    assert mulching(day(after(30), TOMATOES, done={key_of("row-a-mulch"): after(22)})) == ()
    assert mulching(day(after(30), TOMATOES, mulched=True)) == ()
    assert mulching(day(after(30), TOMATOES, since=None)) == ()
    young = {key_of("row-a-plant-radish"): after(20)}
    assert mulching(day(after(30), TOMATOES, planting(RADISH), done=young)) == ()


@pytest.mark.parametrize(("days", "due"), [(21, False), (22, True)])
def test_established_plants_are_watered_daily_after_their_first_weeks(days: int, due: bool) -> None:
    """Until then the top is kept moist instead."""
    assert bool(daily_water(day(after(days), TOMATOES))) is due


def test_one_established_crop_is_enough_for_the_daily_water() -> None:
    """The young one beside it has its own."""
    young = {key_of("row-a-plant-radish"): after(28)}
    assert daily_water(day(after(30), TOMATOES, planting(RADISH), done=young))


def test_beans_in_a_bed_of_14_degrees_may_not_come_up_at_all() -> None:
    """No trial gives a figure under 59 F; so there is a soonest, and no latest."""
    known = weather(after(3), 7, 9.0, 19.0)
    beans = planting(BEAN, Method.SEED)
    up = emergence_of(day(after(10), beans, weather=known), beans)
    assert up is not None
    assert up.latest is None
    assert up.soonest == pytest.approx(11.0, abs=0.1)


def test_the_mean_of_a_week_leaves_out_what_is_not_known_whole() -> None:
    """And is unknown where nothing is."""
    known = weather(after(3), 7, 8.0, 12.0)
    part = weather(after(9), 1, 20.0, 30.0, complete=False)
    assert lately_c(day(after(10), TOMATOES, weather=known | part)) == 10.0
    assert lately_c(day(after(10), TOMATOES)) is None
    older = weather(after(2), 1, 20.0, 30.0)
    assert lately_c(day(after(10), TOMATOES, weather=known | older)) == 10.0


def leaves(on: Day) -> float:
    """Return the ground that the plants of a bale shade on a date [m2]."""
    return canopy_of(on.batch, on.state, on.on).area_m2


def test_leaves_grow_with_the_plants_and_never_over_two_square_metres_a_bale() -> None:
    """Past that neighbours shade each other."""
    many = replace(TOMATOES, plants=100)
    areas = [leaves(day(after(days), many)) for days in (5, 20, 40, 60, 80)]
    assert areas == sorted(areas)
    assert areas[0] < areas[-1] == 2.0
    assert leaves(day(after(5), TOMATOES, since=None)) == 0.0


@pytest.mark.parametrize(
    ("share", "below", "from_it"),
    [
        (0.25, Stage.SEEDLING, Stage.YOUNG),
        (0.5, Stage.YOUNG, Stage.GROWING),
        (0.8, Stage.GROWING, Stage.FULL),
    ],
)
def test_leaves_grow_in_four_stages_of_the_days_to_the_first_harvest(
    share: float, below: Stage, from_it: Stage
) -> None:
    """A plant at its stage shades as much of its own ground as `canopy_at` says (design choice)."""
    many = replace(TOMATOES, plants=100)
    soonest, _ = days_to_harvest(many.crop, many.method)
    first = math.ceil(share * soonest)
    for days, stage in ((first - 1, below), (first, from_it)):
        full = canopy_at(stage, 2.0, many.crop.mature_height_cm / 100.0)
        assert leaves(day(after(days), many)) == pytest.approx(full.area_m2)


def test_what_is_picked_for_the_last_time_shades_nothing_any_more() -> None:
    own = row(TOMATOES)
    gone = day(after(100), TOMATOES, done=over(own, TOMATOES, after(90)))
    assert leaves(gone) == 0.0
    assert canopy_of(own, gone.state, after(89)).area_m2 > 0.0


@pytest.mark.parametrize(
    ("days", "rain_mm", "mean_c", "signs"),
    [
        (14, 20.0, 14.0, {Sign.SPROUTS, Sign.MUSHROOMS, Sign.SLUGS}),
        (14, 0.0, 14.0, {Sign.SPROUTS}),
        (14, 20.0, 4.0, set()),
        (42, 0.0, 14.0, {Sign.SPROUTS, Sign.SUNK}),
        (49, 14.9, 14.0, {Sign.SUNK}),
        (49, 15.1, 14.0, {Sign.MUSHROOMS, Sign.SLUGS, Sign.SUNK}),
    ],
)
def test_a_look_is_for_what_age_and_weather_make(
    days: int, rain_mm: float, mean_c: float, signs: set[Sign]
) -> None:
    """Common practice: grain sprouts early, mushrooms and slugs come with rain, bales sink late."""
    on = after(days)
    week = {
        on - timedelta(days=back): DayWeather(
            mean_c - 5.0, mean_c + 5.0, rain_mm / 7.0, None, complete=True
        )
        for back in range(1, 8)
    }
    (look,) = inspection(day(on, TOMATOES, weather=week))
    assert isinstance(look.detail, LookDetail)
    assert set(look.detail.signs) == signs


def test_after_a_week_of_unknown_weather_whatever_is_possible_is_looked_for() -> None:
    (look,) = inspection(day(after(14), TOMATOES))
    assert isinstance(look.detail, LookDetail)
    assert set(look.detail.signs) == {Sign.SPROUTS, Sign.MUSHROOMS, Sign.SLUGS}
