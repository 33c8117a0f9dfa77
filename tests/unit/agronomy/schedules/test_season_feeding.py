"""Claims about feeding after planting."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.growing import grows_at
from strawbell.agronomy.schedules import (
    GrowthStage,
    SeasonFeeding,
    bale_feeding,
    growth_stage,
    season_feeding,
)
from strawbell.model.garden import Appetite, Method

TOMATO, LETTUCE, PEA, CUCUMBER = (CROPS[n] for n in ("tomato", "lettuce", "pea", "cucumber"))
PLANTED = date(2027, 5, 15)


def after(days: int) -> date:
    return PLANTED + timedelta(days=days)


@pytest.mark.parametrize(
    ("days", "stage"),
    [
        (-1, GrowthStage.NOT_PLANTED),
        (0, GrowthStage.ROOTING),
        (20, GrowthStage.ROOTING),
        (21, GrowthStage.GROWING),
        (32, GrowthStage.GROWING),
        (33, GrowthStage.SETTING),
        (125, GrowthStage.SETTING),
        (126, GrowthStage.FINISHING),
    ],
)
def test_a_tomato_passes_its_stages_in_order(days: int, stage: GrowthStage) -> None:
    """Sets at half of 65 days; done at 80 + 60, so 126 is 14 days before."""
    assert growth_stage(TOMATO, PLANTED, after(days)) is stage


def test_leaves_never_set_fruit() -> None:
    """Lettuce grows until it finishes."""
    stages = {growth_stage(LETTUCE, PLANTED, after(days)) for days in range(100)}
    assert stages == {GrowthStage.ROOTING, GrowthStage.GROWING, GrowthStage.FINISHING}


@pytest.mark.parametrize("name", [n for n, c in CROPS.items() if c.appetite is Appetite.LIGHT])
def test_legumes_and_roots_are_never_fed(name: str) -> None:
    """In no stage."""
    assert [season_feeding(CROPS[name], stage) for stage in GrowthStage] == [None] * 5


@pytest.mark.parametrize("name", sorted(CROPS))
def test_nothing_is_fed_while_rooting_or_finishing(name: str) -> None:
    """Conditioning has fed it, or it is done."""
    for stage in (GrowthStage.NOT_PLANTED, GrowthStage.ROOTING, GrowthStage.FINISHING):
        assert season_feeding(CROPS[name], stage) is None


def test_heavy_feeders_are_fed_weekly_once_they_set() -> None:
    """Every other crop fortnightly."""
    heavy = season_feeding(TOMATO, GrowthStage.SETTING)
    fruiting = season_feeding(CUCUMBER, GrowthStage.SETTING)
    assert heavy is not None
    assert fruiting is not None
    assert (heavy.every_days, fruiting.every_days) == (7, 14)


def test_a_mixed_bale_is_fed_as_its_hungriest_crop() -> None:
    """Most nitrogen a day wins; nobody hungry, nothing fed."""
    weekly, fortnightly = SeasonFeeding(7, 3.0), SeasonFeeding(14, 5.0)
    assert bale_feeding([None, fortnightly, weekly]) == weekly
    assert bale_feeding([None, None]) is None
    assert bale_feeding([]) is None


def test_peas_next_to_tomatoes_do_not_stop_the_feed() -> None:
    """One bale cannot be fed in two ways."""
    stage = GrowthStage.SETTING
    both = bale_feeding([season_feeding(PEA, stage), season_feeding(TOMATO, stage)])
    assert both == season_feeding(TOMATO, stage)


def test_fruit_sets_on_the_very_day_of_half_the_way() -> None:
    """Day 30 of 60."""
    even = replace(TOMATO, days_to_maturity=(60, 80))
    assert growth_stage(even, PLANTED, after(29)) is GrowthStage.GROWING
    assert growth_stage(even, PLANTED, after(30)) is GrowthStage.SETTING


@pytest.mark.parametrize(
    ("tender", "mean_c", "grows"),
    [(True, 9.9, False), (True, 10.0, True), (False, 4.9, False), (False, 5.0, True)],
)
def test_tender_crops_grow_from_10_degrees_and_hardy_ones_from_5(
    tender: bool, mean_c: float, grows: bool
) -> None:
    """From memory: so growing seasons are counted."""
    assert grows_at(TOMATO if tender else LETTUCE, mean_c) is grows


@pytest.mark.parametrize(
    ("before", "stage"), [(15, GrowthStage.SETTING), (14, GrowthStage.FINISHING)]
)
def test_a_reckoned_last_harvest_goes_before_the_count_of_days(
    before: int, stage: GrowthStage
) -> None:
    """Whether it comes sooner or later."""
    for ends in (80, 200):
        on = after(ends - before)
        assert growth_stage(TOMATO, PLANTED, on, ends_on=after(ends)) is stage


@pytest.mark.parametrize(
    ("days", "method", "stage"),
    [
        (6, Method.TRANSPLANT, GrowthStage.ROOTING),
        (7, Method.TRANSPLANT, GrowthStage.GROWING),
        (20, Method.SEED, GrowthStage.ROOTING),
        (21, Method.SEED, GrowthStage.GROWING),
    ],
)
def test_a_transplant_that_follows_another_crop_roots_for_a_week(
    days: int, method: Method, stage: GrowthStage
) -> None:
    """It finds no feed left."""
    assert growth_stage(LETTUCE, PLANTED, after(days), method, follows=True) is stage
