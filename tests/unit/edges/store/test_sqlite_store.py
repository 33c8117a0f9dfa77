"""What threads that share a store may do to each other's questions."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from strawbell.edges.store.sqlite_store import SqliteStore
from support.queued import queued

NOW = datetime(2027, 4, 9, 6, tzinfo=UTC)


def test_a_message_that_comes_while_others_are_looked_for_is_not_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A morning written between two questions of the sender would wait until the next start."""
    coming = [queued(number, NOW, 10) for number in range(3)]
    with SqliteStore(tmp_path / "strawbell.db", NOW, owner=True) as store:
        read = store._read

        def interrupted(sql: str, values: tuple[object, ...]) -> list[tuple[object, ...]]:
            found = read(sql, values)
            if coming:
                store.enqueue([coming.pop()])
            return found

        monkeypatch.setattr(store, "_read", interrupted)
        while coming:
            store.due(NOW, ("email",))
        told = {row.unique_key for row in store.due(NOW, ("email",))}
    assert told == {"k0", "k1", "k2"}
