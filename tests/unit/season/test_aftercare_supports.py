"""When stakes, cages and trellises have to stand."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.agronomy.growing import support_plan
from strawbell.model.brief import Caution
from strawbell.model.details import SupportDetail
from strawbell.model.garden import Support
from strawbell.season.aftercare import supports
from support.gardens import RADISH, TOMATO, planting
from support.keys import key_of
from support.planted import PEA, PLANTED, after, day, over, row

STAKED = planting(TOMATO)
CLIMBING = planting(replace(PEA, maturity_from_transplant=True))
KEY = key_of("row-a-support-tomato")


@pytest.mark.parametrize("support", [Support.STAKE, Support.CAGE])
def test_stakes_and_cages_are_told_with_the_plants(support: Support) -> None:
    """Later they would tear the roots."""
    crop = planting(replace(TOMATO, support=support))
    assert [task.key for task in supports(day(after(0), crop))] == [KEY]


def test_a_trellis_is_told_on_the_day_it_has_to_stand_and_not_before() -> None:
    """And every day after until it was told."""
    plan = support_plan(CLIMBING.crop, PLANTED, 35.0, CLIMBING.method)
    assert plan is not None
    days = (plan.by - PLANTED).days
    assert days > 1
    found = [len(supports(day(after(each), CLIMBING))) for each in (days - 1, days, days + 1)]
    assert found == [0, 1, 1]


def test_what_stands_by_itself_gets_none() -> None:
    """Radishes."""
    assert supports(day(after(10), planting(RADISH))) == ()


def test_a_support_is_told_once() -> None:
    """It stands until the end."""
    assert supports(day(after(10), STAKED, done={KEY: after(1)})) == ()


def test_nothing_is_staked_before_planting_nor_after_the_last_harvest() -> None:
    """Only what stands is held up."""
    assert supports(day(after(10), STAKED, since=None)) == ()
    done = over(row(STAKED), STAKED, after(100))
    assert supports(day(after(101), STAKED, done=done)) == ()


def test_the_task_says_how_long_the_uprights_are() -> None:
    """Driven depth, height of the bale, and what climbs: 30.48 + 36 + 182.88 cm."""
    (task,) = supports(day(after(1), STAKED))
    assert task.detail == SupportDetail(200.0, 249)
    assert task.cautions == (Caution.STAKES,)


def test_each_crop_of_a_bale_has_its_own_support() -> None:
    """Two keys, for two words of the grower."""
    other = planting(replace(TOMATO, name="pepper"))
    keys = [task.key for task in supports(day(after(1), STAKED, other))]
    assert keys == [KEY, key_of("row-a-support-pepper")]
