"""The phases of a batch follow one another without a gap, as it went and as it is projected."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from msgspec.structs import replace

from strawbell.decision.brief import brief
from strawbell.decision.projection import courses, season, season_seen
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Garden, Method
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.model.season import (
    BatchCourse,
    BatchSummary,
    CropSummary,
    PhaseKind,
    SeasonSeen,
    Summary,
)
from strawbell.season.journal_index import JournalIndex
from support.gardens import (
    RADISH,
    START,
    TOMATO,
    at,
    batch,
    done,
    forecast,
    garden,
    on_day,
    planting,
    tell_whole,
)
from support.keys import key_of

WISHED = START + timedelta(days=20)
PLAN = garden(batch(plantings=(replace(planting(TOMATO), plant_on=WISHED),)))
TWICE = garden(
    batch(
        plantings=(
            planting(RADISH, Method.SEED),
            replace(planting(RADISH, Method.SEED), follows="radish"),
        )
    )
)


def seen(on: date, plan: Garden = PLAN, journal: Journal = ()) -> SeasonSeen:
    """Return the season as it is shown on a morning with mild dry weather."""
    moment = at(on)
    known = forecast(moment)
    return season_seen(plan, journal, known, moment, brief(plan, journal, known, moment))


def only(found: SeasonSeen) -> BatchCourse:
    """Return the course of the only batch."""
    (course,) = found.courses
    return course


@pytest.mark.parametrize("days", [0, 5, 40, 100])
def test_phases_follow_one_another_whenever_it_is_asked(days: int) -> None:
    """Conditioning, waiting, growing, picking; then the straw is spread."""
    course = only(seen(START + timedelta(days=days)))
    kinds = [each.kind for each in course.phases]
    assert kinds == [
        PhaseKind.CONDITIONING,
        PhaseKind.WAITING,
        PhaseKind.GROWING,
        PhaseKind.PICKING,
    ]
    assert course.phases[0].first == START
    assert all(
        later.first - before.last == timedelta(days=1) for before, later in pairwise(course.phases)
    )
    assert course.phases[2].first == WISHED
    assert course.spread_on is not None
    assert course.spread_on > course.phases[-1].last
    assert course.ends_on == course.spread_on


def test_what_is_still_to_come_is_projected() -> None:
    """By the date that is asked about."""
    early = [each.projected for each in only(seen(START + timedelta(days=5))).phases]
    late = [each.projected for each in only(seen(START + timedelta(days=40))).phases]
    assert early == [True] * 4
    assert late == [False, False, True, True]


def test_a_crop_that_comes_twice_keeps_its_lane_and_its_number() -> None:
    """The second sowing begins after the first is over."""
    phases = only(seen(START, TWICE)).phases
    labels = [each.label for each in phases if each.label]
    assert labels == ["radish", "radish", "radish 2", "radish 2"]
    first_over = max(each.last for each in phases if each.label == "radish")
    assert min(each.first for each in phases if each.label == "radish 2") > first_over


def test_a_recorded_last_harvest_ends_the_picking_that_day() -> None:
    """It is no projection any more."""
    on = START + timedelta(days=42)
    word = done(key_of("row-a-harvest-radish-last"), at(on, 18), on)
    phases = only(seen(on + timedelta(days=1), TWICE, (word,))).phases
    ends = [(each.last, each.projected) for each in phases if each.label == "radish"]
    assert ends[-1] == (on, False)


def test_a_first_harvest_that_was_noted_begins_the_picking() -> None:
    """Even before it was told."""
    on = START + timedelta(days=38)
    row = JournalEntry(
        at(on, 18), PLAN.name, on, EntryKind.HARVEST, "Row A", value=1.0, text="tomato"
    )
    phases = only(seen(on + timedelta(days=5), PLAN, (row,))).phases
    (picking,) = [each for each in phases if each.kind is PhaseKind.PICKING]
    assert picking.first == on


def test_planned_feedings_begin_today() -> None:
    """What was given before is not planned."""
    course = only(seen(on_day(5)))
    assert course.planned_feedings[:2] == (on_day(5), on_day(7))


def test_a_batch_without_plantings_waits_to_its_last_known_day() -> None:
    """Nothing is invented for it."""
    phases = only(seen(START, garden())).phases
    assert [each.kind for each in phases][:1] == [PhaseKind.CONDITIONING]
    assert all(not each.label for each in phases)


def test_the_weather_is_as_each_morning_expected_it_and_the_forecast_ahead() -> None:
    """A day without a brief is not in it; nor are days before the season."""
    journal: Journal = ()
    for day in (1, 3):
        moment = at(on_day(day))
        journal = tell_whole(journal, PLAN, forecast(moment, temperature_c=float(day)), moment)
    found = seen(on_day(4), PLAN, journal)
    assert found.weather[on_day(1)].high_c == 1.0
    assert on_day(2) not in found.weather
    assert found.weather[on_day(4)].high_c == 14.0
    assert max(found.weather) == on_day(11)
    assert all(each != DayWeather() for each in found.weather.values())


def gone(
    planted_day: int, picked_day: int | None, over_day: int | None, today: int = 150
) -> BatchCourse:
    """Return the course of a batch conditioned through day 12, all days from its start."""

    def dated(day: int | None) -> date | None:
        return None if day is None else START + timedelta(days=day)

    crop = CropSummary(
        "tomato", "tomato", dated(planted_day), dated(picked_day), over_on=dated(over_day)
    )
    bales = BatchSummary("Row A", 6, START, conditioned_on=dated(12), crops=(crop,))
    asked = START + timedelta(days=today)
    (course,) = courses(PLAN, (), Summary(PLAN.name, START, asked, START, 0, (), (bales,)), asked)
    return course


def went(
    planted_day: int, picked_day: int | None = None, over_day: int | None = None
) -> list[tuple[PhaseKind, int, int]]:
    """Return the phases of that batch as days from its start."""
    return [
        (each.kind, (each.first - START).days, (each.last - START).days)
        for each in gone(planted_day, picked_day, over_day).phases
    ]


@pytest.mark.parametrize(
    ("today", "projected"),
    [
        (12, [True, True, True]),
        (13, [False, True, True]),
        (19, [False, True, True]),
        (20, [False, False, True]),
        (59, [False, False, True]),
        (60, [False, False, False]),
    ],
)
def test_a_phase_is_projected_up_to_its_last_day(today: int, projected: list[bool]) -> None:
    """Conditioning to day 12, waiting to 19, growing to 59; the picking is over by the journal."""
    assert [each.projected for each in gone(20, 60, 90, today).phases] == [*projected, False]


@pytest.mark.parametrize(("planted_day", "waited"), [(13, []), (14, [(13, 13)]), (15, [(13, 14)])])
def test_bales_wait_from_the_day_after_conditioning_to_the_day_before_planting(
    planted_day: int, waited: list[tuple[int, int]]
) -> None:
    """Planted at once they do not wait at all."""
    phases = went(planted_day, 60, 90)
    assert [each[1:] for each in phases if each[0] is PhaseKind.WAITING] == waited


def test_a_crop_that_was_over_before_its_first_picking_only_grew() -> None:
    """Killed by a freeze on day 40; one that was never told as ripe, too."""
    grew = [(PhaseKind.GROWING, 20, 40)]
    assert went(20, 60, 40)[2:] == went(20, None, 40)[2:] == grew


@pytest.mark.parametrize(
    ("picked_day", "phases"),
    [
        (20, [(PhaseKind.PICKING, 20, 40)]),
        (21, [(PhaseKind.GROWING, 20, 20), (PhaseKind.PICKING, 21, 40)]),
        (40, [(PhaseKind.GROWING, 20, 39), (PhaseKind.PICKING, 40, 40)]),
    ],
)
def test_growing_ends_on_the_day_before_the_first_picking(
    picked_day: int, phases: list[tuple[PhaseKind, int, int]]
) -> None:
    """What is picked on the day it is planted does not grow before; the last day is a day."""
    assert went(20, picked_day, 40)[2:] == phases


@pytest.mark.parametrize("days", [0, 5])
def test_bales_without_a_crop_end_with_the_last_work_on_them(days: int) -> None:
    """Nobody has said what becomes of them then."""
    on = START + timedelta(days=days)
    bare = garden(batch(plantings=()))
    course = only(seen(on, bare))
    told = [day.on for day in season(bare, JournalIndex(), forecast(at(on)), at(on)) if day.tasks]
    assert course.spread_on is None
    assert course.ends_on == max(told) > START
