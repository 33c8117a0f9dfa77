"""A checked configuration is kept without secrets, and found again only where nothing changed."""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from msgspec.structs import replace

from strawbell.cli import reach as kept
from strawbell.cli.reach import read_kept, without_secrets
from strawbell.config import load
from strawbell.config.load import read_plain
from strawbell.errors import GrowerError
from strawbell.model.configuration import Configuration

TODAY = date(2027, 3, 1)
TEXT = """
[[gardens]]
name = "Mill lane"
latitude = 52.09
longitude = -1.95
time_zone = "Europe/London"
  [[gardens.batches]]
  name = "Long row"
  bales = 6
  start_on = 2027-04-10
[email]
host = "smtp.example.org"
username = "grower@example.org"
recipients = ["grower@example.org"]
"""
SECRET = "correct horse battery"


class Desk:
    """A configuration file and a state folder; counts how often it is checked for real."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.path = folder / "config.toml"
        self.path.write_text(TEXT)
        self.environ = {
            "STATE_DIRECTORY": str(folder / "state"),
            "STRAWBELL_EMAIL__PASSWORD": SECRET,
        }
        self.checked = 0

        def counted(path: Path | None, environ: dict[str, str]) -> Configuration:
            self.checked += 1
            return read_plain(path, environ)

        monkeypatch.setattr(load, "read_plain", counted)

    def read(self, today: date = TODAY) -> Configuration:
        """Read it as a command does."""
        return read_kept(self.path, self.environ, today)

    @property
    def file(self) -> Path:
        """The one kept file."""
        (found,) = (Path(self.environ["STATE_DIRECTORY"]) / "checked").iterdir()
        return found


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """A desk on which nothing was kept yet."""
    return Desk(tmp_path, monkeypatch)


@pytest.mark.parametrize("change", ["written", "open to the group", "gone"])
def test_a_password_file_that_changed_is_looked_at_anew(desk: Desk, change: str) -> None:
    password = desk.path.with_name("password")
    password.write_text(SECRET)
    password.chmod(0o600)
    del desk.environ["STRAWBELL_EMAIL__PASSWORD"]
    desk.path.write_text(TEXT.replace("username", 'password_file = "password"\nusername'))
    desk.read()
    if change == "written":
        password.write_text(SECRET + "!")
    elif change == "gone":
        password.unlink()
    else:
        password.chmod(0o640)

    try:
        desk.read()
    except GrowerError:
        assert change == "gone"

    assert desk.checked == 2


def test_the_second_reading_is_the_same_and_checks_nothing(desk: Desk) -> None:
    first, second = desk.read(), desk.read()

    assert first == second == without_secrets(read_plain(desk.path, desk.environ))
    assert desk.checked == 1


def test_no_secret_is_kept(desk: Desk) -> None:
    """Neither in what is returned nor in the file, which is for its owner alone."""
    configuration = desk.read()

    assert configuration.mail is not None
    assert configuration.mail.password is None
    assert SECRET.encode() not in desk.file.read_bytes()
    assert desk.file.stat().st_mode & 0o077 == 0


CHANGES: dict[str, Callable[[Desk], object]] = {
    "a byte of the file": lambda desk: desk.path.write_text(TEXT + "\n"),
    "who may read the file": lambda desk: desk.path.chmod(0o600),
    "a variable": lambda desk: desk.environ.update(STRAWBELL_UNITS="us"),
    "the build": lambda _desk: setattr(kept, "build", lambda _rooms: "another"),
}


@pytest.mark.parametrize("what", CHANGES)
def test_what_it_came_of_has_changed_and_it_is_checked_anew(
    desk: Desk, what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kept, "build", kept.build)
    desk.path.chmod(0o644)
    desk.read()
    CHANGES[what](desk)
    desk.read()

    assert desk.checked == 2


def test_each_day_is_checked_anew(desk: Desk) -> None:
    """What is odd about a plan depends on the day."""
    desk.read()
    desk.read(date(2027, 3, 2))
    assert desk.checked == 2


DOUBTS: dict[str, Callable[[Path], object]] = {
    "cut short": lambda file: file.write_bytes(file.read_bytes()[:-20]),
    "something else": lambda file: file.write_bytes(pickle.dumps("what?")),
    "nothing": lambda file: file.write_bytes(b""),
    "writable by others": lambda file: file.chmod(0o666),
    "a link": lambda file: (file.rename(file.with_name("aside")), file.symlink_to("aside")),
}


@pytest.mark.parametrize("doubt", DOUBTS)
def test_on_any_doubt_it_is_checked_anew(desk: Desk, doubt: str) -> None:
    before = desk.read()
    DOUBTS[doubt](desk.file)

    assert desk.read() == before
    assert desk.checked == 2


def test_a_mistake_is_told_each_time_and_never_kept(desk: Desk) -> None:
    desk.path.write_text(TEXT.replace("52.09", "152.09"))
    for _ in range(2):
        with pytest.raises(GrowerError, match="latitude"):
            desk.read()
    assert desk.checked == 2


def test_a_folder_that_cannot_be_written_costs_only_time(desk: Desk, tmp_path: Path) -> None:
    (tmp_path / "state").write_text("a file where the folder should be")
    assert desk.read().gardens[0].name == "Mill lane"


def test_with_credentials_of_a_unit_nothing_is_kept(desk: Desk, tmp_path: Path) -> None:
    desk.environ["CREDENTIALS_DIRECTORY"] = str(tmp_path)
    desk.read()
    assert not os.path.lexists(tmp_path / "state")


def test_only_secrets_are_taken_out(desk: Desk) -> None:
    """What is in no representation is a secret; all else stays."""
    full = read_plain(desk.path, desk.environ)
    assert full.mail is not None

    assert without_secrets(full) == replace(full, mail=replace(full.mail, password=None))
