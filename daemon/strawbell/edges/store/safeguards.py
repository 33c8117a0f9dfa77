"""What lies beside the store in case it is damaged: its marker, its incidents, its daily copies.

The marker remembers that there was something in it: an empty file opens as a healthy, empty
database, and a database without its write-ahead file opens as an older one. Only something outside
of it can tell that rows are gone.

The list of incidents holds what the store suffered and nobody was told of yet. It is written before
the mended store takes its place, so that no kill between mending and telling loses it; what is in
it also says how a mending that was broken off has to end.

Decided 2026-11-25: What the store suffered is on disk before the mended store takes its place, in
a list beside it, until its notice is in the outbox; each is told once. A mending that was broken
off is ended by the next start.

Decided 2026-11-25: Of several copies the fullest is restored, whatever date its name bears.

Decided 2026-11-29: A copy is whole and stands alone; it is made only when rows were added. Once
there is a week of them, today's is the oldest brought up to date: of it only those blocks are
written that a week has changed. On day 119 of one garden that is 106 kB of 401, and a card is
worn by what is written. Files of changed pages alone would write less still, and a damaged first
one would take a week of them with it.
"""

from __future__ import annotations

import contextlib
import math
import os
import re
import sqlite3
import threading
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, TypeVar

import msgspec
from msgspec import Meta, Struct

from strawbell.app.ports import Incident
from strawbell.edges.machine import replace_whole
from strawbell.edges.store.connection import (
    APPLICATION_ID,
    FILE_MODE,
    FOLDER_MODE,
    NEWEST_VERSION,
    files_in_sentences,
    problem_of,
    sync_folder,
)
from strawbell.errors import OperationalError
from strawbell.words.catalogue import BRITISH

T = TypeVar("T")


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
    return _read(marker_path(path), Marker)


def marker_of(connection: sqlite3.Connection) -> Marker:
    """Return the marker that a database would have now."""
    return Marker(
        *connection.execute(
            "SELECT store_id, (SELECT ifnull(max(number), 0) FROM journal),"
            " (SELECT ifnull(max(number), 0) FROM outbox) FROM identity"
        ).fetchone()
    )


def write_marker(path: Path, marker: Marker) -> None:
    """Replace a marker that is another; a failure only makes a later check less sharp."""
    if read_marker(path) == marker:
        return
    with contextlib.suppress(OSError):
        content = msgspec.json.encode(marker)
        replace_whole(marker_path(path), content, mode=FILE_MODE, is_synced=False)


class Mending(Struct, frozen=True):
    """One incident, and under which name the damaged files are kept."""

    key: str
    mended_at: Annotated[datetime, Meta(tz=True)]
    text: str
    aside: str

    @property
    def incident(self) -> Incident:
        """Return what the grower is told of it."""
        return Incident(self.key, self.mended_at, self.text)


def incidents_path(path: Path) -> Path:
    """Return where the untold incidents of a store lie."""
    return path.with_name(f"{path.name}.incidents")


def mendings(path: Path) -> tuple[Mending, ...]:
    """Return what was mended and is untold, oldest first; none where it cannot be read."""
    return _read(incidents_path(path), tuple[Mending, ...]) or ()


def keep(path: Path, mending: Mending) -> None:
    """Add an incident, on disk before it returns; an `OSError` leaves the others as they are."""
    _replace(path, [*mendings(path), mending])


class IncidentFile:
    """`strawbell.app.ports.Incidents` of one store."""

    def __init__(self, path: Path) -> None:
        """Keep where the store lies; nothing is read before it is asked for."""
        self._path = path

    def untold(self) -> tuple[Incident, ...]:
        """Return the incidents that nobody was told of yet, oldest first."""
        return tuple(each.incident for each in mendings(self._path))

    def told(self, incident: Incident) -> None:
        """Let go of an incident; raises `OperationalError` where the disk does not take it."""
        left = [each for each in mendings(self._path) if each.key != incident.key]
        with files_in_sentences(incidents_path(self._path)):
            if left:
                _replace(self._path, left)
            else:
                incidents_path(self._path).unlink(missing_ok=True)


def _replace(path: Path, all_of: Sequence[Mending]) -> None:
    replace_whole(incidents_path(path), msgspec.json.encode(all_of), mode=FILE_MODE)
    sync_folder(path.parent)


def _read(path: Path, kind: type[T]) -> T | None:
    try:
        return msgspec.json.decode(path.read_bytes(), type=kind)
    except (OSError, ValueError, RecursionError, msgspec.MsgspecError):
        return None


KEEP_COPIES = 7
"""A week of daily copies, so that damage noticed late still finds a copy before it."""
BLOCK_BYTES = 4096
"""What a card and a file system write at once, at the least."""
MOST_IN_MEMORY_BYTES = 32 * 1024 * 1024
"""A store up to this size is held in memory to be compared; a larger one is copied anew."""

_DAY = re.compile(r"-\d{4}-\d{2}-\d{2}\.db$")
_SIZE = ("page_count", "page_size")


def folder_of(path: Path) -> Path:
    """Return the folder of the copies of a store."""
    return path.parent / "backups"


def copies(path: Path) -> tuple[Path, ...]:
    """Return the daily copies of a store, newest first."""
    try:
        found = [
            copy
            for copy in folder_of(path).iterdir()
            if copy.name.startswith(f"{path.stem}-") and _DAY.search(copy.name)
        ]
    except OSError:
        return ()
    return tuple(sorted(found, key=lambda copy: copy.name, reverse=True))


def copy_now(
    connection: sqlite3.Connection, path: Path, label: str, spare: Path | None = None
) -> Path:
    """Copy a living database under a label, checked and synced before it takes its name.

    A `spare` copy, which nobody needs any more, is brought up to date for it.
    """
    folder = folder_of(path)
    folder.mkdir(mode=FOLDER_MODE, exist_ok=True)
    target = folder / f"{path.stem}-{label}.db"
    # Several first commands may copy at once; each has its own, and the last name stays.
    unfinished = target.with_suffix(f".{threading.get_native_id()}.unfinished")
    try:
        if spare is None:
            unfinished.touch(mode=FILE_MODE)
            with contextlib.closing(sqlite3.connect(unfinished, isolation_level=None)) as copy:
                connection.backup(copy)
        else:
            spare.replace(unfinished)
            _bring_up_to_date(unfinished, connection.serialize())
        _finish(unfinished)
        unfinished.replace(target)
    finally:
        # Nothing half done stays, least of all on a full disk.
        for ending in ("", "-wal", "-shm", "-journal"):
            unfinished.with_name(unfinished.name + ending).unlink(missing_ok=True)
    sync_folder(folder)
    return target


def _bring_up_to_date(copy: Path, content: bytes) -> None:
    """Let a file have some content; blocks that it has already are not written."""
    with copy.open("r+b", buffering=0) as file:
        for start in range(0, len(content), BLOCK_BYTES):
            block = content[start : start + BLOCK_BYTES]
            if os.pread(file.fileno(), BLOCK_BYTES, start) != block:
                os.pwrite(file.fileno(), block, start)
        file.truncate(len(content))


def _finish(target: Path) -> None:
    with contextlib.closing(sqlite3.connect(target, isolation_level=None)) as copy:
        # A copy stands alone: no write-ahead file beside it.
        copy.execute("PRAGMA journal_mode = DELETE")
        problem = problem_of(copy)
    if problem is not None:
        raise OperationalError(BRITISH.say("store.not-copied", why=problem))
    with target.open("rb") as written:
        os.fsync(written.fileno())


def copy_of_the_day(connection: sqlite3.Connection, path: Path, now: datetime) -> Path:
    """Keep today's copy and drop those beyond a week."""
    today = now.astimezone(UTC).date().isoformat()
    size = math.prod(connection.execute(f"PRAGMA {each}").fetchone()[0] for each in _SIZE)
    beyond = [each for each in copies(path) if today not in each.name][KEEP_COPIES - 1 :]
    spare = beyond[0] if beyond and size <= MOST_IN_MEMORY_BYTES else None
    target = copy_now(connection, path, today, spare)
    for old in copies(path)[KEEP_COPIES:]:
        old.unlink(missing_ok=True)
    return target


def holds_all(connection: sqlite3.Connection, path: Path) -> bool:
    """Return whether the newest copy is sound and has every row of journal and outbox.

    What becomes of a message is a row of the journal too. Reading a copy wears no card out.
    """
    marker = marker_of(connection)
    newest = next(iter(copies(path)), None)
    return newest is not None and rows_of(newest) == (marker.journal_rows, marker.outbox_rows)


def rows_of(copy: Path) -> tuple[int, int] | None:
    """Return how many rows of journal and outbox a copy has; None when it cannot be restored.

    It cannot when it is not a sound store that this version can read.
    """
    try:
        address = f"{copy.absolute().as_uri()}?mode=ro"
        with contextlib.closing(sqlite3.connect(address, uri=True)) as connection:
            identity = connection.execute("PRAGMA application_id").fetchone()[0]
            version = connection.execute("PRAGMA user_version").fetchone()[0]
            known = identity == APPLICATION_ID and 0 < version <= NEWEST_VERSION
            if not known or problem_of(connection) is not None:
                return None
            marker = marker_of(connection)
            return marker.journal_rows, marker.outbox_rows
    except sqlite3.Error:
        return None


def newest_good(path: Path) -> Path | None:
    """Return the copy to restore: the one with the most rows, None when there is none.

    Rows only grow, while the date of a copy may come from a clock that was wrong.
    """
    found = [(rows, copy) for copy in copies(path) if (rows := rows_of(copy)) is not None]
    most = max((rows for rows, _ in found), default=None)
    return next((copy for rows, copy in found if rows == most), None)
