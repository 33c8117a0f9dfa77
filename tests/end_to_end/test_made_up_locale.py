"""Every command in a made-up language: what is still English did not come from the catalogue."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from math import cos
from pathlib import Path

import pytest

from strawbell.cli.main import run
from strawbell.cli.parser import COMMANDS
from support.daemon_process import Setup
from support.forecast_server import FakeOpenMeteo, calm
from support.made_up_locale import TYPED, english_left, made_up_locale

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
