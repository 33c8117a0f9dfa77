"""Open the store: check it, mend it, bring it to the newest layout.

Only the owner of the state folder (the daemon, under its lock) mends; a command that runs
beside it opens what is there or says what is wrong.

Mending keeps the damaged files and puts the best that is left in place. Killed at any call, the
next start ends what was begun: first what is to take the place is written under a passing name,
then the incident is put on disk, and from there on only renames are left, which are done again as
far as they were not.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
import shutil
import sqlite3
import uuid
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from msgspec import Struct

from strawbell.edges.store.connection import (
    APPLICATION_ID,
    FILE_MODE,
    FOLDER_MODE,
    NEWEST_VERSION,
    PLANNED_OF,
    PRIMARY_CODE,
    TOUCH,
    connect,
    damaged,
    foreign,
    in_sentences,
    migrations,
    newer,
    sync_folder,
    unusable,
)
from strawbell.edges.store.examine import (
    Condition,
    Finding,
    content_finding,
    header_finding,
    wal_problem,
)
from strawbell.edges.store.rows import moment, planned_of
from strawbell.edges.store.safeguards import (
    Marker,
    Mending,
    copies,
    copy_now,
    incidents_path,
    keep,
    marker_of,
    marker_path,
    mendings,
    newest_good,
    read_marker,
    write_marker,
)
from strawbell.errors import OperationalError, Outlook
from strawbell.model.identity import KEY_BYTES, StoreSecret
from strawbell.words.catalogue import BRITISH

COMPANIONS = ("", "-wal", "-shm", "-journal")
"""A database and the files that SQLite puts beside it."""


RESEND_AFTER_RESTORE_H = 24
"""After a restore, messages older than this are not sent again: what became of them since the
copy was made is not known, and they are stale anyway."""


_NEEDS_THE_GROWER = {errno.EACCES, errno.EPERM, errno.EROFS}
"""Errors that no waiting mends: permissions, and a file system that is read-only."""
_PERMISSIONS = (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN)
"""The same, as SQLite has it."""


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
        said = error.strerror or str(error)
        if error.errno in _NEEDS_THE_GROWER:
            raise unusable(Path(error.filename or path), "", said) from error
        raise _not_opened(path, said) from error


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
        raise unusable(path, "no-folder", error.strerror or "") from error


def _refuse_unusable(path: Path) -> None:
    """Refuse what no repair of ours can help, with the path and a remedy."""
    if path.is_dir():
        raise unusable(path, "folder")
    if path.exists() and not path.is_file():
        raise unusable(path, "no-file")
    if not os.access(path.parent, os.W_OK | os.X_OK):
        raise unusable(path, "closed")
    for ending in COMPANIONS:
        # One of somebody else's stays behind when a command was run as another user.
        file = path.with_name(path.name + ending)
        if file.exists() and not os.access(file, os.R_OK | os.W_OK):
            raise unusable(file, "unreadable")


def _cannot_open(path: Path, error: sqlite3.Error) -> Exception:
    said = str(error)
    if getattr(error, "sqlite_errorcode", 0) & PRIMARY_CODE in _PERMISSIONS:
        return unusable(path, "", said)
    is_for_now = isinstance(error, sqlite3.OperationalError)
    return _not_opened(path, said) if is_for_now else damaged(path, error)


def _not_opened(path: Path, why: str) -> OperationalError:
    return OperationalError(BRITISH.say("store.not-opened", path=str(path), why=why))


def _only_look(path: Path) -> str:
    """Let a command in beside the daemon, or say that the daemon has to mend the store first."""
    if is_being_mended(path):
        raise OperationalError(BRITISH.say("store.half-mended", path=str(path)))
    finding = header_finding(path)
    marker = read_marker(path)
    lost = finding.condition in {Condition.ABSENT, Condition.EMPTY}
    if lost and marker is not None and marker.in_use:
        said = BRITISH.say("store.lost", path=str(path), why=finding.why)
        raise OperationalError(said, Outlook.FOR_GOOD)
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
            (BRITISH.say("store.not-resent"), moment(before)),
        )


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
    """Remove what a kill left in the middle of creating or copying."""
    beside = (f".{each(path).name}-" for each in (incidents_path, marker_path))
    passing = (f"{path.name}.fresh-", f"{path.name}.mended-", *beside)
    for found in path.parent.iterdir():
        if found.name.startswith(passing):
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
    own = _rows(path, marker)
    is_own = own > 0 and own >= (_rows(source, marker) if source else 0)
    copy = source.name if source else ""
    aside = _name_aside(path, now)
    text = BRITISH.say(
        "store.mended",
        store=path.name,
        why=finding.why,
        copy="own" if is_own else copy,
        aside=aside if path.exists() else "",
    )
    mending = Mending(uuid.uuid4().hex, now, text, aside)
    _write_successor(_successor(path, mending), path if is_own else source)
    keep(path, mending)
    _put_in_place(path, mending)
    return text


def _rows(path: Path, marker: Marker | None) -> int:
    """Return how many rows a store holds without a write-ahead file, 0 when it is not sound."""
    holds = content_finding(path, marker, with_wal=False).holds
    return 0 if holds is None else holds.journal_rows + holds.outbox_rows


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
