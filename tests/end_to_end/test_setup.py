"""From nothing to the first notice, as a newcomer at a terminal does it."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from support.forecast_server import Answer, FakeOpenMeteo, calm
from support.push_server import push_server
from support.terminal import Terminal

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


def at_a_terminal(folder: Path, geocoder: FakeOpenMeteo, *more: str) -> Terminal:
    """Return `strawbell setup` as a newcomer begins it."""
    home = {"HOME": str(folder), "XDG_STATE_HOME": str(folder / "state")}
    return Terminal(
        [
            sys.executable, "-m", "strawbell", "--config", str(folder / "config.toml"),
            "setup", "--mirror", geocoder.base_url, "--no-start", *more,
        ],
        {**os.environ, **home},
    )  # fmt: skip


def test_seven_answers_make_a_configuration_and_a_first_notice(
    tmp_path: Path, geocoder: FakeOpenMeteo
) -> None:
    """A slip is explained and asked again; a question mark explains; the test notice is there."""
    terminal = at_a_terminal(tmp_path, geocoder)
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
    first = at_a_terminal(tmp_path, geocoder)
    first.sees("Where is the garden")
    first.types("47.05, 8.31")
    first.sees("How many bales")
    first.types("4")
    first.sees("on your shelf")
    assert first.breaks_off() == 130
    assert not (tmp_path / "config.toml").exists()

    again = at_a_terminal(tmp_path, geocoder)
    again.sees(r"Where is the garden\? \[47\.05, 8\.31\]")
    again.types("")
    again.sees(r"How many bales.*\[4\]")
    assert again.breaks_off() == 130


def test_a_configuration_that_is_there_stays_as_it_is(
    tmp_path: Path, geocoder: FakeOpenMeteo
) -> None:
    (tmp_path / "config.toml").write_text("mine")
    terminal = at_a_terminal(tmp_path, geocoder)

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


def to_the_ways(terminal: Terminal) -> None:
    """Answer everything up to how to be told."""
    for question, answer in (
        ("Where is the garden", "47.05, 8.31"),
        ("How many bales", "6"),
        ("on your shelf", ""),
        ("What will grow", ""),
        ("first soaking", START.isoformat()),
    ):
        terminal.sees(question)
        terminal.types(answer)
    terminal.sees(r"How shall I tell you\?")


def test_a_push_server_is_tried_while_it_asks(tmp_path: Path, geocoder: FakeOpenMeteo) -> None:
    """It wants a token: that is asked for, and the test lies on the topic."""
    with push_server() as server:
        server.token = "tk_grower"
        terminal = at_a_terminal(tmp_path, geocoder)
        to_the_ways(terminal)
        terminal.types(server.url)
        terminal.sees("Access token of the push server")
        terminal.types("tk_grower")
        terminal.sees("A test is out by push")
        assert terminal.ends() == 0
        text = (tmp_path / "config.toml").read_text()
        (topic,) = re.findall(r'topic = "(bales-[0-9a-f]{16})"', text)
        assert [each["title"] for each in server.shown(topic).values()]
        assert f"topic {topic}" in " ".join(terminal.seen.split())


def test_a_way_that_does_not_work_is_asked_about_again(
    tmp_path: Path, geocoder: FakeOpenMeteo
) -> None:
    """Nobody is at that address; files always work."""
    terminal = at_a_terminal(tmp_path, geocoder)
    to_the_ways(terminal)
    terminal.types("http://127.0.0.1:9/bales")
    terminal.sees(r"Push doesn't work yet(.|\s)*How shall I tell you\?")
    terminal.types("files")
    assert terminal.ends() == 0
    assert "\n[push]\n" not in (tmp_path / "config.toml").read_text()
