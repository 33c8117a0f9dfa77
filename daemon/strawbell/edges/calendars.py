"""Calendar files of the gardens in one folder, each replaced whole."""

from __future__ import annotations

from pathlib import Path

from strawbell.edges.whole_file import replace_whole
from strawbell.errors import OperationalError, Outlook

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
        return OperationalError(
            f"The calendar folder {self._path} did not work: {error.strerror or error}. "
            "Look at [calendar] path, free space and permissions.",
            Outlook.FOR_NOW,
        )
