"""Calendar files: whole or not at all, readable, and a trouble in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from strawbell.edges.folder import CalendarFolder
from strawbell.errors import OperationalError


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    """In a folder that is made for it, and nothing else lies beside it."""
    shelf = CalendarFolder(tmp_path / "calendars")
    assert shelf.read("orchard-corner") is None
    shelf.write("orchard-corner", b"BEGIN:VCALENDAR")
    shelf.write("orchard-corner", b"again")
    assert shelf.read("orchard-corner") == b"again"
    (file,) = (tmp_path / "calendars").iterdir()
    assert file.name == "orchard-corner.ics"


def test_a_file_in_the_place_of_the_folder_is_said(tmp_path: Path) -> None:
    """Nothing of it is touched."""
    (tmp_path / "taken").write_text("mine", encoding="utf-8")
    with pytest.raises(OperationalError, match=r"Look at \[calendar\] path"):
        CalendarFolder(tmp_path / "taken").write("a", b"")
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "mine"
