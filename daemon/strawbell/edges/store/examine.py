"""Look at a store file before it is trusted; nothing here changes it.

Decided 2026-11-26: Every row is read before a store is trusted. SQLite looks at no value, and one
moment that is none would stop every look at the outbox, start after start. It keeps no checksums
either: one letter of a text that became another is not found.
"""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import struct
from enum import StrEnum
from pathlib import Path

from msgspec import Struct

from strawbell.edges.store.connection import is_passing, problem_of
from strawbell.edges.store.legible import unreadable_row
from strawbell.edges.store.marker import Marker, marker_of
from strawbell.edges.store.schema import APPLICATION_ID, NEWEST_VERSION
from strawbell.edges.store.write_ahead import wal_of

_MAGIC = b"SQLite format 3\x00"
_HEADER_BYTES = 100
_APPLICATION_ID_AT = 68
"""Header layout: SQLite documentation, "Database File Format", section 1.3."""

INSPECTION_PREFIX = "inspect-"
"""Folders of this name beside the store are copies that were looked at."""


class Condition(StrEnum):
    """What became of a store file."""

    ABSENT = "absent"
    EMPTY = "empty"
    SOUND = "sound"
    DAMAGED = "damaged"
    FOREIGN = "foreign"
    NEWER = "newer"


class Finding(Struct, frozen=True):
    """The condition of a store file and what shows it."""

    condition: Condition
    why: str = ""
    holds: Marker | None = None
    """What a readable store holds."""


def header_finding(path: Path) -> Finding:
    """Judge a file by its first hundred bytes only."""
    if not path.exists():
        return Finding(Condition.ABSENT, "the file is missing")
    with path.open("rb") as file:
        header = file.read(_HEADER_BYTES)
    if not header:
        return Finding(Condition.EMPTY, "the file is empty")
    if len(header) < _HEADER_BYTES or not header.startswith(_MAGIC):
        return Finding(Condition.FOREIGN, "the file is no database")
    if struct.unpack_from(">I", header, _APPLICATION_ID_AT)[0] != APPLICATION_ID:
        return Finding(Condition.FOREIGN, "the file is a database of another program")
    return Finding(Condition.SOUND)


def content_finding(path: Path, marker: Marker | None, *, with_wal: bool = True) -> Finding:
    """Judge a store by reading it whole. Call this only while no other process writes.

    With a write-ahead file beside it a copy is read: opening the original would fold a foreign
    write-ahead file into it for good.
    """
    wal = wal_of(path)
    if not with_wal or not wal.exists() or wal.stat().st_size == 0:
        return _read(path, marker)
    from tempfile import TemporaryDirectory  # commands beside the daemon do without

    try:
        folder = TemporaryDirectory(prefix=INSPECTION_PREFIX, dir=path.parent)
    except OSError as error:
        return Finding(Condition.SOUND, f"not looked into: {error.strerror}")
    with folder as name:
        copy = Path(name) / path.name
        try:
            shutil.copyfile(path, copy)
            shutil.copyfile(wal, wal_of(copy))
        except OSError as error:
            # A full disk is no damage; the store itself will say what it cannot do.
            return Finding(Condition.SOUND, f"not looked into: {error.strerror}")
        return _read(copy, marker, "rw")


def _read(path: Path, marker: Marker | None, mode: str = "ro&immutable=1") -> Finding:
    address = f"{path.absolute().as_uri()}?mode={mode}"
    try:
        with contextlib.closing(
            sqlite3.connect(address, uri=True, isolation_level=None)
        ) as connection:
            return _finding_of(connection, marker)
    except sqlite3.DatabaseError as error:
        if is_passing(error):
            # A disk that fails is no damage; opening the store will say what it cannot do.
            return Finding(Condition.SOUND, f"not looked into: {error}")
        return Finding(Condition.DAMAGED, str(error))


def _finding_of(connection: sqlite3.Connection, marker: Marker | None) -> Finding:
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        return Finding(Condition.FOREIGN, "the write-ahead file is of another program")
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    if version > NEWEST_VERSION:
        return Finding(Condition.NEWER, "a newer Strawbell wrote it")
    problem = problem_of(connection)
    if problem is not None:
        return Finding(Condition.DAMAGED, problem)
    tables = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if tables == 0:
        in_use = marker is not None and marker.in_use
        return Finding(Condition.EMPTY if in_use else Condition.SOUND, "it holds no tables")
    # The columns of an older layout are others; once it is migrated it is read at every start.
    unreadable = unreadable_row(connection) if version == NEWEST_VERSION else None
    if unreadable is not None:
        return Finding(Condition.DAMAGED, unreadable)
    return _compared(marker_of(connection), marker)


def _compared(found: Marker, marker: Marker | None) -> Finding:
    if marker is None:
        return Finding(Condition.SOUND, holds=found)
    if found.store_id != marker.store_id:
        return Finding(Condition.DAMAGED, "its content is that of another store")
    if found.journal_rows < marker.journal_rows or found.outbox_rows < marker.outbox_rows:
        return Finding(Condition.DAMAGED, "rows that were in it are gone", found)
    return Finding(Condition.SOUND, holds=found)
