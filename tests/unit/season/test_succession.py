"""Which crop waits for which in the same bales."""

from __future__ import annotations

from dataclasses import replace

import pytest

from strawbell.season.planting import planting as put_in
from strawbell.season.succession import may_go_in, predecessor
from support.gardens import RADISH, TOMATO, planting
from support.keys import key_of
from support.planted import after, day, over, row

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
