"""Find out what a store suffered, keep the damaged files, put the best that is left in place.

Killed at any call, the next start ends what was begun: first what is to take the place is written
under a passing name, then the incident is put on disk, and from there on only renames are left,
which are done again as far as they were not.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import uuid
from datetime import UTC, datetime
from pathlib import Path

from strawbell.edges.store.backups import copies, newest_good
from strawbell.edges.store.connection import FILE_MODE, foreign, newer, sync_folder
from strawbell.edges.store.examine import (
    INSPECTION_PREFIX,
    Condition,
    Finding,
    content_finding,
    header_finding,
    wal_problem,
)
from strawbell.edges.store.marker import (
    Marker,
    Mending,
    incidents_path,
    keep,
    marker_path,
    mendings,
    read_marker,
)
from strawbell.edges.store.schema import APPLICATION_ID

COMPANIONS = ("", "-wal", "-shm", "-journal")
"""A database and the files that SQLite puts beside it."""


def mend(path: Path, now: datetime) -> str:
    """Return what was mended, in sentences; "" when the store is sound or new."""
    finished = [each.text for each in mendings(path) if _successor(path, each).exists()]
    for each in mendings(path):
        _put_in_place(path, each)
    _tidy(path)
    marker = read_marker(path)
    was_ours = marker is not None or bool(copies(path))
    finding = _full_finding(path, marker)
    if finding.condition is Condition.NEWER:
        raise newer(path)
    if finding.condition is Condition.FOREIGN and not was_ours:
        raise foreign(path, finding.why)
    is_new = finding.condition in {Condition.ABSENT, Condition.EMPTY} and not was_ours
    if finding.condition is not Condition.SOUND and not is_new:
        finished.append(_restore(path, now, marker, finding))
    return " ".join(finished)


def is_being_mended(path: Path) -> bool:
    """Return whether a mending was begun and has to be ended first."""
    return any(_successor(path, each).exists() for each in mendings(path))


def write_empty(target: Path) -> None:
    """Write a database without content, but with the mark of whose it is."""
    target.unlink(missing_ok=True)
    target.touch(mode=FILE_MODE)
    with contextlib.closing(sqlite3.connect(target, isolation_level=None)) as connection:
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")


def _tidy(path: Path) -> None:
    """Remove what a kill left in the middle of creating, inspecting or copying."""
    beside = (f".{each(path).name}-" for each in (incidents_path, marker_path))
    passing = (f"{path.name}.fresh-", f"{path.name}.mended-", *beside)
    for found in path.parent.iterdir():
        if found.name.startswith(INSPECTION_PREFIX):
            shutil.rmtree(found, ignore_errors=True)
        elif found.name.startswith(passing):
            found.unlink(missing_ok=True)


def _full_finding(path: Path, marker: Marker | None) -> Finding:
    finding = header_finding(path)
    if finding.condition is not Condition.SOUND:
        return finding
    problem = wal_problem(path)
    if problem is not None:
        return Finding(Condition.DAMAGED, problem)
    return content_finding(path, marker)


def _restore(path: Path, now: datetime, marker: Marker | None, finding: Finding) -> str:
    """Put the damaged files aside under a dated name and the best that is left in place."""
    source = newest_good(path)
    said = "There was no good copy, so it begins anew."
    if source is not None:
        said = f"The copy {source.name} was restored."
    own = _rows_without_wal(path, marker)
    if own > 0 and own >= _rows(source, marker):
        source = path
        said = "It was opened without its last, unreadable changes."
    aside = _name_aside(path, now)
    kept = f" The damaged file is kept as {aside}." if path.exists() else ""
    text = f"The store {path.name} was damaged ({finding.why}). {said}{kept}"
    mending = Mending(uuid.uuid4().hex, now, text, aside)
    _write_successor(_successor(path, mending), source)
    keep(path, mending)
    _put_in_place(path, mending)
    return text


def _rows(copy: Path | None, marker: Marker | None) -> int:
    if copy is None:
        return 0
    holds = content_finding(copy, marker, with_wal=False).holds
    return 0 if holds is None else holds.journal_rows + holds.outbox_rows


def _rows_without_wal(path: Path, marker: Marker | None) -> int:
    """Return how many rows the damaged store itself still holds, 0 when it is not sound."""
    if header_finding(path).condition is not Condition.SOUND:
        return 0
    return _rows(path, marker)


def _name_aside(path: Path, now: datetime) -> str:
    """Return a dated name that no other damaged file has, nor had before a kill."""
    stamp = now.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    taken = {each.aside for each in mendings(path)}
    name = f"{path.name}.damaged-{stamp}"
    number = 1
    while name in taken or path.with_name(name).exists():
        number += 1
        name = f"{path.name}.damaged-{stamp}-{number}"
    return name


def _successor(path: Path, mending: Mending) -> Path:
    """Return under which passing name lies what is to take the place of the damaged store."""
    return path.with_name(f"{path.name}.mended-{mending.key}")


def _write_successor(successor: Path, source: Path | None) -> None:
    if source is None:
        write_empty(successor)
    else:
        shutil.copyfile(source, successor)
        successor.chmod(FILE_MODE)
    with successor.open("rb") as written:
        os.fsync(written.fileno())


def _put_in_place(path: Path, mending: Mending) -> None:
    """Rename the damaged files and then the successor; nothing where that was done before."""
    successor = _successor(path, mending)
    if not successor.exists():
        return
    # It counts the rows of the damaged one.
    marker_path(path).unlink(missing_ok=True)
    for ending in COMPANIONS:
        target = path.with_name(mending.aside + ending)
        if not target.exists():
            with contextlib.suppress(FileNotFoundError):
                path.with_name(path.name + ending).rename(target)
    sync_folder(path.parent)
    successor.replace(path)
    sync_folder(path.parent)
