"""The journal knows which work was explained before, so that steps are told once."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from strawbell.model.brief import Action, FeedSeries, State, TaskKey, WorkKind
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.journal_index import EXPLAINED_FOR, JournalIndex

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
