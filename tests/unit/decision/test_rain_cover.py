"""A tarp over bales in conditioning: when it is laid and lifted, answered, and credited."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from strawbell.agronomy.bale.size_and_mass import BALES
from strawbell.agronomy.feeding.schedules import SOAK_FIRST
from strawbell.decision.brief import brief
from strawbell.decision.daily_weather import DailyWeather
from strawbell.decision.journal_rows import told_entries, weather_entries
from strawbell.decision.rain_cover import RAIN_COVER_MM, UNBOUND_G_PER_KG, with_tarp
from strawbell.model.brief import Action, AlertCode, Also, Brief, ReasonCode, State
from strawbell.model.forecast import Hour
from strawbell.model.garden import Batch, Garden, RainCover
from strawbell.model.journal import Journal
from strawbell.season.bale_course import Course, course_at
from strawbell.season.batch_state import state_at
from strawbell.season.feedings_given import day_of
from strawbell.season.journal_index import JournalIndex
from strawbell.season.planned_tasks import once_due
from strawbell.season.rain_cover import STAYS_ON, lies
from strawbell.season.task_keys import dated_key
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

TARPED = batch(rain_cover=RainCover.TARP, plantings=(planting(),))
OPEN = replace(TARPED, rain_cover=RainCover.NONE)
LAST_FEEDING = 10

DayConditions = Callable[[Hour], Hour]


def weather(
    rain: dict[int, float] | None = None, hot: frozenset[int] = frozenset()
) -> DayConditions:
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
    conditions: DayConditions,
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
    where = state_at(own, index, on, once_due(plan))
    return course_at(own, where, index, on, plan.place)


def test_the_tarp_is_laid_the_day_after_the_first_feeding_and_lies_until_something_is_planted() -> (
    None
):
    _, _, briefs = play(TARPED, 14, weather())
    laid = [day for day, told in briefs.items() if Action.LAY_TARP in actions(told)]
    lifted = [day for day, told in briefs.items() if Action.LIFT_TARP in actions(told)]
    assert (laid, lifted) == ([2], [12])
    assert Action.PLANT in actions(briefs[12])


def test_without_plants_it_lies_until_three_days_after_the_last_feeding() -> None:
    _, _, briefs = play(replace(TARPED, plantings=()), 15, weather())
    lifted = [day for day, told in briefs.items() if Action.LIFT_TARP in actions(told)]
    assert lifted == [LAST_FEEDING + STAYS_ON.days + 1]


def test_bales_soaked_first_are_left_to_the_rain_until_they_are_fed() -> None:
    _, _, briefs = play(replace(TARPED, schedule=SOAK_FIRST), 6, weather())
    laid = [day for day, told in briefs.items() if Action.LAY_TARP in actions(told)]
    assert laid == [5]


def test_under_the_tarp_heavy_rain_holds_no_feeding_and_is_no_alert() -> None:
    rain = {5: 30.0}
    told = play(TARPED, 5, weather(rain))[2][5]
    feed = next(task for task in told.tasks if task.action is Action.FEED)
    assert feed.state is State.DUE
    assert [why.code for why in feed.reasons] == [ReasonCode.UNDER_TARP]
    assert Also.UNDER_TARP in feed.also
    assert feed.water_per_bale_l  # the rain does not wash it in
    assert not told.alerts
    bare = play(OPEN, 5, weather(rain))[2][5]
    assert [task.state for task in bare.tasks] == [State.HELD]
    assert AlertCode.HEAVY_RAIN in {alert.code for alert in bare.alerts}


def test_rain_on_the_first_day_holds_the_feeding_since_nothing_lies_over_the_bales_yet() -> None:
    told = play(TARPED, 1, weather({1: 30.0}))[2][1]
    assert [task.state for task in told.tasks if task.action is Action.FEED] == [State.HELD]


def test_heat_takes_it_off_and_the_next_cool_morning_lays_it_again() -> None:
    _, _, briefs = play(TARPED, 8, weather(hot=frozenset({6, 7})))
    assert Action.LIFT_TARP in actions(briefs[6])
    assert not {Action.LAY_TARP, Action.LIFT_TARP} & actions(briefs[7])
    assert Action.LAY_TARP in actions(briefs[8])


def test_a_tarp_that_was_not_laid_is_told_again_and_not_credited() -> None:
    def never(told: Brief) -> Journal:
        keys = (task.key for task in told.tasks if task.action is Action.LAY_TARP)
        return tuple(missed(key, at(told.on, 12), told.on) for key in keys)

    rain = dict.fromkeys(range(4, 9), 10.0)
    plan, journal, briefs = play(TARPED, 9, weather(rain), never)
    assert all(Action.LAY_TARP in actions(briefs[day]) for day in (2, 3, 4))
    assert not course(plan, journal, 10).covered
    dry = course(*play(TARPED, 9, weather(rain))[:2], 10)
    assert dry.covered
    assert dry.washed_g[-1] < 0.2 * course(plan, journal, 10).washed_g[-1]


def test_without_a_tarp_nothing_is_told_and_nothing_credited() -> None:
    plan, journal, briefs = play(OPEN, 12, weather({6: 10.0}))
    told = set().union(*map(actions, briefs.values()))
    assert not {Action.LAY_TARP, Action.LIFT_TARP} & told
    assert not course(plan, journal, 12).covered


def test_a_tarp_laid_on_the_growers_own_account_counts() -> None:
    plan = garden(TARPED)
    on = on_day(2)
    key = dated_key(TARPED.name, Action.LAY_TARP, on)
    told = brief(plan, (), forecast(at(START, 0), weather()), at(START))
    journal = (*told_entries(told, told.as_of, {}), done(key, at(on, 8), on))
    assert course(plan, journal, 3).covered


def test_before_the_journal_was_kept_the_tarp_lay_as_planned() -> None:
    plan = garden(TARPED)
    index = JournalIndex.of(())
    for day, lying in ((2, False), (3, True), (11, True), (14, False)):
        where = state_at(TARPED, index, on_day(day), once_due(plan))
        assert lies(TARPED, where, index, on_day(day)) is lying


@pytest.mark.parametrize(
    ("mm", "grams", "laid"),
    [
        (RAIN_COVER_MM + 0.1, 20 * UNBOUND_G_PER_KG, True),
        (RAIN_COVER_MM - 0.1, 20 * UNBOUND_G_PER_KG, False),
        (RAIN_COVER_MM + 0.1, 20 * UNBOUND_G_PER_KG - 0.1, False),
        (RAIN_COVER_MM + 0.1, None, False),
    ],
)
def test_afterwards_it_is_laid_only_for_rain_that_still_has_something_to_take(
    mm: float, grams: float | None, laid: bool
) -> None:
    assert BALES["two-string"].dry_mass_kg == 20
    own = replace(TARPED, plantings=())
    plan, journal, _ = play(own, 16, weather())
    on = on_day(17)
    index = JournalIndex.of(journal)
    where = state_at(own, index, on, once_due(plan))
    day = day_of(plan, own, where, on, index)

    class Known:
        def unbound_g(self, *_: object) -> float | None:
            return grams

    daily = DailyWeather(plan, forecast(at(on, 0), weather({17: mm})), at(on))
    tasks = with_tarp(day, (), daily.on(on), index, Known())  # type: ignore[arg-type]
    assert [task.action for task in tasks] == ([Action.LAY_TARP] if laid else [])
