"""From nothing to the first notice, as a newcomer at a terminal does it."""

from __future__ import annotations

import json
import os
import pty
import re
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from support.forecast_server import Answer, FakeOpenMeteo, calm

START = (datetime.now(UTC) + timedelta(days=30)).date()
PLACES = {
    "results": [
        {
            "name": "Hilltop", "latitude": 47.05, "longitude": 8.31, "elevation": 435.0,
            "country_code": "CH", "timezone": "Europe/Zurich", "admin1": "Lucerne",
            "country": "Switzerland",
        },
        {
            "name": "Hilltop", "latitude": 40.71, "longitude": -74.01, "elevation": 10.0,
            "country_code": "US", "timezone": "America/New_York", "admin1": "New York",
            "country": "United States",
        },
    ]
}  # fmt: skip
PATIENCE_S = 30.0


@pytest.fixture
def geocoder() -> Iterator[FakeOpenMeteo]:
    """A geocoder that knows two places of one name."""
    with FakeOpenMeteo(calm) as running:
        running.fail_at("/v1/search", Answer(200, json.dumps(PLACES).encode()))
        yield running


class Terminal:
    """A newcomer at a terminal: waits for a question, types an answer."""

    def __init__(self, folder: Path, geocoder: FakeOpenMeteo, *more: str) -> None:
        self.seen = ""
        self._answered_to = 0
        self._end, inside = pty.openpty()
        home = {"HOME": str(folder), "XDG_STATE_HOME": str(folder / "state"), "COLUMNS": "80"}
        self._process = subprocess.Popen(
            [
                sys.executable, "-m", "strawbell", "--config", str(folder / "config.toml"),
                "setup", "--mirror", geocoder.base_url, "--no-start", *more,
            ],
            stdin=inside, stdout=inside, stderr=inside, start_new_session=True,
            env={**os.environ, **home},
        )  # fmt: skip
        os.close(inside)

    def sees(self, pattern: str) -> str:
        """Wait until it stands on the screen below the last answer; return all since then."""
        while not re.search(pattern, self.seen[self._answered_to :]):
            part = self._read()
            assert part, f"ended without {pattern!r}: {self.seen!r}"
            self.seen += part
        return self.seen[self._answered_to :]

    def _read(self) -> str:
        """Return what is printed next, nothing when the process has ended."""
        ready, _, _ = select.select([self._end], [], [], PATIENCE_S)
        assert ready, f"it hangs after {self.seen!r}"
        try:
            return os.read(self._end, 4096).decode()
        except OSError:
            return ""

    def breaks_off(self) -> int:
        """Press Ctrl-C, as often as it takes: between prompt and reading one goes unnoticed."""
        for _ in range(int(PATIENCE_S)):
            self._process.send_signal(signal.SIGINT)
            if select.select([self._end], [], [], 1.0)[0]:
                break
        return self.ends()

    def types(self, text: str) -> None:
        """Type a line."""
        self._answered_to = len(self.seen)
        os.write(self._end, f"{text}\n".encode())

    def ends(self) -> int:
        """Return the exit code, with all that was still printed in `seen`."""
        while part := self._read():
            self.seen += part
        code = self._process.wait(PATIENCE_S)
        os.close(self._end)
        return code


def test_seven_answers_make_a_configuration_and_a_first_notice(
    tmp_path: Path, geocoder: FakeOpenMeteo
) -> None:
    """A slip is explained and asked again; a question mark explains; the test notice is there."""
    terminal = Terminal(tmp_path, geocoder)
    terminal.sees("Where is the garden")
    terminal.types("Hilltop")
    terminal.sees(r"2  Hilltop, New York, United States(.|\s)*Which one\?")
    terminal.types("2")
    assert "America/New_York" in terminal.sees("How many bales")
    terminal.types("six")
    assert "a number, such as 6" in terminal.sees(r"is not clear(.|\s)*How many bales")
    terminal.types("6 oat")
    terminal.sees("on your shelf")
    terminal.types("?")
    assert "As printed on the bag" in terminal.sees("on your shelf")
    terminal.types("blood meal")
    terminal.sees("What will grow")
    terminal.types("8 tomatoes")
    terminal.sees("first soaking")
    terminal.types(START.isoformat())
    terminal.sees(r"How shall I tell you\? \[files\]")
    terminal.types("")
    assert terminal.ends() == 0

    text = (tmp_path / "config.toml").read_text()
    assert 'units = "us"' in text
    assert f"start_on = {START.isoformat()}" in text
    assert (tmp_path / "config.toml").stat().st_mode & 0o077 == 0
    assert "Your first working morning" in terminal.seen
    assert len(list((tmp_path / "state" / "strawbell" / "notices").glob("*.eml"))) == 1
    assert not (tmp_path / "setup-unfinished.json").exists()


def test_a_dialogue_broken_off_goes_on_with_what_was_typed(
    tmp_path: Path, geocoder: FakeOpenMeteo
) -> None:
    """Ctrl-C writes no configuration; the next time the answers stand in the brackets."""
    first = Terminal(tmp_path, geocoder)
    first.sees("Where is the garden")
    first.types("47.05, 8.31")
    first.sees("How many bales")
    first.types("4")
    first.sees("on your shelf")
    assert first.breaks_off() == 130
    assert not (tmp_path / "config.toml").exists()

    again = Terminal(tmp_path, geocoder)
    again.sees(r"Where is the garden\? \[47\.05, 8\.31\]")
    again.types("")
    again.sees(r"How many bales.*\[4\]")
    assert again.breaks_off() == 130


def test_a_configuration_that_is_there_stays_as_it_is(
    tmp_path: Path, geocoder: FakeOpenMeteo
) -> None:
    (tmp_path / "config.toml").write_text("mine")
    terminal = Terminal(tmp_path, geocoder)

    assert terminal.ends() == 2
    assert "stays as it is" in terminal.seen
    assert (tmp_path / "config.toml").read_text() == "mine"


def without_terminal(folder: Path, *flags: str) -> subprocess.CompletedProcess[str]:
    """Run it as a script does."""
    return subprocess.run(
        [
            sys.executable, "-m", "strawbell", "--config", str(folder / "config.toml"), "setup",
            "--mirror", "http://127.0.0.1:9", "--no-test", *flags,
        ],
        stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False, timeout=PATIENCE_S,
        env={**os.environ, "HOME": str(folder), "XDG_STATE_HOME": str(folder / "state")},
    )  # fmt: skip


def test_without_a_terminal_flags_answer_everything(tmp_path: Path) -> None:
    flags = ("--place", "47.05,8.31", "--bales", "6", "--day", START.isoformat())
    done = without_terminal(tmp_path, *flags)

    assert done.returncode == 0, done.stderr
    assert "latitude = 47.05" in (tmp_path / "config.toml").read_text()


def test_without_a_terminal_all_that_is_missing_is_told_at_once(tmp_path: Path) -> None:
    done = without_terminal(tmp_path, "--bales", "6")

    assert done.returncode == 2
    assert "--place" in done.stderr
    assert "--day" in done.stderr
    assert "no terminal" in done.stderr
    assert not (tmp_path / "config.toml").exists()


def test_a_dry_run_prints_and_writes_nothing(tmp_path: Path) -> None:
    flags = ("--place", "47.05,8.31", "--bales", "6", "--day", START.isoformat(), "--dry-run")
    done = without_terminal(tmp_path, *flags)

    assert done.returncode == 0
    assert "[[gardens]]" in done.stdout
    assert not (tmp_path / "config.toml").exists()


def test_a_mail_server_nobody_names_is_asked_for_and_not_guessed(tmp_path: Path) -> None:
    """The domain is one that cannot exist (RFC 2606)."""
    done = without_terminal(
        tmp_path, "--place", "47.05,8.31", "--bales", "6", "--day", START.isoformat(),
        "--reach", "grower@garden.invalid",
    )  # fmt: skip

    assert done.returncode == 2
    assert "--mail-server" in done.stderr
    assert "grower@garden.invalid" in done.stderr
