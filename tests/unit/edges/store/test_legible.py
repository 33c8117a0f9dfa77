"""A row that cannot be read is found before it stops a look at the outbox."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from strawbell.edges.store.examine import unreadable_row
from support.used_store import NAME, fill


@pytest.fixture
def used(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """Open a used store by hand, without the rules that keep a hand from harming it."""
    fill(tmp_path / NAME)
    with closing(sqlite3.connect(tmp_path / NAME, isolation_level=None)) as hand:
        triggers = hand.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for (name,) in triggers:
            hand.execute(f"DROP TRIGGER {name}")
        yield hand


def test_a_sound_store_can_be_read(used: sqlite3.Connection) -> None:
    """Nothing is said of one without a fault."""
    assert unreadable_row(used) is None


@pytest.mark.parametrize(
    "harm",
    [
        "UPDATE journal SET at = '2027-04-0q' WHERE number = 3",
        "UPDATE journal SET local_date = 'q' WHERE number = 3",
        "UPDATE journal SET kind = 'brieg' WHERE number = 3",
        "UPDATE journal SET data = x'00' WHERE number = 3",
        "UPDATE journal SET data = '{' WHERE number = 3",
        "UPDATE outbox SET expires_at = '' WHERE number = 2",
        "UPDATE outbox SET kind = 'mornimg' WHERE number = 2",
        "UPDATE bodies SET body = x'0011' WHERE unique_key = 'k1'",
    ],
)
def test_a_value_that_cannot_be_read_is_found(used: sqlite3.Connection, harm: str) -> None:
    """SQLite calls all of these sound."""
    used.execute(harm)
    assert used.execute("PRAGMA quick_check").fetchone() == ("ok",)
    assert "a row cannot be read" in str(unreadable_row(used))


def test_a_text_that_is_no_text_is_an_error_of_sqlite(used: sqlite3.Connection) -> None:
    """Who looks takes it for damage."""
    used.execute("UPDATE journal SET text = CAST(x'ff' AS TEXT) WHERE number = 3")
    with pytest.raises(sqlite3.DatabaseError, match="UTF-8"):
        unreadable_row(used)


def test_only_a_message_that_is_over_may_be_without_its_text(used: sqlite3.Connection) -> None:
    """Old texts are let go; one that waits would go out empty."""
    used.execute("UPDATE outbox SET state = 'accepted' WHERE unique_key = 'k1'")
    used.execute("DELETE FROM bodies WHERE unique_key = 'k1'")
    assert unreadable_row(used) is None
    used.execute("DELETE FROM bodies WHERE unique_key = 'k2'")
    assert unreadable_row(used) == "the text of a message is gone"
