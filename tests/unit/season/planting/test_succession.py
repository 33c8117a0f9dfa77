"""Which crop waits for which in the same bales."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Crowding
from strawbell.model.garden import Planting
from strawbell.season.planting import crowding, may_go_in, predecessor
from strawbell.season.planting import planting as put_in
from support.gardens import RADISH, TOMATO, garden, planting
from support.keys import key_of
from support.planted import LETTUCE, after, day, over, row

FIRST = planting(RADISH)
THEN = replace(planting(TOMATO), follows="radish")


def test_a_crop_follows_the_last_planting_of_that_name_before_it() -> None:
    """Of two sowings of radish the second; what comes later in the list does not count."""
    second = planting(RADISH)
    own = row(FIRST, second, THEN, planting(RADISH))
    assert predecessor(own, THEN) is own.plantings[1]


@pytest.mark.parametrize("follows", [None, "kale"])
def test_a_crop_that_names_none_of_the_batch_follows_none(follows: str | None) -> None:
    """Nothing could ever end its waiting."""
    then = replace(planting(TOMATO), follows=follows)
    own = row(FIRST, then)
    assert predecessor(own, then) is None
    assert may_go_in(day(after(0), FIRST, then, since=None), then)


@pytest.mark.parametrize(("over_days", "free"), [(None, False), (1, False), (0, False), (-1, True)])
def test_a_follower_goes_in_the_day_after_the_last_harvest(
    over_days: int | None, free: bool
) -> None:
    """Not while the crop stands, nor on the day it comes out."""
    own = row(FIRST, THEN)
    done = {} if over_days is None else over(own, FIRST, after(30 + over_days))
    where = day(after(30), FIRST, THEN, since=None, done=done)
    assert may_go_in(where, THEN) is free
    assert (key_of("row-a-plant-tomato") in {task.key for task in put_in(where)}) is free


def test_a_follower_pulled_forward_by_the_growers_word_goes_in_once() -> None:
    """And one that is over, or was put in, does not go in again."""
    own = row(FIRST, THEN)
    done = {**over(own, FIRST, after(29)), **over(own, THEN, after(29))}
    assert put_in(day(after(30), FIRST, THEN, since=None, done=done)) == ()


def test_a_follower_waits_for_its_own_date_too() -> None:
    """Bales may be free before it is time."""
    then = replace(THEN, plant_on=after(40))
    done = over(row(FIRST, then), FIRST, after(29))
    for days, count in ((39, 0), (40, 1)):
        found = put_in(day(after(days), FIRST, then, since=None, done=done))
        assert len([task for task in found if task.crops == ("tomato",)]) == count


EARLY = planting(LETTUCE)
"""Planted on day 0 it stands for some ten weeks."""
WANTED = replace(planting(TOMATO), follows="lettuce", plant_on=after(20))


def choices(
    days: int, late: Planting = WANTED, freeze_days: int | None = None, **done: int
) -> list[Crowding]:
    """Return what is told so many days after the early crop went in."""
    own = row(EARLY, late)
    known = {"lettuce": over(own, EARLY, after(done["over"]))} if "over" in done else {}
    put_in = {key_of("row-a-plant-lettuce"): after(0), **known.get("lettuce", {})}
    plan = garden(own, first_freeze_on=None if freeze_days is None else after(freeze_days))
    return list(crowding(day(after(days), EARLY, late, since=None, done=put_in, plan=plan)))


class TestCrowding:
    """An early crop that would hold a late one past its time."""

    def test_it_is_told_a_week_ahead_and_weekly_then(self) -> None:
        told = [days for days in range(10, 40) if choices(days)]
        assert told == [13, 20, 27, 34]

    def test_it_says_when_each_choice_comes_to_a_harvest(self) -> None:
        (found,) = choices(13)
        assert (found.early, found.late) == ("lettuce", "tomato")
        assert found.wanted_on == after(20)
        assert after(13) < found.pick_on < found.over_on
        assert (found.late_pick_on - found.over_on).days == 1 + 65
        assert (found.late_pick_latest - found.over_on).days == 1 + 80

    def test_a_crop_that_is_over_in_time_is_not_told_of(self) -> None:
        (found,) = choices(13)
        last = (found.over_on - after(0)).days
        for wanted, count in ((last, 0), (last - 1, 1)):
            late = replace(WANTED, plant_on=after(wanted))
            assert len(choices(wanted - 7, late)) == count

    def test_a_crop_that_was_pulled_is_not_told_of(self) -> None:
        assert choices(20, over=19) == []

    def test_a_late_crop_without_a_date_is_wanted_while_it_ripens_before_the_freeze(self) -> None:
        late = replace(WANTED, plant_on=None)
        assert choices(13, late) == []
        (found,) = choices(13, late, freeze_days=20 + 80 + 1)
        assert found.wanted_on == after(20)
        assert found.freeze_on == after(101)

    def test_a_crop_that_follows_none_waits_for_none(self) -> None:
        assert choices(13, replace(WANTED, follows=None)) == []
