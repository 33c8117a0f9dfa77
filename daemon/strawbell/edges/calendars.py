"""Calendar files of the gardens in one folder, each replaced whole."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from strawbell.errors import OperationalError, Outlook

CALENDAR_SUFFIX = ".ics"
"""As calendars are named (RFC 5545, section 8.1)."""
READABLE = 0o644
"""A calendar is there for other programs to read; it holds no more than the plan."""


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
            descriptor, unfinished = tempfile.mkstemp(dir=self._path, prefix=f".{name}-")
            try:
                with os.fdopen(descriptor, "wb") as file:
                    file.write(content)
                    file.flush()
                    os.fsync(file.fileno())
                Path(unfinished).chmod(READABLE)
                Path(unfinished).replace(self._file(name))
            except OSError:
                Path(unfinished).unlink(missing_ok=True)
                raise
        except OSError as error:
            raise self._trouble(error) from error

    def _file(self, name: str) -> Path:
        return self._path / f"{name}{CALENDAR_SUFFIX}"

    def _trouble(self, error: OSError) -> OperationalError:
        return OperationalError(
            f"The calendar folder {self._path} did not work: {error.strerror or error}. "
            "Look at [calendar] path, free space and permissions.",
            Outlook.FOR_NOW,
        )
