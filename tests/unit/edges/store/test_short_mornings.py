"""What keeps a morning short in the store: of a brief its weather alone, of messages the open."""

from __future__ import annotations

import sqlite3
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.identity import KeptNames
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import NoticeKind, OutboxRow, OutboxState

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
TODAY = date(2027, 4, 9)
WEATHER = {"low_c": 3.5, "rain_mm": 0.0}
PREPARING = [{"batches": ["Row A"], "steps": ["feed"]}]
PLANNED = {"weather": WEATHER, "preparing": PREPARING, "week": {"told_on": "2027-04-09"}}
BRIEF = JournalEntry(
    NOW,
    "Orchard corner",
    TODAY,
    EntryKind.BRIEF,
    data={**PLANNED, "text": "how to " * 500},
)


def message(key: str) -> OutboxRow:
    return OutboxRow(
        unique_key=key,
        channel="email",
        recipient="grower@example.org",
        message_id=f"<{key}@strawbell.invalid>",
        body=b"Subject: feed",
        subject="feed",
        garden="Orchard corner",
        local_date=TODAY,
        kind=NoticeKind.MORNING,
        state=OutboxState.DUE,
        attempts=0,
        created_at=NOW,
        next_attempt_at=NOW,
        expires_at=NOW + timedelta(hours=13),
    )


def test_the_planner_reads_of_a_brief_only_what_later_mornings_rest_on(tmp_path: Path) -> None:
    with SqliteStore(tmp_path / "store.db", NOW, owner=True) as store:
        store.write([BRIEF])
        (read,), _ = store.planners_rows("Orchard corner", 0)
        assert read.data == PLANNED
        assert store.journal("Orchard corner")[0].data == BRIEF.data


def test_a_store_of_the_layout_before_gets_the_weather_of_its_briefs_out_of_them(
    tmp_path: Path,
) -> None:
    path = tmp_path / "store.db"
    with SqliteStore(path, NOW, owner=True) as store:
        store.write([BRIEF])
    with sqlite3.connect(path) as hand:
        for statement in (
            "ALTER TABLE journal DROP COLUMN planned",
            "DROP TABLE checkpoints",
            "DROP INDEX outbox_of_garden",
            "DROP INDEX outbox_unsurfaced",
            "PRAGMA user_version = 5",
        ):
            hand.execute(statement)
    hand.close()
    with SqliteStore(path, NOW, owner=True) as store:
        (read,), _ = store.planners_rows("Orchard corner", 0)
        assert read.data == PLANNED
        assert store.journal("Orchard corner")[0].data == BRIEF.data
    with sqlite3.connect(path) as hand, pytest.raises(sqlite3.IntegrityError, match="append-only"):
        hand.execute("UPDATE journal SET planned = NULL")
    hand.close()


def test_what_was_laid_by_under_other_names_is_not_taken_up(tmp_path: Path) -> None:
    with SqliteStore(tmp_path / "store.db", NOW, owner=True) as store:
        store.save_checkpoint("Orchard corner", 3, b"x")
        names = KeptNames({"Old orchard": "Orchard corner"}, {"Old orchard": {"Row B": "Row A"}})
        store.call(names)
        assert store.checkpoint("Old orchard") is None


def steps_of_a_look(store: SqliteStore) -> int:
    """Return how many hundred steps SQLite takes to look for due messages."""
    steps = 0

    def count() -> int:
        nonlocal steps
        steps += 1
        return 0

    store._connection.set_progress_handler(count, 100)
    store.due(NOW, ["email"])
    store._connection.set_progress_handler(None, 0)
    return steps


def test_messages_that_came_to_their_end_cost_no_later_look(tmp_path: Path) -> None:
    """And one that is still open behind a thousand of them is found."""
    with SqliteStore(tmp_path / "store.db", NOW, owner=True) as store:
        store.enqueue([message(f"k{number}") for number in range(1000)])
        with store.together():
            for number in range(999):
                store.move(
                    f"k{number}",
                    OutboxState.EXPIRED,
                    attempts=0,
                    next_attempt_at=NOW,
                    detail="",
                )
        first, second = steps_of_a_look(store), steps_of_a_look(store)
        assert first > 50
        assert second < first / 10
        assert [row.unique_key for row in store.due(NOW, ["email"])] == ["k999"]
