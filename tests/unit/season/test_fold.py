"""What a batch remembers: what was done, what was missed, and what a freeze has killed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.decision.brief import brief
from strawbell.model.brief import Action, Brief, State, TaskKey
from strawbell.model.details import Ending, HarvestDetail, PlantDetail
from strawbell.model.garden import Batch, Garden, Method, Planting, RainCover
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.fold import state_at
from strawbell.season.journal_index import JournalIndex
from strawbell.season.stage import (
    BatchState,
    dated_key,
    frozen_now,
    last_harvest_key,
    planted_on,
    planting_key,
)
from support.gardens import TOMATO, at, batch, forecast, garden, planting, tell, word
from support.keys import key_of
from support.planted import BEAN, CUCUMBER, LETTUCE
from support.planted import row as row_of

IN = date(2027, 5, 10)
CUCUMBERS = replace(planting(CUCUMBER), plant_on=IN)
"""They climb: their trellis is told long after they went in."""
ROW = row_of(CUCUMBERS)
PLANT, LAST = planting_key(ROW, CUCUMBERS), last_harvest_key(ROW, CUCUMBERS)
SUPPORT = key_of("row-a-support-cucumber")


def told(
    on: date, key: TaskKey | str, state: State = State.DUE, hour: int = 6
) -> tuple[JournalEntry, ...]:
    """Return the brief of a date, told at half past some hour, with one task."""
    moment = at(on, hour)
    whole = JournalEntry(moment, "Orchard corner", on, EntryKind.BRIEF)
    kind, name = EntryKind.TOLD, "Orchard corner"
    return (whole, JournalEntry(moment, name, on, kind, "Row A", str(key), state.value))


def briefs(
    first: date, days: int, lows: Mapping[date, float] | None = None
) -> tuple[JournalEntry, ...]:
    """Return briefs without work for this batch, mild but for the dates in `lows`."""
    rows = []
    for number in range(days):
        on = first + timedelta(days=number)
        low_c = (lows or {}).get(on, 8.0)
        kept = {"low_c": low_c, "high_c": low_c + 8.0, "rain_mm": 0.0, "complete": True}
        whole = JournalEntry(at(on), "Orchard corner", on, EntryKind.BRIEF, data={"weather": kept})
        rows.append(whole)
    return tuple(rows)


def where(on: date, *rows: JournalEntry, own: Batch = ROW) -> BatchState:
    """Return where the batch stands at the beginning of a date by the journal's rows."""
    journal = sorted(rows, key=lambda entry: entry.at)
    return state_at(garden(own), own, JournalIndex.of(tuple(journal)), on)


def planted(own: Batch = ROW, on: date = IN) -> tuple[JournalEntry, ...]:
    """Return that everything of a batch was told to go in on a date."""
    keys = [planting_key(own, each) for each in own.plantings]
    return tuple(entry for key in keys for entry in told(on, key))


def low(on: date, low_c: float | None, *, days: int = 40) -> tuple[JournalEntry, ...]:
    """Return the briefs of the weeks after planting, one of them with a low."""
    return briefs(IN + timedelta(days=1), days, {} if low_c is None else {on: low_c})


def day(number: int) -> date:
    """Return the date so many days after planting."""
    return IN + timedelta(days=number)


# What was said.


@pytest.mark.parametrize(
    ("said_on", "hour", "open_on"),
    [
        (day(20), 12, day(21)),  # at noon of the day it was told
        (day(21), 5, day(21)),  # early the next morning, before its brief
        (day(21), 12, day(22)),  # after that brief was told without it
    ],
)
def test_work_recorded_as_missed_is_due_again_the_very_next_morning(
    said_on: date, hour: int, open_on: date
) -> None:
    """The next brief that is told tells it."""
    missed = word(EntryKind.MISSED, SUPPORT, at(said_on, hour, 0), said_on)
    rows = (*planted(), *told(day(20), SUPPORT), *told(day(21), "row-a-water-2027-05-31"), missed)
    assert SUPPORT not in where(open_on, *rows).done
    if said_on == day(21):
        earlier = (*planted(), *told(day(20), SUPPORT))
        assert SUPPORT in where(day(21), *earlier).done


def test_a_missed_word_on_a_day_without_a_brief_is_heard_that_day() -> None:
    """Nothing was told yet that it could be about."""
    missed = word(EntryKind.MISSED, SUPPORT, at(day(21), 12), day(21))
    assert SUPPORT not in where(day(21), *planted(), *told(day(20), SUPPORT), missed).done


def test_what_was_told_again_after_a_missed_word_counts_as_done() -> None:
    """The word of that morning was about the day before."""
    missed = word(EntryKind.MISSED, SUPPORT, at(day(21), 5, 0), day(21))
    rows = (*planted(), *told(day(20), SUPPORT), missed, *told(day(21), SUPPORT))
    assert where(day(22), *rows).done[SUPPORT] == day(21)


def test_the_last_word_of_a_day_stands() -> None:
    """Missed, then done after all."""
    missed = word(EntryKind.MISSED, SUPPORT, at(day(20), 12), day(20))
    done = word(EntryKind.DONE, SUPPORT, at(day(20), 18), day(20))
    rows = (*planted(), *told(day(20), SUPPORT))
    assert SUPPORT in where(day(21), *rows, missed, done).done
    taken_back = word(EntryKind.MISSED, SUPPORT, at(day(20), 19), day(20))
    assert SUPPORT not in where(day(21), *rows, done, taken_back).done


def test_a_word_about_another_batch_changes_nothing() -> None:
    """Keys may look alike; the batch is named."""
    missed = replace(word(EntryKind.MISSED, SUPPORT, at(day(21), 5, 0), day(21)), batch="Row B")
    assert SUPPORT in where(day(21), *planted(), *told(day(20), SUPPORT), missed).done


def test_what_was_told_and_missed_on_the_same_day_is_shown_as_missed() -> None:
    """By the brief of that same day."""
    own = batch(plantings=(planting(TOMATO),))
    plan = garden(own)
    on, now = _morning_of(plan, Action.PLANT)
    journal = tell((), brief(plan, (), forecast(now), now))
    missed = word(EntryKind.MISSED, key_of("row-a-plant-tomato"), now + timedelta(hours=3), on)
    again = brief(plan, (*journal, missed), forecast(now), now + timedelta(hours=4))
    assert _state_of(again, key_of("row-a-plant-tomato")) is State.MISSED
    tomorrow = now + timedelta(days=1)
    next_day = brief(plan, (*journal, missed), forecast(tomorrow), tomorrow)
    assert _state_of(next_day, key_of("row-a-plant-tomato")) is State.DUE


def _morning_of(plan: Garden, action: Action) -> tuple[date, datetime]:
    """Return the first morning on which the plan has some work due."""
    on = plan.batches[0].start_on
    while True:
        now = at(on)
        if any(task.action is action for task in brief(plan, (), forecast(now), now).tasks):
            return on, now
        on += timedelta(days=1)


def _state_of(today: Brief, key: TaskKey) -> State:
    return next(task.state for task in today.tasks if task.key == key)


def test_held_work_is_counted_and_not_done() -> None:
    """Two days of waiting."""
    rows = (*told(day(0), PLANT, State.HELD), *told(day(1), PLANT, State.HELD))
    found = where(day(2), *rows)
    assert found.held[PLANT] == 2
    assert PLANT not in found.done


def test_a_last_harvest_recorded_before_it_was_told_ends_the_crop() -> None:
    """From the next day on."""
    pulled = word(EntryKind.DONE, LAST, at(day(15), 12), day(15))
    rows = (*planted(), *low(day(1), None, days=20), pulled)
    assert where(day(16), *rows).done[LAST] == day(15)


# What a freeze has killed.


@pytest.mark.parametrize(("low_c", "alive"), [(0.1, True), (0.0, False), (-3.0, False)])
def test_a_young_tender_crop_does_not_live_through_a_freeze(low_c: float, alive: bool) -> None:
    """At its killing temperature it counts as not planted from the next day on."""
    rows = (*planted(), *low(day(6), low_c))
    assert planted_on(ROW, where(day(6), *rows), CUCUMBERS) == IN
    found = where(day(7), *rows)
    assert (planted_on(ROW, found, CUCUMBERS) == IN) is alive
    assert (frozen_now(ROW, found, CUCUMBERS) is None) is alive


def test_the_freeze_of_the_planting_day_was_before_planting() -> None:
    """Lows come in the morning."""
    own = ROW
    rows = (*briefs(IN, 3, {IN: -2.0}), *planted())
    assert planted_on(own, where(day(2), *rows), CUCUMBERS) == IN


@pytest.mark.parametrize(("age", "stands"), [(17, False), (18, True)])
def test_what_is_old_enough_to_be_picked_stands_until_it_is_cleared(age: int, stands: bool) -> None:
    """Half of its 36 days; there may be something to save."""
    rows = (*planted(), *low(day(age), -1.0))
    found = where(day(age + 1), *rows)
    assert (planted_on(ROW, found, CUCUMBERS) == IN) is stands
    frozen = frozen_now(ROW, found, CUCUMBERS)
    assert frozen is not None
    assert frozen.young is not stands


@pytest.mark.parametrize(("low_c", "alive"), [(-3.3, True), (-3.34, False)])
def test_a_hardy_crop_is_held_against_its_own_limit(low_c: float, alive: bool) -> None:
    """Lettuce stands 26 F."""
    own = row_of(replace(planting(LETTUCE), plant_on=IN))
    found = where(day(7), *planted(own), *low(day(6), low_c), own=own)
    assert (frozen_now(own, found, own.plantings[0]) is None) is alive


@pytest.mark.parametrize("changes", [{"kill_at_c": None}, {"name": "potato"}])
def test_what_regrows_or_has_no_known_limit_is_not_given_up(changes: dict[str, object]) -> None:
    """Potatoes come again from below."""
    own = row_of(replace(CUCUMBERS, crop=replace(CUCUMBER, **changes)))  # type: ignore[arg-type]
    found = where(day(7), *planted(own), *low(day(6), -5.0), own=own)
    assert found.frozen == {}


@pytest.mark.parametrize(("age", "safe"), [(11, True), (12, False)])
def test_seed_below_the_surface_is_safe(age: int, safe: bool) -> None:
    """Beans take 11 days in a bed of 20 degC, which is 3 over the air; the first is unknown."""
    own = row_of(replace(planting(BEAN, Method.SEED), plant_on=IN))
    lows = {day(number): 13.0 for number in range(age)} | {day(age): -1.0}
    found = where(day(age + 1), *planted(own), *briefs(day(1), 30, lows), own=own)
    assert (found.frozen == {}) is safe


def test_an_unknown_low_kills_nothing() -> None:
    """Missing is not cold."""
    kept = {"weather": {"low_c": None, "high_c": 3.0, "complete": False}}
    unknown = JournalEntry(at(day(6)), "Orchard corner", day(6), EntryKind.BRIEF, data=kept)
    assert where(day(7), *planted(), unknown).frozen == {}


def test_what_is_planted_again_lives() -> None:
    """From its new date on."""
    rows = (*planted(), *low(day(3), -1.0), *told(day(8), PLANT))
    found = where(day(9), *rows)
    assert planted_on(ROW, found, CUCUMBERS) == day(8)
    assert frozen_now(ROW, found, CUCUMBERS) is None


def test_a_second_freeze_kills_what_was_planted_again() -> None:
    """And it is planted a third time."""
    lows = {day(each): -1.0 for each in (3, 12)}
    rows = (*planted(), *briefs(day(1), 30, lows), *told(day(8), PLANT))
    found = where(day(13), *rows)
    assert planted_on(ROW, found, CUCUMBERS) is None
    frozen = frozen_now(ROW, found, CUCUMBERS)
    assert frozen is not None
    assert frozen.since == day(8)


def test_a_crop_dies_in_the_first_freeze_and_not_again_in_the_next() -> None:
    """What is told of it stays the same."""
    once, twice = (
        frozen_now(ROW, where(day(15), *planted(), *briefs(day(1), 14, lows)), CUCUMBERS)
        for lows in ({day(3): -1.0}, {day(3): -1.0, day(12): -2.0})
    )
    assert once is not None
    assert twice == once
    assert once.on == day(3)


@pytest.mark.parametrize("age", [6, 25])
def test_clearing_recorded_as_missed_means_that_the_crop_lives(age: int) -> None:
    """It stands again since it was planted, young or not."""
    lives = word(EntryKind.MISSED, LAST, at(day(age + 1), 12), day(age + 1))
    rows = (*planted(), *low(day(age), -1.0), *told(day(age + 1), LAST), lives)
    found = where(day(age + 2), *rows)
    assert planted_on(ROW, found, CUCUMBERS) == IN
    assert frozen_now(ROW, found, CUCUMBERS) is None
    assert LAST not in found.done


def test_a_crop_that_is_over_freezes_no_more() -> None:
    """Nobody clears it twice."""
    rows = (*planted(), *told(day(30), LAST), *low(day(33), -4.0))
    assert where(day(34), *rows).frozen == {}


def test_a_tender_crop_killed_in_spring_is_told_to_be_planted_again_and_why() -> None:
    """Bales that are ready are not spread; the dead are neither watered nor covered."""
    plan = garden(ROW)
    rows = sorted((*planted(), *low(day(3), -1.0)), key=lambda entry: entry.at)
    now = at(day(4))
    before = tuple(entry for entry in rows if entry.local_date < day(4))
    today = brief(plan, before, forecast(now), now)
    (again,) = [task for task in today.tasks if task.key == PLANT]
    assert again.state is State.DUE
    assert isinstance(again.detail, PlantDetail)
    assert again.detail.again
    actions = {task.action for task in today.tasks}
    assert not actions & {Action.SPREAD, Action.HARVEST, Action.SURFACE_WATER}


def test_what_is_planted_again_waits_for_the_next_frost_to_pass() -> None:
    """The frost of the forecast holds it as it holds any planting."""
    plan = garden(ROW)
    rows = sorted((*planted(), *low(day(3), -1.0)), key=lambda entry: entry.at)
    now = at(day(4))
    before = tuple(entry for entry in rows if entry.local_date < day(4))
    today = brief(plan, before, forecast(now, temperature_c=0.4), now)
    assert _state_of(today, PLANT) is State.HELD


def _in_autumn(own: Planting) -> tuple[Batch, tuple[JournalEntry, ...]]:
    into = date(2027, 9, 20)
    own = replace(own, plant_on=into)
    late = row_of(own, start_on=date(2027, 9, 1))
    key = planting_key(late, own)
    freeze = into + timedelta(days=9)
    return late, (*told(into, key), *briefs(into + timedelta(days=1), 12, {freeze: -2.0}))


def test_a_young_crop_killed_in_autumn_is_cleared_and_its_bales_are_spread() -> None:
    """It is too late in the year to plant again."""
    late, rows = _in_autumn(CUCUMBERS)
    plan = garden(late)
    now = at(date(2027, 9, 30))
    journal = tuple(entry for entry in rows if entry.local_date < date(2027, 9, 30))
    today = brief(plan, journal, forecast(now), now)
    (last,) = [task for task in today.tasks if task.action is Action.HARVEST]
    assert last.key == LAST
    assert last.detail == HarvestDetail(Ending.KILLED)
    assert Action.PLANT not in {task.action for task in today.tasks}
    journal = tell(journal, today)
    tomorrow = now + timedelta(days=1)
    following = brief(plan, journal, forecast(tomorrow), tomorrow)
    assert {task.action for task in following.tasks} == {Action.SPREAD}


def test_no_tarp_lies_before_one_was_told() -> None:
    """Nobody has laid it."""
    own = row_of(CUCUMBERS, rain_cover=RainCover.TARP)
    assert not where(own.start_on, own=own).tarped
    assert not where(own.start_on + timedelta(days=3), *briefs(own.start_on, 3), own=own).tarped


def test_a_tarp_lies_from_the_day_it_was_told_until_it_is_lifted() -> None:
    """In silence what was told is done; missed, it was not."""
    own = row_of(CUCUMBERS, rain_cover=RainCover.TARP)
    on = own.start_on
    laid = dated_key(own.name, Action.LAY_TARP, on)
    lifted = dated_key(own.name, Action.LIFT_TARP, on + timedelta(days=3))
    rows = (*told(on, laid), *told(on + timedelta(days=3), lifted))
    tarped = [where(on + timedelta(days=days), *rows, own=own).tarped for days in range(6)]
    assert tarped == [False, True, True, True, False, False]
    missed = word(EntryKind.MISSED, laid, at(on, 18), on)
    assert not where(on + timedelta(days=1), *rows, missed, own=own).tarped
