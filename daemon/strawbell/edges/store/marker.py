"""A small file beside the store that remembers that there was something in it.

An empty file opens as a healthy, empty database, and a database without its write-ahead file
opens as an older one. Only something outside of it can tell that rows are gone.
"""

from __future__ import annotations

import json
import os
import sqlite3
from pathlib import Path

from msgspec import Struct

from strawbell.edges.store.connection import FILE_MODE


class Marker(Struct, frozen=True):
    """Identity of a store, and how many rows it had at least."""

    store_id: str
    journal_rows: int
    outbox_rows: int

    @property
    def in_use(self) -> bool:
        """Return whether the store held anything at all."""
        return self.journal_rows + self.outbox_rows > 0


def marker_path(path: Path) -> Path:
    """Return where the marker of a store lies."""
    return path.with_name(f"{path.name}.marker")


def read_marker(path: Path) -> Marker | None:
    """Return the marker of a store, None when there is none that can be read."""
    try:
        kept = json.loads(marker_path(path).read_text(encoding="ascii"))
        return Marker(str(kept["store_id"]), int(kept["journal_rows"]), int(kept["outbox_rows"]))
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def marker_of(connection: sqlite3.Connection) -> Marker:
    """Return the marker that a database would have now."""
    store_id, journal_rows, outbox_rows = connection.execute(
        "SELECT store_id, (SELECT ifnull(max(number), 0) FROM journal),"
        " (SELECT ifnull(max(number), 0) FROM outbox) FROM identity"
    ).fetchone()
    return Marker(store_id, journal_rows, outbox_rows)


def write_marker(path: Path, marker: Marker) -> None:
    """Replace the marker; a failure only makes a later check less sharp."""
    target = marker_path(path)
    unfinished = target.with_name(f"{target.name}.unfinished")
    text = json.dumps(
        {
            "store_id": marker.store_id,
            "journal_rows": marker.journal_rows,
            "outbox_rows": marker.outbox_rows,
        }
    )
    try:
        # Made anew each time: a link somebody left there is never followed.
        unfinished.unlink(missing_ok=True)
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW
        with os.fdopen(os.open(unfinished, flags, FILE_MODE), "w", encoding="ascii") as file:
            file.write(text)
        unfinished.replace(target)
    except OSError:
        return
