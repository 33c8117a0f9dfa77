"""Open the store: check it, mend it, bring it to the newest layout.

Only the owner of the state folder (the daemon, under its lock) mends; a command that runs
beside it opens what is there or says what is wrong.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
import sqlite3
import uuid
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

from msgspec import Struct

from strawbell.edges.store.backups import copy_now
from strawbell.edges.store.connection import (
    FILE_MODE,
    FOLDER_MODE,
    connect,
    foreign,
    in_sentences,
    newer,
    sync_folder,
    unusable,
)
from strawbell.edges.store.examine import Condition, header_finding
from strawbell.edges.store.marker import marker_of, mendings, read_marker, write_marker
from strawbell.edges.store.mending import COMPANIONS, is_being_mended, mend, write_empty
from strawbell.edges.store.rows import moment, planned_of
from strawbell.edges.store.schema import NEWEST_VERSION, PLANNED_OF, TOUCH, migrations
from strawbell.errors import OperationalError, Outlook
from strawbell.model.secret import KEY_BYTES, StoreSecret

RESEND_AFTER_RESTORE_H = 24
"""After a restore, messages older than this are not sent again: what became of them since the
copy was made is not known, and they are stale anyway."""


_NEEDS_THE_GROWER = {errno.EACCES, errno.EPERM, errno.EROFS}
"""Errors that no waiting mends: permissions, and a file system that is read-only."""


class Opened(Struct, frozen=True):
    """An open database, and what had to be mended to get there ("" for nothing)."""

    connection: sqlite3.Connection
    secret: StoreSecret
    incident: str = ""


def open_database(path: Path, now: datetime, *, owner: bool) -> Opened:
    """Return the open store, checked and in the newest layout."""
    try:
        return _open(path, now, owner=owner)
    except OSError as error:
        if error.errno in _NEEDS_THE_GROWER:
            raise unusable(Path(error.filename or path), str(error.strerror)) from error
        raise OperationalError(
            f"The store {path} cannot be opened now: {error.strerror or error}. "
            "Look at free space, open files and permissions."
        ) from error


def _open(path: Path, now: datetime, *, owner: bool) -> Opened:
    _prepare_folder(path)
    _refuse_unusable(path)
    try:
        incident = mend(path, now) if owner else _only_look(path)
        connection = _create_or_connect(path)
    except sqlite3.Error as error:
        raise _cannot_open(path, error) from error
    try:
        with in_sentences(path):
            _migrate(connection, path)
            secret = _secret_of(connection)
            if owner:
                _let_old_messages_rest(connection, path)
                connection.execute(TOUCH)
            write_marker(path, marker_of(connection))
    except BaseException:
        connection.close()
        raise
    return Opened(connection, secret, incident)


def _prepare_folder(path: Path) -> None:
    try:
        path.parent.mkdir(mode=FOLDER_MODE, parents=True, exist_ok=True)
    except OSError as error:
        raise unusable(path, f"its folder cannot be made: {error.strerror}") from error


def _refuse_unusable(path: Path) -> None:
    """Refuse what no repair of ours can help, with the path and a remedy."""
    if path.is_dir():
        raise unusable(path, "it is a folder, not a file")
    if path.exists() and not path.is_file():
        raise unusable(path, "it is not a regular file")
    if not os.access(path.parent, os.W_OK | os.X_OK):
        raise unusable(path, "its folder cannot be written")
    for ending in COMPANIONS:
        # One of somebody else's stays behind when a command was run as another user.
        file = path.with_name(path.name + ending)
        if file.exists() and not os.access(file, os.R_OK | os.W_OK):
            raise unusable(file, "it cannot be read and written")


def _cannot_open(path: Path, error: sqlite3.Error) -> Exception:
    said = str(error)
    if "readonly" in said or "unable to open" in said:
        return unusable(path, said)
    if isinstance(error, sqlite3.OperationalError):
        return OperationalError(f"The store {path} cannot be opened now: {said}.")
    return OperationalError(f"The store {path} is damaged: {said}.", Outlook.FOR_GOOD)


def _only_look(path: Path) -> str:
    """Let a command in beside the daemon, or say that the daemon has to mend the store first."""
    if is_being_mended(path):
        raise OperationalError(
            f"The store {path} is being mended. Start `strawbell run` to end that, and try again."
        )
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
        raise foreign(path, finding.why)
    return ""


def _create_or_connect(path: Path) -> sqlite3.Connection:
    if _is_blank(path):
        with _turn_to_create(path):
            # Another process may have been first, and uses its companions by now.
            if _is_blank(path):
                _create(path)
    return connect(path)


def _is_blank(path: Path) -> bool:
    return not path.exists() or path.stat().st_size == 0


@contextlib.contextmanager
def _turn_to_create(path: Path) -> Iterator[None]:
    """Let one process at a time look whether there is a store, and put it in place."""
    turn = path.with_name(f".{path.name}.begin")
    descriptor = os.open(turn, os.O_WRONLY | os.O_CREAT | os.O_NOFOLLOW, FILE_MODE)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
        # Who waits at the file that is gone finds the store in place.
        turn.unlink(missing_ok=True)
    finally:
        os.close(descriptor)


def _create(path: Path) -> None:
    """Put an empty store in place, whole or not at all."""
    for ending in COMPANIONS:
        # Companions of a file that is gone would be folded into the new one.
        path.with_name(path.name + ending).unlink(missing_ok=True)
    fresh = path.with_name(f"{path.name}.fresh-{os.getpid()}")
    write_empty(fresh)
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
        raise newer(path)
    if 0 < version < NEWEST_VERSION:
        copy_now(connection, path, f"before-version-{NEWEST_VERSION}")
    connection.create_function(PLANNED_OF, 1, planned_of, deterministic=True)
    for migration in migrations() if version < NEWEST_VERSION else ():
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


def _secret_of(connection: sqlite3.Connection) -> StoreSecret:
    """Return the secret of a store, made now where it has none that is fit."""
    unfit = f"(secret IS NULL OR length(secret) <> {KEY_BYTES})"
    if connection.execute(f"SELECT {unfit} FROM identity").fetchone()[0]:  # noqa: S608
        # Asked again inside: another process may have been first.
        connection.execute(
            f"UPDATE identity SET secret = ? WHERE {unfit}",  # noqa: S608 - a number of ours
            (os.urandom(KEY_BYTES),),
        )
    return StoreSecret(connection.execute("SELECT secret FROM identity").fetchone()[0])


def _let_old_messages_rest(connection: sqlite3.Connection, path: Path) -> None:
    """Expire what was old when the store was mended; a kill may have come in between."""
    for mending in mendings(path):
        before = mending.mended_at - timedelta(hours=RESEND_AFTER_RESTORE_H)
        connection.execute(
            "UPDATE outbox SET state = 'expired', detail = ?"
            " WHERE state IN ('due', 'sending', 'later', 'unknown') AND created_at < ?",
            ("Not sent again after the store was restored from a copy.", moment(before)),
        )
