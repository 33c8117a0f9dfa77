"""Folders that others read: every notice as a file that any mail program opens, and the calendars.

Both work without network or desktop.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
from pathlib import Path

from strawbell.edges.machine import is_own, replace_whole
from strawbell.edges.mime import compose
from strawbell.errors import OperationalError
from strawbell.model.garden import slug
from strawbell.model.notice import Delivery, Notice, OutboxRow, Outcome
from strawbell.words.catalogue import BRITISH

SENDER = "Strawbell <strawbell@strawbell.invalid>"
RECIPIENT = "Grower <grower@strawbell.invalid>"
"""The files are read, not sent, so the addresses are ones that cannot exist (RFC 2606)."""

SLUG_LIMIT_CHARACTERS = 40

_GROWER_MENDS = {errno.EACCES, errno.EPERM, errno.ENOTDIR, errno.EROFS, errno.ELOOP, errno.EEXIST}


def file_name(row: OutboxRow) -> str:
    """Return the file name of a row; the same row always has the same."""
    mark = hashlib.sha256(row.unique_key.encode("utf-8", "replace")).hexdigest()[:10]
    garden = slug(row.garden)[:SLUG_LIMIT_CHARACTERS].rstrip("-")
    return f"{row.local_date.isoformat()}-{garden}-{row.kind.value}-{mark}.eml"


class FolderChannel:
    """Writes each notice into a folder as an .eml file."""

    name = "folder"
    recipients = ("folder",)

    def __init__(self, path: Path) -> None:
        """Name the folder; it is made when the first notice is written."""
        self._path = path.absolute()

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        """Return the bytes of the file."""
        del recipient
        return compose(notice, SENDER, RECIPIENT, message_id)

    def send(self, row: OutboxRow) -> Delivery:
        """Write the file; after a crash it is there whole or not at all."""
        name = file_name(row)
        try:
            self._path.mkdir(parents=True, exist_ok=True, mode=0o700)
            folder = os.open(self._path, os.O_RDONLY | os.O_DIRECTORY)
        except OSError as error:
            return self._refusal(error)
        try:
            _write_whole(folder, name, row.body)
        except OSError as error:
            return self._refusal(error)
        finally:
            os.close(folder)
        return Delivery(Outcome.ACCEPTED, BRITISH.say("folder.written", name=name))

    def close(self) -> None:
        """Nothing is kept open."""

    def _refusal(self, error: OSError) -> Delivery:
        return Delivery(
            Outcome.LATER,
            BRITISH.say("folder.refused", path=str(self._path), why=error.strerror or str(error)),
            settings_problem=error.errno in _GROWER_MENDS,
            own_trouble=is_own(error),
        )


def _write_whole(folder: int, name: str, body: bytes) -> None:
    """Write under a passing name, sync, rename, sync the folder.

    Names are taken relative to the open folder and links are not followed, so nothing lands
    outside of it.
    """
    unfinished = f".{name}.unfinished"
    with contextlib.suppress(FileNotFoundError):
        os.unlink(unfinished, dir_fd=folder)
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW
    descriptor = os.open(unfinished, flags, 0o600, dir_fd=folder)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(body)
            file.flush()
            os.fsync(file.fileno())
        os.rename(unfinished, name, src_dir_fd=folder, dst_dir_fd=folder)
    except OSError:
        with contextlib.suppress(OSError):
            os.unlink(unfinished, dir_fd=folder)
        raise
    os.fsync(folder)


CALENDAR_SUFFIX = ".ics"
"""As calendars are named (RFC 5545, section 8.1)."""


class CalendarFolder:
    """`strawbell.app.ports.Calendars` in a folder."""

    def __init__(self, path: Path) -> None:
        """Keep the folder; it is made when something is written."""
        self._path = path

    def read(self, name: str) -> bytes | None:
        """Return a calendar as it was written last, None when it is not there."""
        try:
            return self._file(name).read_bytes()
        except FileNotFoundError:
            return None
        except OSError as error:
            raise self._trouble(error) from error

    def write(self, name: str, content: bytes) -> None:
        """Replace a calendar at once, so that no reader sees half of it."""
        try:
            self._path.mkdir(parents=True, exist_ok=True)
            replace_whole(self._file(name), content)
        except OSError as error:
            raise self._trouble(error) from error

    def _file(self, name: str) -> Path:
        return self._path / f"{name}{CALENDAR_SUFFIX}"

    def _trouble(self, error: OSError) -> OperationalError:
        why = error.strerror or str(error)
        return OperationalError(BRITISH.say("folder.calendars", path=str(self._path), why=why))
