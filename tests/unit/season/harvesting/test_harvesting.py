"""When picking is told, how often, and when a crop comes out."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Action
from strawbell.model.details import Ending, HarvestDetail
from strawbell.season.fold import candidates
from strawbell.season.harvesting import ends_on, harvesting, is_open, window_of
from strawbell.season.stage import Day, Frozen
from support.gardens import PLACE, TOMATO, garden, planting
from support.keys import key_of
from support.planted import (
    BEAN,
    PLANTED,
    RIPENS_BY_WARMTH,
    after,
    day,
    over,
    row,
    weather,
)

TOMATOES = planting(TOMATO)
"""65 to 80 days, picked for 30: the last harvest by days alone is 80 + 29 days after planting."""
LAST = 109
SLOW = planting(RIPENS_BY_WARMTH)
"""65 to 80 days, picked for 60, and given up 30 days after that."""
GIVEN_UP = 80 + 60 + 30
KEY = key_of("row-a-plant-tomato")
PICKED = [key_of(f"row-a-harvest-tomato-{number}") for number in range(3)]
"""By their number."""


def keys(on: Day) -> list[str]:
    """Return what is due of harvests on a date."""
    return [task.key for task in harvesting(on)]


@pytest.mark.parametrize(("days", "due"), [(64, []), (65, [PICKED[1]])])
def test_picking_begins_on_the_soonest_day_to_maturity(days: int, due: list[str]) -> None:
    """And not the day before."""
    assert keys(day(after(days), TOMATOES)) == due


@pytest.mark.parametrize(("days", "due"), [(6, []), (7, [PICKED[2]]), (8, ["x"])])
def test_picking_is_brought_to_mind_a_week_after_the_last_time(days: int, due: list[str]) -> None:
    """Not after six days, and every day from the seventh on until it was told."""
    found = keys(day(after(65 + days), TOMATOES, done={PICKED[1]: after(65)}))
    assert len(found) == len(due)


@pytest.mark.parametrize(("days", "due"), [(2, 0), (3, 1)])
def test_what_is_picked_young_is_brought_to_mind_every_third_day(days: int, due: int) -> None:
    """Beans left to ripen stop bearing."""
    picked = {key_of("row-a-harvest-bean-1"): after(52)}
    assert len(keys(day(after(52 + days), planting(BEAN), done=picked))) == due


@pytest.mark.parametrize(("days", "ends"), [(LAST - 1, False), (LAST, True), (LAST + 5, True)])
def test_the_last_harvest_comes_when_the_days_of_picking_are_over(days: int, ends: bool) -> None:
    """From then on every day until it was told."""
    found = keys(day(after(days), TOMATOES, done={PICKED[1]: after(LAST)}))
    assert found == [key_of("row-a-harvest-tomato-last")] * ends


@pytest.mark.parametrize(("before", "due"), [(3, 1), (2, 0), (1, 0)])
def test_a_picking_just_before_the_last_harvest_is_left_to_it(before: int, due: int) -> None:
    """Twice in three days is nagging."""
    on = day(after(LAST - before), TOMATOES, done={PICKED[1]: after(70)})
    assert len(keys(on)) == due


def test_the_first_picking_is_told_however_short_the_season_is() -> None:
    """A crop that is taken at once has only one."""
    brief = planting(replace(TOMATO, days_to_maturity=(65, 65), harvest_days=3))
    assert keys(day(after(65), brief)) == [PICKED[1]]


def test_after_the_last_harvest_nothing_is_picked() -> None:
    """The crop is over."""
    done = over(row(TOMATOES), TOMATOES, after(LAST))
    assert keys(day(after(LAST + 1), TOMATOES, done=done)) == []


def test_a_crop_pulled_early_by_the_growers_own_word_is_over() -> None:
    """Before its last harvest was ever told."""
    done = over(row(TOMATOES), TOMATOES, after(70))
    assert candidates(day(after(72), TOMATOES, done=done))[0].action is Action.SPREAD


def test_warm_days_bring_the_harvest_forward_and_cold_ones_put_it_off() -> None:
    """By degree days, where a crop has them."""
    on = after(60)
    warm = window_of(day(on, SLOW, weather=weather(PLANTED, 60, 18.0, 30.0)), SLOW, PLANTED)
    usual = window_of(day(on, SLOW), SLOW, PLANTED)
    cold = window_of(day(on, SLOW, weather=weather(PLANTED, 60, 5.0, 12.0)), SLOW, PLANTED)
    assert warm.first < usual.first < cold.first


def test_the_weather_of_the_day_itself_does_not_move_the_harvest() -> None:
    """Else the same day would be told differently at noon than in the morning."""
    on = after(60)
    before = weather(PLANTED, 60, 5.0, 12.0)
    assert window_of(day(on, SLOW, weather=before), SLOW, PLANTED) == window_of(
        day(on, SLOW, weather={**before, **weather(on, 1, 5.0, 12.0)}), SLOW, PLANTED
    )


@pytest.mark.parametrize(("days", "due"), [(GIVEN_UP - 1, []), (GIVEN_UP, [True])])
def test_what_cold_keeps_from_ripening_is_given_up_a_month_after_its_days(
    days: int, due: list[bool]
) -> None:
    """Its window would recede for ever."""
    known = weather(PLANTED, days, 4.0, 9.0)
    found = keys(day(after(days), SLOW, weather=known))
    assert [key.last for key in found] == due


@pytest.mark.parametrize(("cold_days", "last"), [(105, False), (106, True)])
def test_what_is_ripe_on_the_very_day_of_giving_up_is_picked(cold_days: int, last: bool) -> None:
    """It wants 65 days after the cold ones; a day later it is cleared."""
    known = weather(PLANTED, cold_days, 2.0, 6.0)
    (found,) = keys(day(after(GIVEN_UP), SLOW, weather=known))
    assert found.last is last


def test_what_ripens_late_is_still_picked_for_its_days() -> None:
    """Even when that is longer than it would have been waited for."""
    known = weather(PLANTED, 100, 4.0, 9.0) | weather(after(100), 80, 16.0, 28.0)
    opened = next(
        n for n in range(100, 180) if is_open(day(after(n), SLOW, weather=known), SLOW, PLANTED)
    )
    assert opened < GIVEN_UP
    cold = known | weather(after(opened), 200, 4.0, 9.0)
    ends = ends_on(day(after(opened + 1), SLOW, weather=cold), SLOW, PLANTED)
    assert ends == after(max(GIVEN_UP, opened + 59))


def test_what_a_freeze_has_killed_is_cleared_at_once() -> None:
    """The harvest says so in a figure."""
    frozen = {KEY: Frozen(after(69), PLANTED, young=False)}
    (task,) = harvesting(day(after(70), TOMATOES, frozen=frozen))
    assert task.key == key_of("row-a-harvest-tomato-last")
    assert task.detail == HarvestDetail(Ending.KILLED)


def test_what_was_planted_again_after_a_freeze_lives() -> None:
    """The freeze belongs to the first ones."""
    frozen = {KEY: Frozen(after(-10), after(-20), young=True)}
    assert keys(day(after(30), TOMATOES, frozen=frozen)) == []


@pytest.mark.parametrize(
    ("month", "dayth", "latitude", "cleared"),
    [
        (6, 20, 47.0, False),
        (6, 21, 47.0, True),
        (12, 20, 47.0, True),
        (12, 21, 47.0, False),
        (6, 20, -38.0, True),
        (6, 21, -38.0, False),
    ],
)
def test_what_was_killed_young_is_cleared_once_days_shorten(
    month: int, dayth: int, latitude: float, cleared: bool
) -> None:
    """Before that it is planted again; south of the equator it is the other way round."""
    freeze = PLANTED.replace(month=month, day=dayth)
    own = row(TOMATOES)
    plan = garden(own, place=replace(PLACE, latitude=latitude))
    frozen = {KEY: Frozen(freeze, PLANTED, young=True)}
    on = day(freeze.replace(day=freeze.day + 1), TOMATOES, frozen=frozen, since=None, plan=plan)
    assert bool(harvesting(on)) is cleared
    assert (Action.PLANT in {task.action for task in candidates(on)}) is not cleared


def test_on_the_day_everything_comes_out_nobody_is_sent_to_water_or_look() -> None:
    """Care for plants that are cut off is idle."""
    on = day(after(LAST + 3), TOMATOES, mulched=False)
    assert {task.action for task in candidates(on)} == {Action.HARVEST}


def test_while_another_crop_stays_its_care_is_told() -> None:
    """Only one of two comes out."""
    other = planting(replace(TOMATO, name="pepper", harvest_days=90))
    actions = {task.action for task in candidates(day(after(LAST + 3), TOMATOES, other))}
    assert {Action.HARVEST, Action.WATER} <= actions
