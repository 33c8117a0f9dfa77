"""Every screen in a made-up language: what is still English did not come from the catalogue."""

from __future__ import annotations

import argparse
import re
import sys
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from datetime import date, datetime, timedelta
from importlib import import_module
from inspect import unwrap
from io import StringIO
from math import cos
from pathlib import Path
from pkgutil import iter_modules
from types import CodeType, FrameType, FunctionType
from typing import Any
from unittest.mock import patch
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from strawbell import words
from strawbell.cli.main import TO_MEND, run
from strawbell.cli.parser import COMMANDS, KINDS, build_parser
from strawbell.errors import OperationalError
from strawbell.model.brief import (
    Action,
    AlertCode,
    AlertKey,
    Brief,
    Crowding,
    Preparation,
    Step,
    TaskKey,
)
from strawbell.model.configuration import Helper
from strawbell.model.garden import Straw, Units
from strawbell.model.notice import (
    Delivery,
    Doubt,
    Heard,
    Notice,
    NoticeKind,
    OutboxRow,
    OutboxState,
    Outcome,
    Useful,
)
from strawbell.model.season import ChanceKept, Chances, CropSummary
from strawbell.words.asking import addressed, joined
from strawbell.words.morning import coming_words
from strawbell.words.notices import (
    all_clear_notice,
    bounce_notice,
    change_notice,
    evening_notice,
    helper_notice,
    how_notice,
    morning_notice,
    question_notice,
    reminder_notice,
    trouble_notice,
    unrecorded_morning_notice,
    warning_notice,
)
from strawbell.words.notices import (
    test_notice as channels_tested,
)
from strawbell.words.page import environment, load_templates
from strawbell.words.start_when import other_hemisphere
from strawbell.words.summary import chances_text, crop_words
from strawbell.words.units import Measures
from strawbell.words.voice import Voice
from support import briefs
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
    "summary": [
        ["record", "cost", "12.50", "X"],
        ["record", "harvest", "tomato", "2.4kg"],
        ["summary"],
    ],
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
Fish surface water A B C TASK check connect last a by can not today already fed later Made for
example test
gramme grams row plant South wall Invented weather of the demo BEGIN VCALENDAR from usual {TYPED}"""
"""What is the grower's own, typed as it stands, or said by a service."""
NOT_SAID = ("catalogue", "answers", "documents")
"""Modules that say nothing by themselves: how messages are read, what is typed, what JSON has."""
_MARKUP = re.compile(r"<style.*?</style>|<!--.*?-->|<[^>]*>|&\w+;", re.DOTALL)
_TEXTS = re.compile(r"^(?:SUMMARY|DESCRIPTION|X-WR-CALNAME)[^:\n]*:(.*)$", re.MULTILINE)
"""What a calendar shows, its lines unfolded (RFC 5545, 3.1)."""
_PATHS = re.compile(r"\S*/\S*|\w+(?:-\w+)+|\S+\.(?:eml|html|ics|toml)\b")


def test_every_command_is_looked_at() -> None:
    """A new one has to be listed."""
    assert sorted({*SAID, *ELSEWHERE}) == sorted(COMMANDS)


def _early_brief() -> Brief:
    """Return a day before the first soaking, with a choice between two crops."""
    start = briefs.TODAY + timedelta(days=21)
    steps = tuple(Step)
    early = Preparation(("Row A",), 6, start, tuple(Straw), 100.0, 3.0, steps, start, steps)
    dates = (start + timedelta(days=each) for each in range(0, 120, 20))
    choice = Crowding("Row A", "X", "tomato", TaskKey("Row A", Action.PLANT), *dates)
    return briefs.brief(preparing=(early,), crowding=(choice,))


def asides() -> Iterator[str]:
    """Yield what is said on the screen of a command beside what a garden in spring has of it."""
    place, early = briefs.garden(), _early_brief()
    later = replace(place, batches=())
    for prepared in (early.preparing, ()):
        yield coming_words(prepared, later, briefs.TODAY)
    yield other_hemisphere(place, southern=True)
    told = Chances((ChanceKept(3, 11, 4, 1, 1),), (ChanceKept(8, 5, 4, 3, 1),))
    yield chances_text(told, Voice.of(place, briefs.TODAY))
    crop = CropSummary("tomato", "tomato", briefs.TODAY, harvests=2, kg=2.4, pieces=3.0)
    yield crop_words(crop, Voice.of(place, briefs.TODAY))


def notices() -> Iterator[Notice]:
    """Yield a notice of each kind."""
    now = datetime(2027, 4, 9, 6, tzinfo=ZoneInfo("Europe/Vienna"))
    ends = now + timedelta(days=1)
    useful = Useful(now, ends)
    for units in Units:
        place = briefs.garden(units)
        for made in (
            briefs.feeding_brief,
            briefs.frost_brief,
            briefs.hot_brief,
            briefs.catch_up_brief,
            briefs.unjudged_brief,
        ):
            brief = made()
            yield morning_notice(brief, place, useful, troubles=("x.",))
            nothing = replace(brief, tasks=(), alerts=(), questions=(), preparing=())
            yield morning_notice(nothing, place, useful, supplies=("x.",))
            for code in AlertCode:
                passed = (AlertKey(code),)
                yield change_notice(brief, place, (), (), passed, "later", useful)
            yield change_notice(brief, place, brief.tasks, brief.alerts, (), "later", useful)
            yield evening_notice(brief, place, (), brief.tasks, useful)
            yield all_clear_notice(place, brief, useful)
            yield unrecorded_morning_notice(place, brief, "disk", "x.", useful)
        for occasion in ("forecast", "delivery", "answers", "disk at start", "copy", "x"):
            yield trouble_notice(place, now.date(), occasion, ("x.",), useful)
        yield morning_notice(_early_brief(), place, useful)
        tasks = briefs.feeding_brief().tasks
        yield how_notice(place, now.date(), tasks, "x", useful)
        yield warning_notice(place, now.date(), ("x.", "x."), useful)
        yield channels_tested(place, now.date(), "x", useful)
        for helper in (Helper("a@b.example"), Helper("a@b.example", "X", only_water=False)):
            for brief in (briefs.feeding_brief(), briefs.hot_brief()):
                if (made := helper_notice(brief, place, helper, useful)) is not None:
                    yield made
        back = OutboxRow(
            *("x", "mail", "a@b.example", "x", b"", "x.", place.name, now.date()),
            *(NoticeKind.MORNING, OutboxState.ACCEPTED, 1, now, now, ends),
        )
        yield bounce_notice(back, "x.", Measures(units).tongue, useful)
        yield reminder_notice(place, now.date(), tasks, useful)
        for doubt in Doubt:
            heard = Heard(doubt=doubt, said="x")
            yield question_notice(place, now.date(), heard, "", (), "x", useful)


def told(made: Notice) -> Iterator[str]:
    """Yield what a notice says, with and without a way to answer it."""
    asked, plain = addressed(made, "a@b.example", "t", "[t]"), addressed(made)
    for each in (asked, plain, joined((asked, replace(asked, garden="My garden", urgency=1)))):
        yield f"{each.subject} {each.short} {each.text} {each.html}"


def said_by(command: str, folder: Path, patch: pytest.MonkeyPatch) -> str:
    """Return what a command prints and writes, for a garden on its fifth day."""
    folder.mkdir()
    patch.chdir(folder)
    for name in ("RUNTIME_DIRECTORY", "XDG_CACHE_HOME", "XDG_STATE_HOME", "HOME"):
        patch.setenv(name, str(folder / name.lower()))
    days = (date(1996, 1, 1) + timedelta(number) for number in range(25 * 365))
    lows = "\n".join(f"{on},{6 - 12 * cos(on.timetuple().tm_yday / 58):.1f}" for on in days)
    (folder / "minima.csv").write_text(f"date,low_c\n{lows}\n")
    setup = Setup(folder)
    start = setup.today - timedelta(days=6)
    record = "\n".join(f"{start + timedelta(days=each)},4,18,0" for each in range(40))
    (folder / "record.csv").write_text(f"date,low_c,high_c,rain_mm\n{record}\n")
    printed = StringIO()
    with FakeOpenMeteo(calm) as service, redirect_stdout(printed), redirect_stderr(printed):
        setup.forecast_url = service.base_url
        setup.write()
        # A morning at midnight is worth a note of `check`, whose notes are not worded here.
        setup.config.write_text(
            re.sub(r"(?m)^\[times\]\n(?:\w.*\n)*", "", setup.config.read_text())
        )
        for arguments in SAID[command]:
            config = folder / "other.toml" if command == "setup" else setup.config
            run(["--config", str(config), *arguments])
    calendars = "".join(each.read_text() for each in folder.glob("*.ics"))
    texts = _TEXTS.findall(calendars.replace("\n ", ""))
    assert (command == "calendar") == bool(texts)
    return "\n".join((printed.getvalue(), *texts))


@contextmanager
def calls_noted(ran: set[CodeType]) -> Iterator[None]:
    """Note the code of every function that is called."""

    def noted(frame: FrameType, _event: str, _of: object) -> None:
        ran.add(frame.f_code)

    before = sys.gettrace()
    threading.settrace(noted)
    sys.settrace(noted)
    try:
        yield
    finally:
        sys.settrace(before)
        threading.settrace(before)


def renderers() -> Iterator[tuple[str, CodeType]]:
    """Yield every public function of the room that words things, with its code."""
    for module in (
        import_module(f"{words.__name__}.{each.name}") for each in iter_modules(words.__path__)
    ):
        if module.__name__.rpartition(".")[2] in NOT_SAID:
            continue
        for name, each in vars(module).items():
            found = unwrap(each) if callable(each) and not name.startswith("_") else None
            if isinstance(found, FunctionType) and found.__module__ == module.__name__:
                yield f"{module.__name__}.{name}", found.__code__


def test_nothing_is_said_outside_the_catalogue_and_every_renderer_was_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nor does a page that is printed, a calendar that is written, nor what a refusal says.

    A new renderer needs a screen above on which it shows.
    """
    said, ran = {}, set[CodeType]()
    environment.cache_clear()  # other tests may have made it
    with made_up_locale(), calls_noted(ran):
        for command in SAID:
            said[command] = said_by(command, tmp_path / command, monkeypatch)
        load_templates()
        said["notices"] = "\n".join(shown for each in notices() for shown in told(each))
        said["asides"] = "\n".join(asides())
    for screen, text in said.items():
        shown = _PATHS.sub(" ", _MARKUP.sub(" ", text))
        assert shown.strip()
        assert sorted(set(english_left(shown, NAMES))) == [], (screen, shown)
    unseen = sorted(name for name, code in renderers() if code not in ran)
    assert unseen == [], "\n".join(unseen)
    templates = {each.name for each in Path(words.__path__[0]).glob("templates/*.j2")}
    code = {each: environment().get_template(each).root_render_func.__code__ for each in templates}
    assert {name for name, each in code.items() if each not in ran} == set()


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
