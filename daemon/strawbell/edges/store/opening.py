"""Open the store: check it, mend it, bring it to the newest layout.

Only the owner of the state folder (the daemon, under its lock) mends; a command that runs
beside it opens what is there or says what is wrong.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from strawbell.edges.store.backups import copies, copy_now, newest_good
from strawbell.edges.store.connection import (
    FILE_MODE,
    FOLDER_MODE,
    connect,
    in_sentences,
    sync_folder,
)
from strawbell.edges.store.examine import (
    INSPECTION_PREFIX,
    Condition,
    Finding,
    content_finding,
    header_finding,
    wal_of,
    wal_problem,
)
from strawbell.edges.store.marker import Marker, marker_of, read_marker, write_marker
from strawbell.edges.store.rows import moment
from strawbell.edges.store.schema import APPLICATION_ID, MIGRATIONS, NEWEST_VERSION, TOUCH
from strawbell.errors import GrowerError, OperationalError, Outlook, Problem

RESEND_AFTER_RESTORE_H = 24
"""After a restore, messages older than this are not sent again: what became of them since the
copy was made is not known, and they are stale anyway."""


@dataclass(frozen=True, slots=True)
class Opened:
    """An open database, and what had to be mended to get there ("" for nothing)."""

    connection: sqlite3.Connection
    incident: str = ""


def open_database(path: Path, now: datetime, *, owner: bool) -> Opened:
    """Return the open store, checked and in the newest layout."""
    try:
        return _open(path, now, owner=owner)
    except OSError as error:
        raise OperationalError(
            f"The store {path} cannot be opened now: {error.strerror or error}. "
            "Look at free space, open files and permissions."
        ) from error


def _open(path: Path, now: datetime, *, owner: bool) -> Opened:
    _prepare_folder(path)
    _refuse_unusable(path)
    incident = _mend(path, now) if owner else _only_look(path)
    try:
        connection = _create_or_connect(path)
    except sqlite3.Error as error:
        raise _cannot_open(path, error) from error
    try:
        with in_sentences(path):
            _migrate(connection, path)
            if incident:
                _let_old_messages_rest(connection, now)
            if owner:
                connection.execute(TOUCH)
            write_marker(path, marker_of(connection))
    except BaseException:
        connection.close()
        raise
    return Opened(connection, incident)


def _prepare_folder(path: Path) -> None:
    try:
        path.parent.mkdir(mode=FOLDER_MODE, parents=True, exist_ok=True)
    except OSError as error:
        raise _mend_path(path, f"its folder cannot be made: {error.strerror}") from error


def _refuse_unusable(path: Path) -> None:
    """Refuse what no repair of ours can help, with the path and a remedy."""
    if path.is_dir():
        raise _mend_path(path, "it is a folder, not a file")
    if path.exists() and not path.is_file():
        raise _mend_path(path, "it is not a regular file")
    if not os.access(path.parent, os.W_OK | os.X_OK):
        raise _mend_path(path, "its folder cannot be written")
    if path.exists() and not os.access(path, os.R_OK | os.W_OK):
        raise _mend_path(path, "it cannot be read and written")


def _mend_path(path: Path, what: str) -> GrowerError:
    return GrowerError(
        Problem(
            what=f"the store cannot be used: {what}",
            where=str(path),
            allowed="a file in a folder that Strawbell may write",
            remedy="Mend its permissions or give another path in [state] path.",
        )
    )


def _foreign(path: Path, finding: Finding) -> GrowerError:
    return GrowerError(
        Problem(
            what=f"this is not a store of Strawbell: {finding.why}",
            where=str(path),
            remedy="It was left as it is. Give another path in [state] path.",
        )
    )


def _newer(path: Path) -> GrowerError:
    return GrowerError(
        Problem(
            what="a newer version of Strawbell wrote this store",
            where=str(path),
            remedy="Update Strawbell, or give another path in [state] path.",
        )
    )


def _cannot_open(path: Path, error: sqlite3.Error) -> Exception:
    said = str(error)
    if "readonly" in said or "unable to open" in said:
        return _mend_path(path, said)
    if isinstance(error, sqlite3.OperationalError):
        return OperationalError(f"The store {path} cannot be opened now: {said}.")
    return OperationalError(f"The store {path} is damaged: {said}.", Outlook.FOR_GOOD)


def _only_look(path: Path) -> str:
    """Let a command in beside the daemon, or say that the daemon has to mend the store first."""
    finding = header_finding(path)
    marker = read_marker(path)
    lost = finding.condition in {Condition.ABSENT, Condition.EMPTY}
    if lost and marker is not None and marker.in_use:
        raise OperationalError(
            f"The store {path} was in use, and {finding.why}."
            " Start `strawbell run` to restore the last copy.",
            Outlook.FOR_GOOD,
        )
    if finding.condition is Condition.FOREIGN:
        raise _foreign(path, finding)
    return ""


def _mend(path: Path, now: datetime) -> str:
    """Return what was mended, in one sentence; "" when the store is sound or new."""
    _tidy(path)
    marker = read_marker(path)
    was_ours = marker is not None or bool(copies(path))
    finding = _full_finding(path, marker)
    if finding.condition is Condition.NEWER:
        raise _newer(path)
    if finding.condition is Condition.SOUND:
        return ""
    if finding.condition is Condition.FOREIGN and not was_ours:
        raise _foreign(path, finding)
    if finding.condition in {Condition.ABSENT, Condition.EMPTY} and not was_ours:
        return ""
    return _restore(path, now, marker, finding)


def _tidy(path: Path) -> None:
    """Remove what a kill left in the middle of creating or inspecting."""
    for found in path.parent.iterdir():
        if found.name.startswith(INSPECTION_PREFIX):
            shutil.rmtree(found, ignore_errors=True)
        elif found.name.startswith(f"{path.name}.fresh-"):
            found.unlink(missing_ok=True)


def _full_finding(path: Path, marker: Marker | None) -> Finding:
    finding = header_finding(path)
    if finding.condition is not Condition.SOUND:
        return finding
    problem = wal_problem(wal_of(path))
    if problem is not None:
        return Finding(Condition.DAMAGED, problem)
    return content_finding(path, marker)


def _restore(path: Path, now: datetime, marker: Marker | None, finding: Finding) -> str:
    """Put the damaged files aside under a dated name and the best remaining copy in place."""
    aside = _put_aside(path, now)
    kept = f" The damaged file is kept as {aside.name}." if aside is not None else ""
    said = f"The store {path.name} was damaged ({finding.why})."
    copy = newest_good(path)
    last = _rows_without_wal(aside, marker) if aside is not None else 0
    if aside is not None and last > 0 and last >= _rows(copy, marker):
        _put_in_place(aside, path)
        return f"{said} It was opened without its last, unreadable changes.{kept}"
    if copy is not None:
        _put_in_place(copy, path)
        return f"{said} The copy {copy.name} was restored.{kept}"
    return f"{said} There was no good copy, so it begins anew.{kept}"


def _rows(copy: Path | None, marker: Marker | None) -> int:
    if copy is None:
        return 0
    holds = content_finding(copy, marker, with_wal=False).holds
    return 0 if holds is None else holds.journal_rows + holds.outbox_rows


def _rows_without_wal(aside: Path, marker: Marker | None) -> int:
    """Return how many rows the damaged store itself still holds, 0 when it is not sound."""
    if header_finding(aside).condition is not Condition.SOUND:
        return 0
    return _rows(aside, marker)


def _put_aside(path: Path, now: datetime) -> Path | None:
    """Rename the store and its companions; None when there was no file to keep."""
    stamp = now.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    target = path.with_name(f"{path.name}.damaged-{stamp}")
    number = 1
    while target.exists():
        number += 1
        target = path.with_name(f"{path.name}.damaged-{stamp}-{number}")
    found = path.exists()
    for ending in ("", "-wal", "-shm", "-journal"):
        with contextlib.suppress(FileNotFoundError):
            path.with_name(path.name + ending).rename(target.with_name(target.name + ending))
    sync_folder(path.parent)
    return target if found else None


def _put_in_place(source: Path, path: Path) -> None:
    unfinished = path.with_name(f"{path.name}.unfinished")
    shutil.copyfile(source, unfinished)
    unfinished.chmod(FILE_MODE)
    with unfinished.open("rb") as written:
        os.fsync(written.fileno())
    unfinished.replace(path)
    sync_folder(path.parent)


def _create_or_connect(path: Path) -> sqlite3.Connection:
    if not path.exists() or path.stat().st_size == 0:
        _create(path)
    return connect(path)


def _create(path: Path) -> None:
    """Put an empty store in place, whole or not at all, with the mark of whose it is."""
    for ending in ("", "-journal", "-wal", "-shm"):
        # Companions of a file that is gone would be folded into the new one.
        path.with_name(path.name + ending).unlink(missing_ok=True)
    fresh = path.with_name(f"{path.name}.fresh-{os.getpid()}")
    fresh.unlink(missing_ok=True)
    fresh.touch(mode=FILE_MODE)
    with contextlib.closing(sqlite3.connect(fresh, isolation_level=None)) as connection:
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    try:
        # Not renamed: another process may have put its own here in the meantime.
        with contextlib.suppress(FileExistsError):
            path.hardlink_to(fresh)
    except OSError:
        # A file system without links.
        fresh.replace(path)
    finally:
        fresh.unlink(missing_ok=True)
    sync_folder(path.parent)


def _migrate(connection: sqlite3.Connection, path: Path) -> None:
    """Apply the missing steps; each is one transaction with its own record."""
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    if version > NEWEST_VERSION:
        raise _newer(path)
    if 0 < version < NEWEST_VERSION:
        copy_now(connection, path, f"before-version-{NEWEST_VERSION}")
    for migration in MIGRATIONS:
        connection.execute("BEGIN IMMEDIATE")
        try:
            # Asked again inside: another process may have been first.
            if connection.execute("PRAGMA user_version").fetchone()[0] < migration.number:
                for statement in migration.statements:
                    connection.execute(statement)
                if migration.number == 1:
                    connection.execute(
                        "INSERT INTO identity (only_row, store_id) VALUES (1, ?)",
                        (uuid.uuid4().hex,),
                    )
                connection.execute(f"PRAGMA user_version = {migration.number}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


def _let_old_messages_rest(connection: sqlite3.Connection, now: datetime) -> None:
    before = now - timedelta(hours=RESEND_AFTER_RESTORE_H)
    connection.execute(
        "UPDATE outbox SET state = 'expired', detail = ?"
        " WHERE state IN ('due', 'sending', 'later', 'unknown') AND created_at < ?",
        ("Not sent again after the store was restored from a copy.", moment(before)),
    )
