"""The scoreboard: three policies on the same weather, and what the advice was worth."""

from __future__ import annotations

import dataclasses
from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.model.journal import EntryKind
from support.gardens import START, TIMES, batch, garden, planting
from support.recorded_weather import mild_weather
from tests.value.board import (
    MEASURES,
    Season,
    by_place,
    score,
    scoreboard,
    season_from,
    starting,
    starts_in,
    told_season,
    value_of,
)
from tests.value.measures import Measures
from tests.value.verification import Contingency

PLAN = garden(times=replace(TIMES, watch_every_min=360))
DAYS = 24


def day(number: int) -> date:
    """Return the date of a day of the schedule."""
    return START + timedelta(days=number - 1)


def played(skill: str = "perfect", **weather: object) -> Season:
    """Return the one season of the plan."""
    (season,) = season_from(PLAN, mild_weather(**weather), "here", START, skill, 1, DAYS)  # type: ignore[arg-type]
    return season


def test_in_fair_weather_all_three_do_the_same() -> None:
    """Nothing to gain, so no value, and no hold."""
    season = played()
    plain = season.calendar
    assert plain == dataclasses.replace(
        season.strawbell,
        messages_per_week=plain.messages_per_week,
        washed_low_g=plain.washed_low_g,
        washed_high_g=plain.washed_high_g,
    )
    # The can of a morning is filled to the litre; a tenth of a gram may run through.
    assert season.strawbell.washed_low_g == pytest.approx(plain.washed_low_g, abs=0.2)
    board = scoreboard([season])
    values = {each.measure.name: each.value for each in board.scores}
    assert values["fed_before_rain"] is values["fed_on_freeze"] is values["days_to_ready"] is None
    assert board.holds == Contingency(rightly_given=7)


def test_a_known_downpour_is_all_gained() -> None:
    """The calendar feeds into it, Strawbell and the oracle do not."""
    season = played(rain_mm={day(3): 40.0})
    figures = [each.fed_before_rain for each in (season.calendar, season.strawbell, season.oracle)]
    assert figures == [1, 0, 0]
    assert season.holds.hits >= 1
    assert season.holds.misses == 0
    found = {each.measure.name: each.value for each in scoreboard([season]).scores}
    assert found["fed_before_rain"] == 1.0


def test_a_freeze_that_persistence_cannot_see_is_fed_into() -> None:
    """A miss, and nothing gained in that measure."""
    season = played("persistence", low_c={day(4): -3.0})
    assert season.holds.misses == 1
    assert season.strawbell.fed_on_freeze == season.calendar.fed_on_freeze == 1
    found = {each.measure.name: each.value for each in scoreboard([season]).scores}
    assert found["fed_on_freeze"] == 0.0


def test_the_same_seed_gives_the_same_season_and_another_one_other_errors() -> None:
    """With forecasts wrong as usual."""
    rain = {day(number): 11.0 for number in range(1, 20, 2)}
    assert played("usual", rain_mm=rain) == played("usual", rain_mm=rain)


@pytest.mark.parametrize(
    ("calendar", "strawbell", "oracle", "value"),
    [
        (10.0, 10.0, 4.0, 0.0),
        (10.0, 4.0, 4.0, 1.0),
        (10.0, 7.0, 4.0, 0.5),
        (10.0, 13.0, 4.0, -0.5),
        (10.0, 7.0, 10.0, None),
        (10.0, 7.0, 12.0, None),
        (0.0, 0.0, 0.0, None),
    ],
)
def test_the_value_is_what_was_gained_of_what_there_was(
    calendar: float, strawbell: float, oracle: float, value: float | None
) -> None:
    """And none where the oracle gains nothing either: not nought, not one."""
    assert value_of(calendar, strawbell, oracle) == value


def season_of(calendar: float | None, strawbell: float | None, oracle: float | None) -> Season:
    """Return a season of which only the dry hours matter."""

    def figures(dry_top_h: float | None) -> Measures:
        return Measures(7, 300.0, 0.0, 10.0, 0, 0, 0, 12, dry_top_h, 0, 7.0)

    three = map(figures, (calendar, strawbell, oracle))
    return Season("here", "Orchard corner", "Row A", START, *three, Contingency(), 0)


DRY_TOP = next(each for each in MEASURES if each.name == "dry_top")


def test_the_value_is_of_the_means_not_the_mean_of_the_values() -> None:
    """A season with little to gain weighs little; one that nobody knows whole is left out."""
    seasons = [
        season_of(100.0, 50.0, 0.0),
        season_of(2.0, 4.0, 0.0),
        season_of(None, 0.0, 0.0),
        season_of(9.0, None, 0.0),
    ]
    found = score(DRY_TOP, seasons)
    assert (found.seasons, found.calendar, found.strawbell, found.oracle) == (2, 51.0, 27.0, 0.0)
    assert found.value == pytest.approx(24.0 / 51.0)


def test_the_worst_season_is_named_where_it_was_worse_than_the_calendar() -> None:
    """Otherwise there is none."""
    good, bad = season_of(100.0, 50.0, 0.0), season_of(2.0, 4.0, 0.0)
    found = score(DRY_TOP, [good, bad])
    assert (found.worse, found.worst) == (1, bad)
    assert score(DRY_TOP, [good]).worst is None


def test_a_measure_nobody_knows_has_no_figures() -> None:
    """Bales without plants have no dry seed bed."""
    found = score(DRY_TOP, [season_of(None, None, None)])
    assert (found.seasons, found.calendar, found.value) == (0, None, None)


def test_places_have_scoreboards_of_their_own() -> None:
    """In the order they came."""
    seasons = [
        dataclasses.replace(season_of(1.0, 1.0, 0.0), place=place) for place in ("b", "a", "b")
    ]
    boards = by_place(seasons)
    assert [(place, board.seasons) for place, board in boards.items()] == [("b", 2), ("a", 1)]


def test_a_garden_is_moved_whole() -> None:
    """The second batch keeps its distance, and so does a wished planting day."""
    later = batch(
        name="Row B",
        start_on=START + timedelta(days=9),
        plantings=(replace(planting(), plant_on=START + timedelta(days=30)),),
    )
    moved = starting(garden(batch(), later), date(2014, 3, 1))
    first, second = moved.batches
    assert (first.start_on, second.start_on) == (date(2014, 3, 1), date(2014, 3, 10))
    assert second.plantings[0].plant_on == date(2014, 3, 31)


def test_starts_are_those_of_spring_with_a_whole_season_after_them() -> None:
    """The record of the tests runs from 31 March to the middle of June 2027."""
    weather = mild_weather()
    found = starts_in(weather, 47.0, days=30)
    assert found == (
        date(2027, 4, 10),
        date(2027, 4, 20),
        date(2027, 4, 30),
        date(2027, 5, 10),
        date(2027, 5, 20),
    )
    assert starts_in(weather, -33.0, days=30) == ()


def test_the_season_is_told_by_the_cycle_of_the_daemon() -> None:
    """Every date has its brief in the journal, and nothing was sent."""
    last = day(10)
    store, messages = told_season(PLAN, mild_weather(), (START, last), "perfect", 1)
    rows = store.journal(PLAN.name)
    briefs = [row.local_date for row in rows if row.kind is EntryKind.BRIEF]
    assert briefs == [day(number) for number in range(1, 11)]
    assert messages >= 10
    assert not any(row.kind is EntryKind.DELIVERY for row in rows)
