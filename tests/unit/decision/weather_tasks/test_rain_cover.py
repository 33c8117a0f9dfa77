"""A tarp over bales in conditioning: when it is laid and lifted, answered, and credited."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from strawbell.agronomy.doses import dosed
from strawbell.agronomy.feeds import FEEDS
from strawbell.decision.brief import brief
from strawbell.decision.daily_weather import DailyWeather
from strawbell.decision.estimates import TarpOutlook
from strawbell.decision.telling import told_entries, weather_entries
from strawbell.decision.weather_tasks import with_tarp
from strawbell.model.brief import Action, AlertCode, Brief, ReasonCode, State, Task, TaskKey
from strawbell.model.feeds import Feed
from strawbell.model.forecast import Hour
from strawbell.model.garden import Batch, Garden, RainCover
from strawbell.model.journal import Journal
from strawbell.season.bale_course import Course
from strawbell.season.fold import course_at, state_at
from strawbell.season.journal_index import JournalIndex
from strawbell.season.stage import BatchState, SequenceState, dated_key
from support.gardens import (
    START,
    ZONE,
    at,
    batch,
    done,
    forecast,
    garden,
    missed,
    on_day,
    planting,
)  # fmt: skip
from support.standing import day as day_of

TARPED = dosed(batch(rain_cover=RainCover.TARP, plantings=(planting(),), feed=FEEDS["Urea"]))
OPEN = replace(TARPED, rain_cover=RainCover.NONE)
EMPTY = replace(TARPED, plantings=())
STORM = {12: 40.0, 13: 20.0}
"""Rain [mm] by day, after the last feeding."""

Change = Callable[[Hour], Hour]


def weather(rain: dict[int, float] | None = None, hot: frozenset[int] = frozenset()) -> Change:
    """Return a change that brings rain [mm] and heat on days of the sequence."""

    def change(hour: Hour) -> Hour:
        day = ((hour.starts_at + timedelta(hours=2)).date() - START).days + 1
        mm = (rain or {}).get(day, 0.0) / 24.0
        warm = 33.0 if day in hot else 14.0
        return replace(
            hour, rain_mm=mm, rain_chance_percent=95.0 if mm else 5.0, temperature_c=warm
        )

    return change


def play(
    own: Batch,
    last: int,
    conditions: Change,
    words: Callable[[Brief], Journal] = lambda _: (),
) -> tuple[Garden, Journal, dict[int, Brief]]:
    """Return a batch told day by day through one, with what was answered to each brief."""
    plan, journal, briefs = garden(own), (), {}
    for number in range(1, last + 1):
        on = on_day(number)
        seen = forecast(at(on, 0), conditions)
        told = briefs[number] = brief(plan, journal, seen, at(on))
        journal = (
            *journal,
            *told_entries(told, told.as_of, {}),
            *weather_entries(told, ZoneInfo(ZONE), seen, at(on)),
            *words(told),
        )
    return plan, journal, briefs


def actions(told: Brief) -> set[Action]:
    """Return what a brief has due."""
    return {task.action for task in told.tasks if task.state is State.DUE}


def course(plan: Garden, journal: Journal, day: int) -> Course:
    """Return a bale on the morning of a day."""
    index, own, on = JournalIndex.of(journal), plan.batches[0], on_day(day)
    where = state_at(plan, own, index, on)
    return course_at(own, where, index, on, plan.place)


def told_on(briefs: dict[int, Brief], action: Action) -> list[int]:
    """Return the days on which a brief has some work due."""
    return [day for day, told in briefs.items() if action in actions(told)]


def test_it_is_laid_before_rain_that_would_take_more_than_the_work_is_worth() -> None:
    """On the last morning before it, not sooner; and lifted when nothing is left to keep."""
    _, _, briefs = play(EMPTY, 16, weather(STORM))
    assert told_on(briefs, Action.LAY_TARP) == [11]
    assert told_on(briefs, Action.LIFT_TARP) == [14]


@pytest.mark.parametrize("rain", [{}, {12: 8.0}, dict.fromkeys(range(4, 9), 8.0)])
def test_less_rain_is_not_worth_the_work(rain: dict[int, float]) -> None:
    """In a week of showers it would be lifted for four feedings."""
    _, _, briefs = play(EMPTY, 16, weather(rain))
    assert not told_on(briefs, Action.LAY_TARP)


def test_it_is_lifted_for_what_is_planted() -> None:
    _, _, briefs = play(TARPED, 13, weather({11: 40.0}))
    assert told_on(briefs, Action.LAY_TARP) == [10]
    assert told_on(briefs, Action.LIFT_TARP) == told_on(briefs, Action.PLANT)[:1] == [12]


def test_nothing_that_was_never_fed_is_covered() -> None:
    _, _, briefs = play(EMPTY, 2, weather({1: 40.0, 2: 40.0}))
    assert not told_on(briefs, Action.LAY_TARP)


def test_under_the_tarp_heavy_rain_holds_no_feeding() -> None:
    """It is laid on the grower's own account; rain washes nothing in there."""
    rain = {5: 30.0}
    plan, journal, _ = play(TARPED, 4, weather(rain))
    laid = done(dated_key(TARPED.name, Action.LAY_TARP, on_day(4)), at(on_day(4), 8), on_day(4))
    told = brief(plan, (*journal, laid), forecast(at(on_day(5), 0), weather(rain)), at(on_day(5)))
    feed = next(task for task in told.tasks if task.action is Action.FEED)
    assert feed.state is State.DUE
    assert [why.code for why in feed.reasons] == [ReasonCode.UNDER_TARP]
    assert feed.water_per_bale_l
    bare = play(OPEN, 5, weather(rain))[2][5]
    assert [task.state for task in bare.tasks if task.action is Action.FEED] == [State.HELD]


def test_who_has_none_is_told_of_heavy_rain_in_an_alert() -> None:
    """On fresh feed; who has one is told to lay it where that pays."""
    rain = {4: 40.0}
    told, bare = (play(own, 4, weather(rain))[2][4] for own in (TARPED, OPEN))
    assert AlertCode.HEAVY_RAIN in {alert.code for alert in bare.alerts}
    assert not told.alerts


def test_heat_takes_it_off_and_the_next_wet_morning_lays_it_again() -> None:
    _, _, briefs = play(EMPTY, 16, weather({12: 40.0, 14: 30.0}, hot=frozenset({13})))
    assert told_on(briefs, Action.LAY_TARP) == [11, 14]
    assert told_on(briefs, Action.LIFT_TARP)[0] == 13


def test_a_tarp_that_was_not_laid_is_told_again_and_not_credited() -> None:
    def never(told: Brief) -> Journal:
        keys = (task.key for task in told.tasks if task.action is Action.LAY_TARP)
        return tuple(missed(key, at(told.on, 12), told.on) for key in keys)

    plan, journal, briefs = play(EMPTY, 13, weather(STORM), never)
    assert told_on(briefs, Action.LAY_TARP) == [11, 12]
    assert not course(plan, journal, 14).covered
    dry = course(*play(EMPTY, 13, weather(STORM))[:2], 14)
    assert dry.covered
    assert dry.washed_g[-1] < 0.7 * course(plan, journal, 14).washed_g[-1]


def test_without_a_tarp_nothing_is_told_and_nothing_credited() -> None:
    plan, journal, briefs = play(replace(OPEN, plantings=()), 14, weather(STORM))
    told = set().union(*map(actions, briefs.values()))
    assert not {Action.LAY_TARP, Action.LIFT_TARP} & told
    assert not course(plan, journal, 14).covered


def test_a_tarp_laid_on_the_growers_own_account_counts() -> None:
    plan = garden(TARPED)
    on = on_day(2)
    key = dated_key(TARPED.name, Action.LAY_TARP, on)
    told = brief(plan, (), forecast(at(START, 0), weather()), at(START))
    journal = (*told_entries(told, told.as_of, {}), done(key, at(on, 8), on))
    assert course(plan, journal, 3).covered


def handled(kept_g: float, *tasks: Task, own: Batch = EMPTY, lying: bool = False) -> set[Action]:
    """Return what is done with the tarp on a mild day that it would keep so much nitrogen on."""
    on = on_day(5)
    daily = DailyWeather(garden(own), forecast(at(on)), at(on))
    where = BatchState(SequenceState(position=4, soaked=True), tarped=lying)
    outlook = SimpleNamespace(tarp_outlook=lambda of, on: TarpOutlook((kept_g,), (0,)))
    told = with_tarp(day_of(own, where, on), tasks, daily.on(on), outlook)  # type: ignore[arg-type]
    return {task.action for task in told} & {Action.LAY_TARP, Action.LIFT_TARP}


@pytest.mark.parametrize(
    ("feed", "pays_from_g"), [(None, 20.0), (FEEDS["Urea"], 20.0), (FEEDS["Blood meal"], 40.0 / 9)]
)
def test_it_is_laid_where_the_nitrogen_costs_more_than_the_laying_and_the_lifting(
    feed: Feed | None, pays_from_g: float
) -> None:
    """0.4 for both; a gram costs 0.02 of a mineral feed and 0.09 of an organic one."""
    own = replace(EMPTY, feed=feed)
    assert handled(pays_from_g - 0.01, own=own) == set()
    assert handled(pays_from_g + 0.01, own=own) == {Action.LAY_TARP}


@pytest.mark.parametrize(("state", "stays_from_g"), [(State.DUE, 20.0), (State.HELD, 0.0)])
def test_one_that_lies_is_lifted_and_laid_again_for_a_feeding_that_is_due(
    state: State, stays_from_g: float
) -> None:
    """It stays where it keeps more than that costs, 0.4; one that is held costs nothing."""
    feeding = Task(TaskKey("row-a", Action.FEED, day=5), "Row A", 6, Action.FEED, state)
    assert handled(stays_from_g, feeding, lying=True) == {Action.LIFT_TARP}
    assert handled(stays_from_g + 0.01, feeding, lying=True) == set()
