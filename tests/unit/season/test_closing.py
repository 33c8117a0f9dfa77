"""When the straw is spread, and what it still carries."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from strawbell.agronomy.feeding.schedules import SCHEDULES
from strawbell.agronomy.feeding.season_feeding import SEASON_NITROGEN_G
from strawbell.decision.alerts import alerts
from strawbell.model.brief import Action, AlertCode, Caution
from strawbell.model.details import SpreadDetail
from strawbell.season.closing import nitrogen_fed_g, spreading
from strawbell.season.planned_tasks import candidates
from strawbell.season.sequence import Given, is_feeding
from strawbell.season.stage import Day
from support.gardens import RADISH, START, TOMATO, at, forecast, planting
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


def test_the_task_counts_the_strings_and_warns_of_dust_and_herbicide() -> None:
    """Six two-string bales have twelve."""
    done = over(row(ONLY), ONLY, after(30))
    (task,) = spreading(day(after(31), ONLY, done=done))
    assert isinstance(task.detail, SpreadDetail)
    assert task.detail.strings == 12
    assert set(task.cautions) == {Caution.DUST, Caution.HERBICIDE}


def _fed(feedings: int, **changes: object) -> Day:
    """Return a day after the whole conditioning and so many feedings of the season."""
    keys = {key_of(f"row-a-feed-season-{each}"): after(each) for each in range(1, feedings + 1)}
    on = day(after(60), ONLY, done=keys, **changes)
    steps = [step for step in SCHEDULES["alternate-days"].days if is_feeding(step)]
    given = tuple(Given(START, key_of(f"row-a-{step.day}-feed"), step) for step in steps)
    sequence = replace(on.state.sequence, given=given)
    return replace(on, state=replace(on.state, sequence=sequence))


@pytest.mark.parametrize("feedings", [0, 1, 9])
def test_each_feeding_of_the_season_adds_its_own_dose_of_nitrogen(feedings: int) -> None:
    """The same three grams that are told when it is fed."""
    added = nitrogen_fed_g(_fed(feedings)) - nitrogen_fed_g(_fed(0))
    assert added == pytest.approx(feedings * SEASON_NITROGEN_G)


def test_conditioning_counts_with_every_feeding_that_was_given() -> None:
    """Rates of the schedule times the full dose, and the balanced feed at its end."""
    own = row(ONLY)
    rates = sum(step.rate for step in own.schedule.days if is_feeding(step))
    fed = nitrogen_fed_g(_fed(0, finishing_feed=None))
    work = {step.work.value for step in own.schedule.days}
    assert "feed" in work
    assert 0 < fed <= rates * own.nitrogen_per_full_dose_g + 1e-9
    assert nitrogen_fed_g(_fed(0)) > fed
    assert nitrogen_fed_g(day(date(2027, 6, 1), ONLY)) == 0.0
