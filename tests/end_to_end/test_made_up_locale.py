"""Every command in a made-up language: what is still English did not come from the catalogue."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from math import cos
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

from strawbell.cli.main import TO_MEND, run
from strawbell.cli.parser import COMMANDS, KINDS, build_parser
from strawbell.errors import OperationalError
from strawbell.model.notice import Delivery, Outcome
from support.daemon_process import Setup
from support.fake_clock import FakeClock
from support.forecast_server import FakeOpenMeteo, calm
from support.gardens import START, at, on_day
from support.made_up_locale import TYPED, english_left, made_up_locale
from support.memory_store import MemoryStore
from support.simulated_daemon import Life, Paper

SAID: Mapping[str, Sequence[Sequence[str]]] = {
    "demo": [["demo", "--out", "notices"]],
    "setup": [["setup"]],
    "check": [["check"], ["check", "--connect"]],
    "record": [
        ["record", "done"],
        ["record", "temperature", "31C"],
        ["record", "temperature", "70C"],
        ["record", "rain", "12mm"],
        ["record", "low", "-2C"],
        ["record", "feed", "20g"],
        ["record", "cost", "12.50", "X"],
        ["record", "note", "X"],
        ["record", "harvest", "tomato", "2.4kg"],
        ["record", "missed", "row-a-5-feed"],
        ["record", "undo"],
        ["record", "dnoe"],
        ["record", "540"],
        ["record", "rain", "900"],
        ["record", "low", "X"],
        ["record", "feed", "90kg"],
        ["record", "cost", "X", "X"],
        ["record", "note", " "],
        ["record", "harvest", "X", "2kg"],
        ["record", "harvest", "tomato", "X"],
        ["record", "done", "X"],
        ["record", "gone", "X"],
        ["record", "undo", "gone X"],
        ["record", "note", "X", "--at", "2020-01-01"],
        ["record", "note", "X", "--batch", "X"],
        ["record", "note", "X", "--garden", "X"],
    ],
    "away": [["away", "2020-01-01", "2020-01-03"]],
    "today": [["today"], ["today", "--garden", "X"]],
    "how": [["how"], ["how", "X"]],
    "season": [["season"], ["season", "--html", "-"], ["season", "--html", "-", "--json"]],
    "summary": [["summary"]],
    "why": [["why"], ["why", "2020-01-01"]],
    "journal": [["journal"]],
    "supplies": [["supplies"]],
    "start-when": [["start-when", "--minima", "minima.csv"]],
    "calendar": [["calendar", "season.ics"], ["calendar", "season.ics"]],
    "ring": [["ring"]],
    "reload": [["reload"]],
    "run": [["run", "--once"]],
    "rehearse": [
        ["rehearse", "--weather", "record.csv"],
        ["rehearse", "--weather", "record.csv", "--from", "2001-01-01"],
    ],
}
"""What is typed at each command: what it does, and what it refuses."""
ELSEWHERE = {
    "settings": "a manual out of the docstrings of the configuration",
    "unit": "a file for the service manager",
}
"""Commands that print something else than sentences to a grower."""
NAMES = f"""Orchard corner Row A My garden Blood meal tomato Balanced X dnoe open meteo met norway
nws Weather data by Open Meteo com CC BY Etc GMT OK desktop folder push email record gone undo done
rain low cost note feed harvest temperature missed how setup help config FILE at batch garden on
html json notices away hour rearranged ring journal Written as eml place bales day kg ml such as oz
lb mm in
gramme grams row plant South wall Invented weather of the demo BEGIN VCALENDAR from usual {TYPED}"""
"""What is the grower's own, typed as it stands, or said by a service."""
_MARKUP = re.compile(r"<style.*?</style>|<!--.*?-->|<[^>]*>|&\w+;", re.DOTALL)
_TEXTS = re.compile(r"^(?:SUMMARY|DESCRIPTION|X-WR-CALNAME)[^:\n]*:(.*)$", re.MULTILINE)
"""What a calendar shows, its lines unfolded (RFC 5545, 3.1)."""
_PATHS = re.compile(r"\S*/\S*|\w+(?:-\w+)+|\S+\.(?:eml|html|ics|toml)\b")


def test_every_command_is_looked_at() -> None:
    """A new one has to be listed."""
    assert sorted({*SAID, *ELSEWHERE}) == sorted(COMMANDS)


@pytest.fixture
def setup(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Setup:
    """A garden on its fifth day, where all that commands leave goes into one folder."""
    monkeypatch.chdir(tmp_path)
    for name in ("RUNTIME_DIRECTORY", "XDG_CACHE_HOME", "XDG_STATE_HOME", "HOME"):
        monkeypatch.setenv(name, str(tmp_path / name.lower()))
    days = (date(1996, 1, 1) + timedelta(number) for number in range(25 * 365))
    lows = "\n".join(f"{on},{6 - 12 * cos(on.timetuple().tm_yday / 58):.1f}" for on in days)
    (tmp_path / "minima.csv").write_text(f"date,low_c\n{lows}\n")
    made = Setup(tmp_path)
    start = made.today - timedelta(days=6)
    record = "\n".join(f"{start + timedelta(days=each)},4,18,0" for each in range(40))
    (tmp_path / "record.csv").write_text(f"date,low_c,high_c,rain_mm\n{record}\n")
    return made


@pytest.mark.parametrize("command", SAID)
def test_no_command_says_anything_outside_the_catalogue(
    command: str, setup: Setup, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nor does a page it prints, a calendar it writes, nor what a refusal says."""
    with FakeOpenMeteo(calm) as service, made_up_locale():
        setup.forecast_url = service.base_url
        setup.write()
        # A morning at midnight is worth a note of `check`, whose notes are not worded here.
        setup.config.write_text(
            re.sub(r"(?m)^\[times\]\n(?:\w.*\n)*", "", setup.config.read_text())
        )
        for arguments in SAID[command]:
            config = setup.folder / "other.toml" if command == "setup" else setup.config
            run(["--config", str(config), *arguments])
    printed = capsys.readouterr()
    calendars = "".join(each.read_text() for each in setup.folder.glob("*.ics"))
    texts = _TEXTS.findall(calendars.replace("\n ", ""))
    assert (command == "calendar") == bool(texts)
    said = _PATHS.sub(" ", _MARKUP.sub(" ", "\n".join((printed.out, printed.err, *texts))))
    assert said.strip()
    assert sorted(set(english_left(said, NAMES))) == [], said


def typed_as_it_stands(parser: argparse.ArgumentParser) -> Iterator[str]:
    """Yield the options, choices and commands of a parser and all below it."""
    for action in parser._actions:
        yield from action.option_strings
        if isinstance(action.choices, Mapping):
            for name, below in action.choices.items():
                yield name
                yield from typed_as_it_stands(below)
        else:
            yield from map(str, action.choices or ())


@pytest.mark.parametrize(
    "arguments",
    [[], *([name] for name in COMMANDS), *(["record", kind] for kind in KINDS)],
    ids=lambda arguments: "-".join(arguments) or "all",
)
def test_no_help_says_anything_outside_the_catalogue(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Its heads, its usage and what it says of each option."""
    names = " ".join(typed_as_it_stands(build_parser()))
    with made_up_locale(), pytest.raises(SystemExit) as ended:
        run([*arguments, "--help"])
    said = capsys.readouterr().out
    assert ended.value.code == 0
    assert said.count("\n") > 5
    assert sorted(set(english_left(said, f"strawbell {names}"))) == [], said


@pytest.mark.parametrize(
    "typed",
    [
        "X",
        "todya",
        "unit X",
        "away",
        "away X X",
        "journal --since X",
        "today --at X",
        "today --garden",
        "today --json=X",
        "today --X",
        "rehearse --seed X",
        "rehearse --forecast-error X",
        "setup --no",
        "record rain",
    ],
)
def test_no_slip_at_typing_is_told_outside_the_catalogue(
    typed: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is missing, unknown, or not to be read."""
    names = " ".join(typed_as_it_stands(build_parser()))
    with made_up_locale(), pytest.raises(SystemExit) as ended:
        run(typed.split())
    said = capsys.readouterr().err
    assert ended.value.code == TO_MEND
    assert sorted(set(english_left(said, f"strawbell todya {names}"))) == [], said


def test_the_daemon_writes_no_english_into_its_log() -> None:
    """A morning, a clock that jumps, a store that refuses, a defect, a configuration refused."""

    def refuse(*_: object) -> Any:
        raise OperationalError("X")

    def mistake() -> Any:
        raise ValueError("X")

    with made_up_locale():
        clock = FakeClock(at(START, 5, 0))
        store = MemoryStore()
        mail = Paper(clock, "email", ("X",), Delivery(Outcome.LATER, "X"))
        life = Life(store, clock, (mail,), incident="X")
        life.live(at(START, 8, 0))
        clock.wall += timedelta(hours=4)
        life.beat()
        with patch.object(store, "backup", refuse):
            life.live(at(on_day(3), 8, 0))
        with patch.object(store, "due", refuse):
            life.live(at(on_day(3), 9, 0))
        life.live(at(on_day(3), 10, 0))
        with patch.object(store, "due", lambda *_: mistake()):
            life.beat()
        life.daemon.reload(mistake)
        life.daemon._reloaded(life.bell)
        clock.wall = at(START, 5, 0).replace(year=1970)
        life.beat()
        said = "\n".join((*life.said, *life.manager.words))
    names = f"{NAMES} status reloading ready outbox ValueError tests end to test made up locale"
    assert len(life.said) > 8
    assert sorted(set(english_left(_PATHS.sub(" ", said), names))) == [], said
