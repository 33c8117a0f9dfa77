"""Two small files beside the store, that know what it cannot tell of itself.

The marker remembers that there was something in it: an empty file opens as a healthy, empty
database, and a database without its write-ahead file opens as an older one. Only something outside
of it can tell that rows are gone.

The list of incidents holds what the store suffered and nobody was told of yet. It is written before
the mended store takes its place, so that no kill between mending and telling loses it; what is in
it also says how a mending that was broken off has to end.

Decided 2026-11-25: What the store suffered is on disk before the mended store takes its place, in
a list beside it, until its notice is in the outbox; each is told once. A mending that was broken
off is ended by the next start.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Annotated, TypeVar

import msgspec
from msgspec import Meta, Struct

from strawbell.app.ports import Incident
from strawbell.edges.store.connection import FILE_MODE, sync_folder
from strawbell.edges.whole_file import replace_whole
from strawbell.errors import OperationalError

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
        try:
            if left:
                _replace(self._path, left)
            else:
                incidents_path(self._path).unlink(missing_ok=True)
        except OSError as error:
            raise OperationalError(
                f"The file {incidents_path(self._path)} did not take it: "
                f"{error.strerror or error}. Look at free space and permissions."
            ) from error


def _replace(path: Path, all_of: Sequence[Mending]) -> None:
    replace_whole(incidents_path(path), msgspec.json.encode(all_of), mode=FILE_MODE)
    sync_folder(path.parent)


def _read(path: Path, kind: type[T]) -> T | None:
    try:
        return msgspec.json.decode(path.read_bytes(), type=kind)
    except (OSError, ValueError, RecursionError, msgspec.MsgspecError):
        return None
