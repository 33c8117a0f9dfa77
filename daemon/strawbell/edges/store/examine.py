"""Look at a store file before it is trusted; nothing here changes it.

Decided 2026-11-26: Every row is read before a store is trusted. SQLite looks at no value, and one
moment that is none would stop every look at the outbox, start after start. It keeps no checksums
either: one letter of a text that became another is not found.

Decided 2026-11-25: A torn header of a write-ahead file is damage only where commits stood behind it
that the database does not have. SQLite begins such a file anew in this order: all commits of the
old one are in the database and synced, the header of 32 bytes is written and synced, the first
frame is written (wal.c, sqlite3WalCheckpoint and walFrames, with synchronous FULL). A power cut can
therefore tear a header only while nothing depends on it: behind it is nothing, or what the database
has already.
"""

# ruff: noqa: S608 - only lists of our own columns are ever put into a statement

from __future__ import annotations

import contextlib
import sqlite3
import struct
import zlib
from enum import StrEnum
from pathlib import Path

from msgspec import Struct

from strawbell.edges.store.connection import APPLICATION_ID, NEWEST_VERSION, is_passing, problem_of
from strawbell.edges.store.rows import JOURNAL_COLUMNS, OUTBOX_COLUMNS, journal_entry, outbox_row
from strawbell.edges.store.safeguards import Marker, marker_of
from strawbell.model.notice import OutboxState
from strawbell.words.catalogue import BRITISH

_MAGIC = b"SQLite format 3\x00"
_HEADER_BYTES = 100
_APPLICATION_ID_AT = 68
"""Header layout: SQLite documentation, "Database File Format", section 1.3."""

_WAL_HEADER_BYTES = 32
_FRAME_HEADER_BYTES = 24
_MAGICS = {0x377F0682: "<", 0x377F0683: ">"}
"""Header, frames and checksum: SQLite documentation, "Database File Format", 4.1 and 4.2."""
_PAGE_SIZE_AT = 16
_LARGEST_PAGE_BYTES = 65536
"""The page size of a database, 1 for the largest: same page, section 1.3.2."""

Checksum = tuple[int, int]

_JOURNAL = f"SELECT {JOURNAL_COLUMNS} FROM journal"
_MESSAGES = f"SELECT {OUTBOX_COLUMNS}, body FROM outbox LEFT JOIN bodies USING (unique_key)"

_TEXT_MAY_BE_GONE = {OutboxState.ACCEPTED, OutboxState.FOR_GOOD, OutboxState.EXPIRED}


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
        return Finding(Condition.ABSENT, BRITISH.say("finding.missing"))
    with path.open("rb") as file:
        header = file.read(_HEADER_BYTES)
    if not header:
        return Finding(Condition.EMPTY, BRITISH.say("finding.empty"))
    if len(header) < _HEADER_BYTES or not header.startswith(_MAGIC):
        return Finding(Condition.FOREIGN, BRITISH.say("finding.no-database"))
    if struct.unpack_from(">I", header, _APPLICATION_ID_AT)[0] != APPLICATION_ID:
        return Finding(Condition.FOREIGN, BRITISH.say("finding.other-program"))
    return Finding(Condition.SOUND)


def content_finding(path: Path, marker: Marker | None, *, with_wal: bool = True) -> Finding:
    """Judge a store by reading it whole. Call this only while no other process writes.

    Read only, it does not fold a foreign write-ahead file into it for good.
    """
    wal = wal_of(path)
    has_wal = with_wal and wal.exists() and wal.stat().st_size > 0
    address = f"{path.absolute().as_uri()}?mode=ro{'' if has_wal else '&immutable=1'}"
    try:
        with contextlib.closing(
            sqlite3.connect(address, uri=True, isolation_level=None)
        ) as connection:
            return _finding_of(connection, marker)
    except sqlite3.DatabaseError as error:
        if is_passing(error):
            # A full or failing disk is no damage; opening the store will say what it cannot do.
            return Finding(Condition.SOUND)
        return Finding(Condition.DAMAGED, str(error))


def _finding_of(connection: sqlite3.Connection, marker: Marker | None) -> Finding:
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        return Finding(Condition.FOREIGN, BRITISH.say("finding.wal-of-another"))
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    if version > NEWEST_VERSION:
        return Finding(Condition.NEWER)
    problem = problem_of(connection)
    if problem is not None:
        return Finding(Condition.DAMAGED, problem)
    tables = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if tables == 0:
        if marker is None or not marker.in_use:
            return Finding(Condition.SOUND)
        return Finding(Condition.EMPTY, BRITISH.say("finding.no-tables"))
    # The columns of an older layout are others; once it is migrated it is read at every start.
    unreadable = unreadable_row(connection) if version == NEWEST_VERSION else None
    if unreadable is not None:
        return Finding(Condition.DAMAGED, unreadable)
    return _compared(marker_of(connection), marker)


def _compared(found: Marker, marker: Marker | None) -> Finding:
    if marker is None:
        return Finding(Condition.SOUND, holds=found)
    if found.store_id != marker.store_id:
        return Finding(Condition.DAMAGED, BRITISH.say("finding.other-store"))
    if found.journal_rows < marker.journal_rows or found.outbox_rows < marker.outbox_rows:
        return Finding(Condition.DAMAGED, BRITISH.say("finding.rows-gone"), found)
    return Finding(Condition.SOUND, holds=found)


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
                return BRITISH.say("finding.text-gone")
    except (ValueError, TypeError, OverflowError, RecursionError, zlib.error) as error:
        return BRITISH.say("finding.unreadable", why=str(error))
    return None


def wal_of(path: Path) -> Path:
    """Return where the write-ahead file of a database lies."""
    return path.with_name(f"{path.name}-wal")


def wal_problem(path: Path) -> str | None:
    """Return what is wrong with the write-ahead file of a database, None when nothing is.

    SQLite itself passes over one whose header it does not understand, and over the commits in it.
    """
    try:
        with wal_of(path).open("rb") as file:
            header = file.read(_WAL_HEADER_BYTES)
            if not header or _is_sound(header):
                return None
            frames = file.read()
    except FileNotFoundError:
        return None
    with path.open("rb") as database:
        content = database.read()
    page_bytes = _page_bytes(content)
    if page_bytes and _is_all_folded_in(frames, content, page_bytes):
        return None
    if struct.unpack_from(">I", header)[0] not in _MAGICS:
        return BRITISH.say("finding.no-wal")
    return BRITISH.say("finding.wal-damaged")


def _is_sound(header: bytes) -> bool:
    if len(header) < _WAL_HEADER_BYTES:
        return False
    order = _MAGICS.get(struct.unpack_from(">I", header)[0])
    return order is not None and _checksum(order, header[:24]) == struct.unpack(">II", header[24:])


def _checksum(order: str, content: bytes, after: Checksum = (0, 0)) -> Checksum:
    first, second = after
    for left, right in struct.iter_unpack(f"{order}II", content):
        first = (first + left + second) & 0xFFFFFFFF
        second = (second + right + first) & 0xFFFFFFFF
    return first, second


def _page_bytes(database: bytes) -> int:
    if len(database) < _PAGE_SIZE_AT + 2:
        return 0
    (size,) = struct.unpack_from(">H", database, _PAGE_SIZE_AT)
    return _LARGEST_PAGE_BYTES if size == 1 else int(size)


def _is_all_folded_in(frames: bytes, database: bytes, page_bytes: int) -> bool:
    """Return whether the database has every commit of the frames behind a lost header."""
    if len(frames) < _FRAME_HEADER_BYTES + page_bytes:
        # No commit ends within half a frame.
        return True
    return any(_has(database, page_bytes, _committed(frames, page_bytes, o)) for o in "<>")


def _has(database: bytes, page_bytes: int, committed: dict[int, bytes]) -> bool:
    return bool(committed) and all(
        database[(page - 1) * page_bytes : page * page_bytes] == content
        for page, content in committed.items()
    )


def _committed(frames: bytes, page_bytes: int, order: str) -> dict[int, bytes]:
    """Return the pages as the last commit left them, by their numbers.

    Goes through the frames that belong to the first one, as far as each follows from the last; the
    checksum of the first cannot be known without the header.
    """
    committed: dict[int, bytes] = {}
    open_pages: dict[int, bytes] = {}
    last: Checksum | None = None
    step = _FRAME_HEADER_BYTES + page_bytes
    for at in range(0, len(frames) - step + 1, step):
        header = frames[at : at + _FRAME_HEADER_BYTES]
        content = frames[at + _FRAME_HEADER_BYTES : at + step]
        page, commits = struct.unpack_from(">II", header)
        checksum: Checksum = struct.unpack(">II", header[16:])
        follows = last is None or _checksum(order, header[:8] + content, last) == checksum
        if page == 0 or header[8:16] != frames[8:16] or not follows:
            break
        last = checksum
        open_pages[page] = content
        if commits:
            committed |= open_pages
            open_pages = {}
    return committed
