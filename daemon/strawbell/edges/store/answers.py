"""The last good answer of each forecast address, compressed."""

# ruff: noqa: S608 - only lists of our own columns and "?" are ever put into a statement

from __future__ import annotations

import zlib
from datetime import datetime

from strawbell.app.ports import CachedAnswer
from strawbell.edges.store.rows import maybe, moment, plain

_COLUMNS = "url, etag, last_modified, expires_at, fetched_at, body"
SELECT = f"SELECT {_COLUMNS} FROM answers WHERE url = ?"
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
    """Return the answer of a row; one that cannot be unpacked counts as none."""
    url, etag, last_modified, expires_at, fetched_at, body = row
    try:
        unpacked = zlib.decompress(body) if isinstance(body, bytes) else b""
    except zlib.error:
        return None
    return CachedAnswer(
        url=str(url),
        etag=None if etag is None else str(etag),
        last_modified=None if last_modified is None else str(last_modified),
        expires_at=None if expires_at is None else datetime.fromisoformat(str(expires_at)),
        fetched_at=datetime.fromisoformat(str(fetched_at)),
        body=unpacked,
    )
