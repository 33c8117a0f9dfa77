"""When the bales of a season are fed, and when no more."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Caution
from strawbell.model.details import FeedDetail
from strawbell.model.feeds import Feed, FeedForm, Label, LabelRate
from strawbell.model.garden import Appetite, Method
from strawbell.season.feedings import (
    feedings_given,
    last_season_feeding,
    season_feed,
    season_feeding_due,
)
from strawbell.season.harvesting import ends_on
from strawbell.season.journal_index import DayLog
from strawbell.season.stage import Day
from support.gardens import RADISH, TOMATO, planting
from support.keys import key_of
from support.planted import (
    LETTUCE,
    PLANTED,
    RIPENS_BY_WARMTH,
    after,
    day,
    over,
    row,
    state,
    weather,
)

TOMATOES = planting(TOMATO)
LETTUCES = planting(LETTUCE)
SLOW = planting(RIPENS_BY_WARMTH)
FED = [key_of(f"row-a-feed-season-{number}") for number in range(4)]
"""By their number."""


def due(on: Day) -> list[str]:
    """Return the keys of what is fed on a date."""
    return [task.key for task in season_feeding_due(on)]


@pytest.mark.parametrize(("days", "keys"), [(20, []), (21, [FED[1]])])
def test_the_first_feeding_comes_three_weeks_after_planting(days: int, keys: list[str]) -> None:
    """Until then conditioning feeds them."""
    assert due(day(after(days), LETTUCES)) == keys


@pytest.mark.parametrize(
    ("method", "days", "fed"),
    [
        (Method.TRANSPLANT, 6, False),
        (Method.TRANSPLANT, 7, True),
        (Method.SEED, 20, False),
        (Method.SEED, 21, True),
    ],
)
def test_a_transplant_after_another_crop_is_fed_once_it_has_rooted(
    method: Method, days: int, fed: bool
) -> None:
    """The crop before has used up what conditioning left; a sowing is hardly up."""
    before = planting(RADISH)
    then = replace(planting(LETTUCE, method), follows="radish")
    done = over(row(before, then), before, after(-1))
    assert bool(due(day(after(days), before, then, done=done))) is fed


@pytest.mark.parametrize(
    ("age", "since_last", "fed"), [(30, 13, False), (30, 14, True), (60, 6, False), (60, 7, True)]
)
def test_a_heavy_feeder_is_fed_every_fortnight_and_weekly_once_it_sets(
    age: int, since_last: int, fed: bool
) -> None:
    """Counted from the last time."""
    given = {FED[1]: after(age - since_last)}
    assert bool(due(day(after(age), TOMATOES, done=given))) is fed


@pytest.mark.parametrize("air", [(19.0, 31.0), (9.0, 20.0)])
@pytest.mark.parametrize(("before_end", "fed"), [(15, True), (14, False), (1, False)])
def test_feeding_ends_a_fortnight_before_the_last_harvest_that_is_reckoned(
    air: tuple[float, float], before_end: int, fed: bool
) -> None:
    """By degree days: a warm year ends it sooner than days alone, a cool one later."""
    known = weather(PLANTED, 250, *air)
    last = next(
        on
        for on in (after(number) for number in range(60, 250))
        if ends_on(day(on, SLOW, weather=known), SLOW, PLANTED) == on
    )
    by_days = after(80 + 60 - 1)
    assert last < by_days if air[0] > 10 else last > by_days
    on = last - timedelta(days=before_end)
    assert bool(due(day(on, SLOW, weather=known))) is fed


@pytest.mark.parametrize(("picked", "fed"), [(1, False), (9, True)])
def test_a_crop_that_is_soon_over_is_not_fed_at_all(picked: int, fed: bool) -> None:
    """Ready in 20 days and taken at once, its last feeding would be on the sixth."""
    before = planting(RADISH)
    quick = replace(LETTUCE, days_to_maturity=(20, 20), maturity_from_transplant=True)
    then = replace(planting(replace(quick, harvest_days=picked)), follows="radish")
    done = over(row(before, then), before, after(-1))
    on = day(after(9), before, then, done=done)
    assert bool(due(on)) is fed


@pytest.mark.parametrize(
    ("crop", "mean_c", "fed"),
    [(TOMATO, 9.9, False), (TOMATO, 10.0, True), (LETTUCE, 4.9, False), (LETTUCE, 5.0, True)],
)
def test_nothing_is_fed_while_it_is_too_cold_to_grow(
    crop: object, mean_c: float, fed: bool
) -> None:
    """Under 5 degC on the mean of a week, tender crops under 10."""
    on = after(25)
    known = weather(on - timedelta(days=7), 7, mean_c - 5.0, mean_c + 5.0)
    assert bool(due(day(on, planting(crop), weather=known))) is fed  # type: ignore[arg-type]


def test_roots_and_legumes_get_nothing() -> None:
    """Nitrogen makes leaves of them."""
    assert TOMATO.appetite is not Appetite.LIGHT
    assert due(day(after(15), planting(RADISH))) == []
    assert due(day(after(22), planting(RADISH))) == []


def test_the_hungriest_crop_of_a_bale_speaks_for_all() -> None:
    """Tomatoes that set want it weekly, lettuce beside them every fortnight."""
    given = {FED[1]: after(40)}
    assert due(day(after(47), TOMATOES, planting(RADISH), done=given)) == [FED[2]]
    assert due(day(after(47), planting(LETTUCE), done=given)) == []


def test_a_feeding_recorded_as_missed_is_the_next_one_again() -> None:
    """Its number is free."""
    given = {FED[1]: after(21), FED[3]: after(36)}
    assert due(day(after(60), TOMATOES, done=given)) == [FED[2]]


def test_the_balanced_feed_goes_before_the_one_of_conditioning() -> None:
    """And a batch whose feeds have no nitrogen is not fed."""
    own = row(TOMATOES)
    assert season_feed(own) == own.finishing_feed
    assert season_feed(replace(own, finishing_feed=None)) == own.feed
    bare = replace(own.feed, label=replace(own.feed.label, nitrogen_percent=0.0))
    assert season_feed(replace(own, feed=bare, finishing_feed=None)) is None
    assert due(day(after(30), TOMATOES, feed=bare, finishing_feed=None)) == []


def test_feedings_are_counted_and_dated() -> None:
    """For what is left in the straw, and for what rain may wash out."""
    own = row(TOMATOES)
    where = state(own, {FED[1]: after(21), FED[2]: after(35)})
    given = feedings_given(own, where, DayLog(after(40)))
    assert [each.on for each in given] == [after(21), after(35)]
    assert last_season_feeding(own, where) == after(35)
    assert last_season_feeding(own, state(own)) is None


def test_what_is_given_is_three_grams_of_nitrogen_a_bale() -> None:
    """Common practice: a tablespoon of a soluble feed of 20 % to a gallon and bale."""
    (task,) = season_feeding_due(day(after(30), TOMATOES))
    assert task.dose is not None
    assert task.dose.nitrogen_per_bale_g == pytest.approx(3.0, abs=0.05)
    assert task.detail == FeedDetail(14)


def test_a_feed_with_a_rate_is_given_as_its_label_has_it() -> None:
    """A label's own rate goes before what is common: 2 g/L in a US gallon."""
    own = Feed("Soluble", Label(24, 8, 16), FeedForm.SOLUBLE, rate=LabelRate(g_per_l=2.0))
    (task,) = season_feeding_due(day(after(30), TOMATOES, finishing_feed=own))
    assert task.dose is not None
    assert task.dose.per_bale_g == pytest.approx(7.57, abs=0.01)
    assert task.dose.water_per_bale_l == pytest.approx(3.785, abs=0.001)


def test_after_the_last_harvest_nothing_is_fed() -> None:
    """The bales are empty."""
    done = over(row(TOMATOES), TOMATOES, date(2027, 6, 20))
    assert due(day(date(2027, 6, 21), TOMATOES, done=done)) == []


def test_rivers_and_local_rules_are_spoken_of_with_the_first_feeding_alone() -> None:
    """How a feed is handled is said with each."""
    (first,) = season_feeding_due(day(after(21), TOMATOES))
    (second,) = season_feeding_due(day(after(60), TOMATOES, done={FED[1]: after(21)}))
    once = {Caution.WATERCOURSE, Caution.LOCAL_RULES}
    assert once < set(first.cautions)
    assert not once & set(second.cautions)
    assert Caution.FEED_HANDLING in second.cautions
