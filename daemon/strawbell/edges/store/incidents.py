"""What the store suffered and nobody was told of yet, in a small file beside it.

Written before the mended store takes its place, so that no kill between mending and telling
loses it; what is in it also says how a mending that was broken off has to end.

Decided 2026-11-25: What the store suffered is on disk before the mended store takes its place, in
a list beside it, until its notice is in the outbox; each is told once. A mending that was broken
off is ended by the next start.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

from msgspec import Struct

from strawbell.app.ports import Incident
from strawbell.edges.store.connection import FILE_MODE, sync_folder
from strawbell.edges.whole_file import replace_whole
from strawbell.errors import OperationalError


class Mending(Struct, frozen=True):
    """One incident, and under which name the damaged files are kept."""

    incident: Incident
    aside: str


def incidents_path(path: Path) -> Path:
    """Return where the untold incidents of a store lie."""
    return path.with_name(f"{path.name}.incidents")


def mendings(path: Path) -> tuple[Mending, ...]:
    """Return what was mended and is untold, oldest first; none where it cannot be read."""
    try:
        kept = json.loads(incidents_path(path).read_text(encoding="utf-8"))
        return tuple(_mending(each) for each in kept)
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return ()


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
        left = [each for each in mendings(self._path) if each.incident.key != incident.key]
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


def _replace(path: Path, all_of: Iterable[Mending]) -> None:
    kept = [
        {
            "key": each.incident.key,
            "mended_at": each.incident.mended_at.isoformat(),
            "text": each.incident.text,
            "aside": each.aside,
        }
        for each in all_of
    ]
    replace_whole(incidents_path(path), json.dumps(kept).encode("ascii"), mode=FILE_MODE)
    sync_folder(path.parent)


def _mending(kept: dict[str, object]) -> Mending:
    mended_at = datetime.fromisoformat(str(kept["mended_at"]))
    if mended_at.tzinfo is None:
        raise ValueError("a moment without a zone")
    incident = Incident(str(kept["key"]), mended_at, str(kept["text"]))
    return Mending(incident, str(kept["aside"]))
