"""The last good answer of each forecast address, compressed."""

# ruff: noqa: S608 - only lists of our own columns and "?" are ever put into a statement

from __future__ import annotations

import zlib
from datetime import datetime

from strawbell.app.ports import CachedAnswer
from strawbell.edges.store.rows import maybe, moment, plain

_COLUMNS = "url, etag, last_modified, expires_at, fetched_at, body"
_BYTES = ", ".join(f"CAST({column} AS BLOB)" for column in _COLUMNS.split(", "))
SELECT = f"SELECT {_BYTES} FROM answers WHERE url = ?"
"""As bytes: SQLite refuses a text that is no text, and with it every look at the forecast."""
REPLACE = f"INSERT OR REPLACE INTO answers ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?)"


def values(answer: CachedAnswer) -> tuple[object, ...]:
    """Return an answer in the order of its columns."""
    return (
        plain(answer.url),
        maybe(answer.etag),
        maybe(answer.last_modified),
        None if answer.expires_at is None else moment(answer.expires_at),
        moment(answer.fetched_at),
        zlib.compress(answer.body),
    )


def answer(row: tuple[object, ...]) -> CachedAnswer | None:
    """Return the answer of a row; one that cannot be read counts as none."""
    *texts, body = row
    url, etag, last_modified, expires_at, fetched_at = map(_text, texts)
    try:
        return CachedAnswer(
            url=str(url),
            etag=etag,
            last_modified=last_modified,
            expires_at=None if expires_at is None else datetime.fromisoformat(expires_at),
            fetched_at=datetime.fromisoformat(str(fetched_at)),
            body=zlib.decompress(body) if isinstance(body, bytes) else b"",
        )
    except (ValueError, zlib.error):
        return None


def _text(stored: object) -> str | None:
    return stored.decode("utf-8", "replace") if isinstance(stored, bytes) else None
