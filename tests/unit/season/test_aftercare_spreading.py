"""When the straw is spread, and what it still carries."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.bales import spread_area_m2
from strawbell.decision.alerts import alerts
from strawbell.model.brief import Action, AlertCode, Caution
from strawbell.model.details import Band, SpreadDetail
from strawbell.season.aftercare import spreading
from strawbell.season.fold import candidates
from support.gardens import RADISH, TOMATO, at, forecast, planting
from support.keys import key_of
from support.planted import after, day, over, row, state
from support.standing import lookout

ONLY = planting(RADISH)
THEN = replace(planting(TOMATO), follows="radish")


@pytest.mark.parametrize(("ago", "told"), [(None, False), (0, False), (1, True), (20, True)])
def test_straw_is_spread_from_the_morning_after_the_last_crop_came_out(
    ago: int | None, told: bool
) -> None:
    """Not before, nor on the same day; and until it was told."""
    on = after(50)
    done = {} if ago is None else over(row(ONLY), ONLY, on - timedelta(days=ago))
    assert bool(spreading(day(on, ONLY, done=done))) is told


def test_straw_is_not_spread_while_a_follower_is_still_to_come() -> None:
    """Only once every crop of the batch is over."""
    own = row(ONLY, THEN)
    first = over(own, ONLY, after(30))
    assert spreading(day(after(40), ONLY, THEN, done=first, since=None)) == ()
    both = {**first, **over(own, THEN, after(120))}
    assert len(spreading(day(after(121), ONLY, THEN, done=both))) == 1


def test_straw_is_spread_once_and_bales_without_a_crop_never() -> None:
    """Nobody says when those are done."""
    done = over(row(ONLY), ONLY, after(30))
    assert spreading(day(after(40), ONLY, done={**done, key_of("row-a-spread"): after(31)})) == ()
    assert spreading(day(after(40))) == ()


def test_after_spreading_nothing_is_left_to_do() -> None:
    """No inspection, no water, no feed."""
    done = {**over(row(ONLY), ONLY, after(30)), key_of("row-a-spread"): after(31)}
    assert candidates(day(after(32), ONLY, done=done)) == ()


@pytest.mark.parametrize(("spread", "warned"), [(False, True), (True, False)])
def test_once_the_straw_is_spread_no_freeze_is_warned_of(spread: bool, warned: bool) -> None:
    """Else the whole winter is told to drain the hose for bales that are gone."""
    own = row(ONLY)
    done = {**over(own, ONLY, after(30)), **({key_of("row-a-spread"): after(31)} if spread else {})}
    now = at(after(40))
    seen = forecast(now, temperature_c=-2.0)
    found = {each.code for each in alerts(lookout(own, state(own, done), seen, now))}
    assert (AlertCode.FREEZE in found) is warned


def test_bales_whose_crop_was_cleared_before_it_ever_counted_as_planted_rest_no_more() -> None:
    """Its last harvest is enough."""
    done = over(row(ONLY), ONLY, after(30))
    actions = {task.action for task in candidates(day(after(32), ONLY, done=done, since=None))}
    assert actions == {Action.SPREAD}


def test_the_ground_that_straw_covers_is_told_to_the_tenth() -> None:
    """Of a square metre: nobody paces it out closer."""
    done = over(row(ONLY), ONLY, after(30))
    (task,) = spreading(day(after(31), ONLY, done=done))
    assert isinstance(task.detail, SpreadDetail)
    least_m2, most_m2 = spread_area_m2(row(ONLY).bale, 6)
    assert task.detail.area_m2 == Band(round(least_m2, 1), round(most_m2, 1))


def test_the_task_counts_the_strings_and_warns_of_dust_and_herbicide() -> None:
    """Six two-string bales have twelve."""
    done = over(row(ONLY), ONLY, after(30))
    (task,) = spreading(day(after(31), ONLY, done=done))
    assert isinstance(task.detail, SpreadDetail)
    assert task.detail.strings == 12
    assert set(task.cautions) == {Caution.DUST, Caution.HERBICIDE}
