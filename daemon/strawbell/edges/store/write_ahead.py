"""Whether a write-ahead file that SQLite would pass over holds commits that are nowhere else.

SQLite begins a write-ahead file anew in this order: all commits of the old one are in the
database and synced, the header of 32 bytes is written and synced, the first frame is written
(wal.c, sqlite3WalCheckpoint and walFrames, with synchronous FULL). A power cut can therefore tear
a header only while nothing depends on it: behind it is nothing, or what the database has already.

Decided 2026-11-25: A torn header of a write-ahead file is damage only where commits stood behind
it that the database does not have: SQLite writes a new header when all of the old file is in the
database.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path

from msgspec import Struct

_HEADER_BYTES = 32
_FRAME_HEADER_BYTES = 24
_MAGICS = {0x377F0682: "<", 0x377F0683: ">"}
"""Header, frames and checksum: SQLite documentation, "Database File Format", 4.1 and 4.2."""
_PAGE_SIZE_AT = 16
_LARGEST_PAGE_BYTES = 65536
"""The page size of a database, 1 for the largest: same page, section 1.3.2."""

Checksum = tuple[int, int]


class Frame(Struct, frozen=True):
    """One page as a commit left it; `commits` marks the last of a commit."""

    page: int
    commits: bool
    content: bytes


def wal_of(path: Path) -> Path:
    """Return where the write-ahead file of a database lies."""
    return path.with_name(f"{path.name}-wal")


def wal_problem(path: Path) -> str | None:
    """Return what is wrong with the write-ahead file of a database, None when nothing is.

    SQLite itself passes over one whose header it does not understand, and over the commits in it.
    """
    try:
        with wal_of(path).open("rb") as file:
            header = file.read(_HEADER_BYTES)
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
        return "the write-ahead file is no write-ahead file"
    return "the write-ahead file is damaged"


def _is_sound(header: bytes) -> bool:
    if len(header) < _HEADER_BYTES:
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
    """Return the pages as the last commit left them, by their numbers."""
    committed: dict[int, bytes] = {}
    open_pages: dict[int, bytes] = {}
    for frame in _chain(frames, page_bytes, order):
        open_pages[frame.page] = frame.content
        if frame.commits:
            committed |= open_pages
            open_pages = {}
    return committed


def _chain(frames: bytes, page_bytes: int, order: str) -> Iterator[Frame]:
    """Go through the frames that belong to the first one, as far as each follows from the last.

    The checksum of the first cannot be known without the header.
    """
    salts, last = frames[8:16], None
    step = _FRAME_HEADER_BYTES + page_bytes
    for at in range(0, len(frames) - step + 1, step):
        header = frames[at : at + _FRAME_HEADER_BYTES]
        content = frames[at + _FRAME_HEADER_BYTES : at + step]
        page, size = struct.unpack_from(">II", header)
        checksum: Checksum = struct.unpack(">II", header[16:])
        follows = last is None or _checksum(order, header[:8] + content, last) == checksum
        if page == 0 or header[8:16] != salts or not follows:
            return
        last = checksum
        yield Frame(page, size > 0, content)
