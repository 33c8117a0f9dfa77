"""Whether every row of a store can be read; SQLite itself looks neither at values nor into them."""

# ruff: noqa: S608 - only lists of our own columns are ever put into a statement

from __future__ import annotations

import sqlite3
import zlib

from strawbell.edges.store.rows import (
    JOURNAL_COLUMNS,
    OUTBOX_COLUMNS,
    journal_entry,
    outbox_row,
)
from strawbell.model.notice import OutboxState

_JOURNAL = f"SELECT {JOURNAL_COLUMNS} FROM journal"
_MESSAGES = f"SELECT {OUTBOX_COLUMNS}, body FROM outbox LEFT JOIN bodies USING (unique_key)"

_TEXT_MAY_BE_GONE = {OutboxState.ACCEPTED, OutboxState.FOR_GOOD, OutboxState.EXPIRED}


def unreadable_row(connection: sqlite3.Connection) -> str | None:
    """Return what cannot be read of the rows of a store, None when all of them can.

    One moment that is none would stop every later look at the outbox, start after start.
    """
    try:
        for row in connection.execute(_JOURNAL):
            journal_entry(row)
            data = row[-1]
            if isinstance(data, bytes):
                zlib.decompress(data)
        for row in connection.execute(_MESSAGES):
            message = outbox_row(row)
            if row[-1] is None and message.state not in _TEXT_MAY_BE_GONE:
                return "the text of a message is gone"
    except (ValueError, TypeError, OverflowError, RecursionError, zlib.error) as error:
        return f"a row cannot be read: {error}"
    return None
