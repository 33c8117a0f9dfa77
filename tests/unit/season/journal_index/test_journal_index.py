"""The journal knows which work was explained before, and what was fed beyond the plan."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Action, FeedSeries, State, Task, TaskKey, WorkKind
from strawbell.model.garden import Batch
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.journal_index import (
    EXPLAINED_FOR,
    OUTAGE_BEGAN,
    OUTAGE_ENDED,
    DayLog,
    ExtraFeeding,
    JournalIndex,
)
from strawbell.season.stage import extra_key
from support.gardens import START, at, batch

TODAY = date(2027, 4, 9)
DAY = timedelta(days=1)
FEED = TaskKey("row-a", Action.FEED, day=3)
UREA = WorkKind(Action.FEED, "Urea")


def told(on: date, key: TaskKey, state: State = State.DUE, **data: object) -> JournalEntry:
    """Return the row of a task that was told."""
    at = datetime(on.year, on.month, on.day, 4, 30, tzinfo=UTC)
    return JournalEntry(
        at, "Mill", on, EntryKind.TOLD, batch="Row A", task=key.text(), state=state, data=data
    )


def explained(*rows: JournalEntry) -> dict[WorkKind, date]:
    """Return what rows explained before today."""
    return JournalIndex.of(rows).explained(TODAY)


def test_work_is_explained_on_the_day_it_was_told_first() -> None:
    later = TaskKey("row-a", Action.FEED, day=5)
    rows = (told(TODAY - 4 * DAY, FEED, feed="Urea"), told(TODAY - 2 * DAY, later, feed="Urea"))
    assert explained(*rows) == {UREA: TODAY - 4 * DAY}


def test_work_of_today_and_work_that_only_waited_is_not_explained_yet() -> None:
    assert explained(told(TODAY, FEED, feed="Urea")) == {}
    assert explained(told(TODAY - DAY, FEED, State.HELD, feed="Urea")) == {}


@pytest.mark.parametrize(("days", "known"), [(0, True), (1, False)])
def test_after_a_winter_it_is_told_anew(days: int, known: bool) -> None:
    row = told(TODAY - EXPLAINED_FOR - days * DAY, FEED, feed="Urea")
    assert (UREA in explained(row)) is known


@pytest.mark.parametrize(
    ("key", "feed", "kind"),
    [
        (FEED, "Urea", UREA),
        (
            TaskKey("a", Action.FEED, series=FeedSeries.SEASON, number=2),
            "Urea",
            WorkKind(Action.FEED, "season Urea"),
        ),
        (TaskKey("a", Action.PLANT, crop="kale"), "", WorkKind(Action.PLANT, "kale")),
        (TaskKey("a", Action.INSPECT, day=12), "", WorkKind(Action.INSPECT, "core")),
        (TaskKey("a", Action.INSPECT, on=TODAY), "", WorkKind(Action.INSPECT)),
        (TaskKey("a", Action.HARVEST, crop="kale", on=TODAY), "", WorkKind(Action.HARVEST)),
        (
            TaskKey("a", Action.HARVEST, crop="kale", last=True),
            "",
            WorkKind(Action.HARVEST, "last"),
        ),
        (TaskKey("a", Action.WATER, on=TODAY), "", WorkKind(Action.WATER)),
    ],
)
def test_work_of_one_kind_has_the_same_steps(key: TaskKey, feed: str, kind: WorkKind) -> None:
    assert key.kind(feed) == kind


ROW = batch()
DAY_8 = START + timedelta(days=7)


def extra_word(on: date, nitrogen_g: object, kind: EntryKind = EntryKind.DONE) -> JournalEntry:
    data = {"feed": "Blood meal", "feed_per_bale_g": 100.0, "nitrogen_per_bale_g": nitrogen_g}
    return JournalEntry(
        at(on, 18),
        "Orchard corner",
        on,
        kind,
        batch="Row A",
        task=extra_key("Row A", on).text(),
        data=data if kind is EntryKind.DONE else {},
    )


def extra_feedings(own: Batch, index: JournalIndex) -> tuple[ExtraFeeding, ...]:
    return index.day(own, DAY_8).extra_feedings


def test_each_date_of_extra_feed_counts_with_its_last_word() -> None:
    """A correction replaces; it does not add."""
    index = JournalIndex.of(
        (extra_word(DAY_8, 12.0), extra_word(DAY_8, 15.0), extra_word(START, 5.0))
    )
    assert [(each.on, each.nitrogen_per_bale_g) for each in extra_feedings(ROW, index)] == [
        (START, 5.0),
        (DAY_8, 15.0),
    ]


def test_a_word_of_a_later_day_about_extra_feed_leaves_it_on_its_date() -> None:
    """Taken back and given after all: the key says when it was."""
    later = replace(extra_word(DAY_8, 12.0), local_date=DAY_8 + timedelta(days=3), data={})
    rows = (extra_word(DAY_8, 12.0), replace(later, kind=EntryKind.MISSED), later)
    (extra,) = extra_feedings(ROW, JournalIndex.of(rows))
    assert (extra.on, extra.nitrogen_per_bale_g) == (DAY_8, 12.0)


def test_extra_feed_that_was_taken_back_counts_no_more() -> None:
    """The word missed about it says that it was never given."""
    index = JournalIndex.of((extra_word(DAY_8, 12.0), extra_word(DAY_8, 0.0, EntryKind.MISSED)))
    assert extra_feedings(ROW, index) == ()


def test_extra_feed_of_another_batch_or_season_or_without_a_number_does_not_count() -> None:
    """An amount that nobody wrote is unknown, not zero, and cannot be reckoned with."""
    before = extra_word(START - timedelta(days=1), 12.0)
    odd = replace(extra_word(DAY_8, 12.0), task="row-a-feed-extra-someday")
    assert extra_feedings(ROW, JournalIndex.of((odd,))) == ()
    assert extra_feedings(ROW, JournalIndex.of((before, extra_word(DAY_8, "much")))) == ()
    assert extra_feedings(batch(name="Row B"), JournalIndex.of((extra_word(DAY_8, 12.0),))) == ()


def said(on: date, *, complete: bool = True, **data: object) -> JournalEntry:
    """Return the row of the weather that a service said of a date."""
    whole = {**data, "complete": complete}
    return JournalEntry(at(on, 5), "Mill", on, EntryKind.WEATHER, data=whole)


def measured(on: date, kind: EntryKind, value: float) -> JournalEntry:
    """Return the row of a reading of the grower's own instrument."""
    return JournalEntry(at(on, 9), "Mill", on, kind, value=value)


def test_what_the_grower_measured_stands_beside_what_was_said_of_the_same_date() -> None:
    """A date of which the service said nothing, or not all, is none; what was said first counts."""
    before, earlier = TODAY - DAY, TODAY - 2 * DAY
    rows = (
        said(earlier, rain_mm=7.0, complete=False),
        said(before, low_c=5.0, rain_mm=None),
        said(TODAY, low_c=3.0, rain_mm=4.0, clear_night=True),
        said(TODAY, low_c=2.5, rain_mm=5.0),
        *(measured(on, EntryKind.LOW, low_c) for on, low_c in ((TODAY, 1.0), (before, 4.5))),
        *(measured(on, EntryKind.RAIN, 6.0) for on in (TODAY, before, earlier)),
        measured(earlier, EntryKind.LOW, 0.0),
    )
    found = JournalIndex.of(rows).readings()
    assert found.lows == ((5.0, 4.5, None), (3.0, 1.0, True))
    assert found.rains == ((4.0, 6.0),)


def test_the_journal_is_kept_from_the_first_date_of_the_season_that_was_told() -> None:
    """That date itself included; work of a season before keeps nothing of this one."""
    own, rows = batch(), (told(START - 300 * DAY, FEED), told(START + 2 * DAY, FEED))
    logs = JournalIndex.of(rows).days(own, START, START + 4 * DAY)
    assert [each.is_kept for each in logs] == [False, False, True, True]
    assert not JournalIndex.of(rows[:1]).day(own, START + 3 * DAY).is_kept


@pytest.mark.parametrize("briefed_at", [None, at(TODAY, 5)])
def test_a_projected_day_is_told_beside_what_was_told_of_it(briefed_at: datetime | None) -> None:
    """At the moment of its brief where it had one; a day without work keeps no journal."""
    water = Task(TaskKey("row-a", Action.WATER, day=2), "Row A", 6, Action.WATER, State.HELD)
    morning = DayLog(TODAY, briefed_at=briefed_at, told={FEED: State.DUE}, conditional=(FEED,))
    moment = briefed_at or at(TODAY)
    both = {FEED: State.DUE, water.key: State.HELD}
    assert morning.as_told((), at(TODAY)) == replace(morning, briefed_at=moment)
    assert morning.as_told((water,), at(TODAY)) == replace(
        morning, briefed_at=moment, told=both, conditional=(), is_kept=True
    )


@pytest.mark.parametrize(
    ("kind", "days", "at_hand"),
    [
        (EntryKind.DONE, 0, {"Urea"}),
        (EntryKind.DONE, -1, set()),
        (EntryKind.MISSED, 0, set()),
        (EntryKind.MISSED, 1, set()),
    ],
)
def test_a_feed_is_at_hand_that_was_given_since(
    kind: EntryKind, days: int, at_hand: set[str]
) -> None:
    """What was not given may still have to be bought."""
    on = TODAY + days * DAY
    word = replace(told(on, FEED, feed="Urea"), kind=kind, state=None)
    assert JournalIndex.of((word,)).feeds_at_hand(TODAY) == at_hand


@pytest.mark.parametrize(("days", "at_hand"), [(0, {"Urea"}), (-1, set())])
def test_a_feed_is_at_hand_that_was_told_since(days: int, at_hand: set[str]) -> None:
    """It was looked for then."""
    rows = (told(TODAY + days * DAY, FEED, feed="Urea"),)
    assert JournalIndex.of(rows).feeds_at_hand(TODAY) == at_hand


@pytest.mark.parametrize(
    ("days", "state", "kind", "again"),
    [
        (1, State.DUE, EntryKind.TOLD, True),
        (0, State.DUE, EntryKind.TOLD, False),
        (1, State.HELD, EntryKind.TOLD, False),
        (1, State.DUE, EntryKind.TAKEN_BACK, False),
    ],
)
def test_work_is_told_again_that_was_due_on_an_earlier_date(
    days: int, state: State, kind: EntryKind, again: bool
) -> None:
    """The figures of the row then take the place of those of the earlier day."""
    index = JournalIndex.of((told(TODAY, FEED, state),))
    row = replace(told(TODAY + days * DAY, FEED), kind=kind)
    assert index.is_told_again(row) is again
    assert not index.is_told_again(replace(row, batch=None))
    assert not index.is_told_again(replace(row, task="weed the path"))


def test_forecasts_come_until_a_row_says_that_they_stopped() -> None:
    """Other rows of the daemon's own change nothing."""
    rows = tuple(
        JournalEntry(at(START), "Mill", START, EntryKind.SERVICE, state=state)
        for state in ("clock-jump", OUTAGE_BEGAN, "clock-jump", OUTAGE_ENDED)
    )
    found = [JournalIndex.of(rows[:count]).in_outage for count in range(5)]
    assert found == [False, False, True, True, False]
