"""A crop that a freeze would end before it is ripe is left out, told once, and not fed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.app.taking import understood
from strawbell.app.word import Word, WordKind
from strawbell.decision.brief import brief
from strawbell.model.brief import Action, Reason, ReasonCode, State, Task
from strawbell.model.details import Ending, HarvestDetail
from strawbell.model.garden import Garden, Method, Planting
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.feedings import season_feeding_due
from strawbell.season.fold import state_at
from strawbell.season.harvesting import ends_by_freeze, too_late
from strawbell.season.journal_index import JournalIndex
from strawbell.season.planting import planting as going_in
from strawbell.season.stage import last_harvest_key, standing_since
from support.gardens import RADISH, TOMATO, at, batch, forecast, garden, planting, tell
from support.planted import LETTUCE, PLANTED, after, day, over, row

FREEZE = date(2027, 10, 12)
FOLLOWER = Planting(TOMATO, 8, Method.TRANSPLANT, None, "lettuce")
BEFORE = planting(LETTUCE)
LAST_FIT = FREEZE - timedelta(days=71)
"""Tomatoes take 72 or 73 days and bear for 30: a freeze that comes late lets them pay."""


def told_freeze(freeze: date | None) -> Garden:
    """Return a garden whose grower reckons with a first freeze."""
    return garden(first_freeze_on=freeze)


def bales(on: date, freeze: date | None = FREEZE, each: Planting = FOLLOWER):
    """Return the bales on a date, free since the day before, with a crop still to come."""
    own = row(BEFORE, each)
    free = over(own, BEFORE, on - timedelta(days=1))
    return day(on, BEFORE, each, done=free, since=None, plan=told_freeze(freeze))


@pytest.mark.parametrize(("days", "late"), [(0, False), (1, True), (60, True)])
def test_it_is_too_late_once_what_is_picked_before_the_freeze_pays_for_no_plants(
    days: int, late: bool
) -> None:
    """The day before still fits."""
    on = LAST_FIT + timedelta(days=days)
    why = too_late(bales(on), FOLLOWER)
    left = float((FREEZE - on).days)
    assert why == (Reason(ReasonCode.SEASON_OVER, 72.0, left, "day") if late else None)


def test_nothing_is_too_late_where_no_freeze_is_reckoned_with() -> None:
    """The grower need not write one."""
    assert too_late(bales(date(2027, 11, 1), freeze=None), FOLLOWER) is None


def test_a_crop_that_lives_through_a_freeze_is_never_too_late() -> None:
    """Radishes are picked in November."""
    assert too_late(bales(date(2027, 10, 10)), planting(RADISH)) is None


@pytest.mark.parametrize(("days", "known"), [(0, True), (120, True), (121, False)])
def test_the_freeze_of_an_autumn_past_says_nothing_of_spring(days: int, known: bool) -> None:
    """What waits over winter is planted in spring."""
    on = FREEZE + timedelta(days=days)
    assert ends_by_freeze(told_freeze(FREEZE), TOMATO, on) == (FREEZE if known else None)


def test_what_is_too_late_is_left_out_and_not_planted() -> None:
    """It has the key of its last harvest, so the bales are free for what follows."""
    late = bales(LAST_FIT + timedelta(days=1))
    (task,) = going_in(late)
    assert (task.action, task.state) == (Action.HARVEST, State.DUE)
    assert task.key == last_harvest_key(late.batch, FOLLOWER)
    assert [why.code for why in task.reasons] == [ReasonCode.SEASON_OVER]
    (fits,) = going_in(bales(LAST_FIT))
    assert fits.action is Action.PLANT


def test_seed_that_is_left_out_wants_no_layer_of_mix() -> None:
    """Nothing goes into it."""
    sown = replace(FOLLOWER, method=Method.SEED)
    tasks = going_in(bales(date(2027, 9, 20), each=sown))
    assert [task.action for task in tasks] == [Action.HARVEST]


def test_what_still_waits_for_the_crop_before_is_not_spoken_of() -> None:
    """It may be meant for the spring."""
    standing = day(date(2027, 9, 20), BEFORE, FOLLOWER, since=None, plan=told_freeze(FREEZE))
    assert [task.crops for task in going_in(standing)] == [("lettuce",)]


def test_a_crop_left_out_is_told_once_and_then_the_bales_are_spread() -> None:
    """The morning after radishes are out it is told, and the morning after that the straw goes."""
    first = date(2027, 7, 5)
    late = Planting(TOMATO, 8, Method.TRANSPLANT, None, "radish")
    own = batch(start_on=first, plantings=(planting(RADISH, Method.SEED, 60), late))
    plan = garden(own, first_freeze_on=FREEZE)
    journal: Journal = ()
    told: list[tuple[date, Action]] = []
    for moment in (at(first + timedelta(days=number)) for number in range(90)):
        today = brief(plan, journal, forecast(moment, temperature_c=22.0), moment, whole=False)
        journal = tell(journal, today)
        told += [
            (today.on, task.action)
            for task in today.tasks
            if task.action in (Action.PLANT, Action.SPREAD)
            or task.detail == HarvestDetail(Ending.TOO_LATE)
        ]
    (left_out, one), (spread, other) = told
    assert (one, other) == (Action.HARVEST, Action.SPREAD)
    assert spread - left_out == timedelta(days=1)
    assert not [
        entry
        for entry in journal
        if entry.kind is EntryKind.TOLD and _is_feeding_after(entry, left_out)
    ]


def _is_feeding_after(entry: JournalEntry, on: date) -> bool:
    return entry.data.get("action") == Action.FEED and entry.local_date >= on


@pytest.mark.parametrize(("ahead", "fed"), [(15, True), (14, False), (-3, False)])
def test_feeding_ends_a_fortnight_before_the_freeze(ahead: int, fed: bool) -> None:
    """Tomatoes that went in on 1 May bear in July; without a freeze they would be fed on."""
    on = after(80)
    freeze = on + timedelta(days=ahead)
    assert bool(season_feeding_due(day(on, planting(), plan=told_freeze(freeze)))) is fed
    assert season_feeding_due(day(on, planting(), plan=told_freeze(None)))


def test_what_cannot_ripen_before_the_freeze_any_more_is_not_fed() -> None:
    """On 1 June, a month after planting, the first fruit is due on 5 July."""
    on = after(31)
    assert PLANTED + timedelta(days=65) == date(2027, 7, 5)
    assert not season_feeding_due(day(on, planting(), plan=told_freeze(date(2027, 7, 5))))
    assert season_feeding_due(day(on, planting(), plan=told_freeze(date(2027, 7, 6))))


def _late_batch() -> Garden:
    """Return a garden whose only crop is too late by the time its bales are ready."""
    own = batch(start_on=LAST_FIT, plantings=(planting(TOMATO),))
    return garden(own, first_freeze_on=FREEZE)


def _told_until(plan: Garden, last: date, journal: Journal = ()) -> tuple[Journal, list[Task]]:
    """Return the journal after every morning up to a date, and what was told of the crop."""
    told: list[Task] = []
    on = plan.batches[0].start_on
    while on <= last:
        if not any(entry.local_date == on and entry.kind is EntryKind.BRIEF for entry in journal):
            today = brief(plan, journal, forecast(at(on), temperature_c=22.0), at(on), whole=False)
            journal = tell(journal, today)
            told += [each for each in today.tasks if each.crops or each.action is Action.SPREAD]
        on += timedelta(days=1)
    return journal, told


def test_bales_whose_only_crop_is_too_late_are_not_spread_before_the_freeze() -> None:
    """Something quick and hardy may still go into them."""
    journal, told = _told_until(_late_batch(), FREEZE)
    assert [task.action for task in told] == [Action.HARVEST]
    _, after_it = _told_until(_late_batch(), FREEZE + timedelta(days=1), journal)
    assert [task.action for task in after_it] == [Action.SPREAD]


def test_a_crop_that_is_planted_though_it_is_too_late_counts() -> None:
    """Once the grower says so it stands in the bales, and they are not spread."""
    plan = _late_batch()
    journal, _ = _told_until(plan, LAST_FIT + timedelta(days=20))
    left_out = next(row.local_date for row in journal if row.task == "row-a-harvest-tomato-last")
    journal = tuple(row for row in journal if row.local_date <= left_out)
    said = understood(
        Word(WordKind.DONE, task="row-a-plant-tomato"),
        (plan,),
        lambda _: journal,
        at(left_out, 18),
    )
    journal = (*journal, *said.rows)
    own = plan.batches[0]
    index = JournalIndex.of(journal)
    then = state_at(plan, own, index, left_out + timedelta(days=1))
    assert standing_since(own, then, own.plantings[0]) == left_out
    _, told = _told_until(plan, FREEZE + timedelta(days=1), journal)
    assert Action.SPREAD not in [task.action for task in told]
