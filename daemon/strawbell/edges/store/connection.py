"""A database file: how it is opened, how it is laid out, and its failures in sentences.

The layout is one of numbered steps; `layout.sql` holds their statements.

Decided 2026-11-26: What no waiting mends ends the start: permissions and a read-only file system,
of the files that SQLite puts beside the store as well. A full or failing disk is waited for.
"""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from pkgutil import get_data

from msgspec import Struct

from strawbell.errors import Defect, GrowerError, OperationalError, Outlook, Problem
from strawbell.words.catalogue import BRITISH

BUSY_TIMEOUT_S = 5.0
"""How long a write waits for another process, such as a command beside the daemon."""

CHECKPOINT_PAGES = 64
"""The write-ahead file is folded in at a quarter of a megabyte: small disks stay usable, and
little depends on it when it is lost."""

PRIMARY_CODE = 0xFF
"""The part of SQLite's extended result codes that is the plain one."""

FILE_MODE = 0o600
FOLDER_MODE = 0o700


def connect(path: Path) -> sqlite3.Connection:
    """Open a database for one writer guarded by a lock of its own.

    WAL with synchronous FULL: what was committed survives a power cut, which is what "sent"
    has to do (SQLite documentation, "Write-Ahead Logging" and "PRAGMA synchronous").
    """
    connection = sqlite3.connect(
        path, timeout=BUSY_TIMEOUT_S, isolation_level=None, check_same_thread=False
    )
    try:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute(f"PRAGMA wal_autocheckpoint = {CHECKPOINT_PAGES}")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA trusted_schema = OFF")
    except BaseException:
        connection.close()
        raise
    return connection


def is_passing(error: sqlite3.Error) -> bool:
    """Return whether an error says nothing of the content: a busy, full or failing disk.

    A file that is shorter than it says is damaged, not passing.
    """
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)
    passing = (
        sqlite3.SQLITE_BUSY,
        sqlite3.SQLITE_LOCKED,
        sqlite3.SQLITE_NOMEM,
        sqlite3.SQLITE_FULL,
        sqlite3.SQLITE_CANTOPEN,
        sqlite3.SQLITE_IOERR,
    )
    return code & PRIMARY_CODE in passing and code != sqlite3.SQLITE_IOERR_SHORT_READ


def problem_of(connection: sqlite3.Connection) -> str | None:
    """Return what SQLite finds wrong with a database, None when it is sound.

    Raises `sqlite3.Error` where it could not look.
    """
    try:
        found = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    except sqlite3.DatabaseError as error:
        if is_passing(error):
            raise
        return str(error)
    except UnicodeDecodeError:
        # SQLite names what is wrong, and the name is what is wrong.
        return BRITISH.say("finding.no-layout")
    return None if found == "ok" else str(found)


@contextmanager
def in_sentences(path: Path) -> Iterator[None]:
    """Turn failures of SQLite into errors of ours; a broken rule of the store is our defect."""
    try:
        yield
    except sqlite3.IntegrityError as error:
        raise Defect(f"The store refused a change: {error}.") from error
    except sqlite3.ProgrammingError as error:
        raise Defect(f"The store was used wrongly: {error}.") from error
    except sqlite3.OperationalError as error:
        if getattr(error, "sqlite_errorcode", 0) & PRIMARY_CODE == sqlite3.SQLITE_BUSY:
            said = BRITISH.say("store.busy", path=str(path), seconds=f"{BUSY_TIMEOUT_S:g}")
            raise OperationalError(said) from error
        raise _not_taken(path, str(error)) from error
    except sqlite3.DatabaseError as error:
        raise damaged(path, error) from error


def sync_folder(folder: Path) -> None:
    """Make renames in a folder survive a power cut."""
    with files_in_sentences(folder):
        descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


@contextmanager
def files_in_sentences(path: Path) -> Iterator[None]:
    """Turn failures of the files beside a database, such as its copies, into errors of ours."""
    try:
        yield
    except OSError as error:
        raise _not_taken(error.filename or path, error.strerror or str(error)) from error


def _not_taken(path: str | Path, why: str) -> OperationalError:
    return OperationalError(BRITISH.say("store.not-taken", path=str(path), why=why))


def damaged(path: Path, error: sqlite3.Error) -> OperationalError:
    """Return that a store has to be mended, which a start does."""
    said = BRITISH.say("store.damaged", path=str(path), why=str(error))
    return OperationalError(said, Outlook.FOR_GOOD)


def unusable(path: Path, why: str, said: str = "") -> GrowerError:
    """Return that a path cannot be a store; `why` as in the catalogue, or as the system `said`."""
    return _refused(
        path,
        BRITISH.say("store.unusable", why=why, said=said),
        BRITISH.say("store.permissions"),
        BRITISH.say("store.writable"),
    )


def foreign(path: Path, why: str) -> GrowerError:
    """Return that a file was never a store of Strawbell."""
    return _refused(path, BRITISH.say("store.foreign", why=why), BRITISH.say("store.elsewhere"))


def newer(path: Path) -> GrowerError:
    """Return that a newer version wrote a store."""
    return _refused(path, BRITISH.say("store.newer"), BRITISH.say("store.update"))


def _refused(path: Path, what: str, remedy: str, allowed: str = "") -> GrowerError:
    return GrowerError(Problem(what=what, where=str(path), allowed=allowed, remedy=remedy))


APPLICATION_ID = 0x53424C31
"""Marks a database as a Strawbell store ("SBL1"), so that no other program's is ever touched."""
TOUCH = "UPDATE identity SET touched = touched + 1"
"""Puts the identity into the write-ahead file, so that a file of another store is recognised."""
PLANNED_OF = "planned_of"
"""The function of ours that one of the statements calls: `strawbell.edges.store.rows.planned_of`.
"""
NEWEST_VERSION = 6
"""The number of the last step."""
_STEP = re.compile(r"^-- (\d+): .*$", re.MULTILINE)


class Migration(Struct, frozen=True):
    """One step from version `number` - 1 to `number`."""

    number: int
    statements: tuple[str, ...]


@cache
def migrations() -> tuple[Migration, ...]:
    """Return all steps, oldest first; only a store that lacks one has to read them."""
    return tuple(_steps((get_data(__package__, "layout.sql") or b"").decode()))


def _steps(text: str) -> Iterator[Migration]:
    _, *parts = _STEP.split(text)
    for number, statements in zip(parts[::2], parts[1::2], strict=True):
        yield Migration(int(number), tuple(statements.strip().split("\n\n")))
