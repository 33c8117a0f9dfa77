"""Every message exists, is used, and has the places it is given; nothing is said outside them."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from datetime import datetime
from enum import Enum
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

import strawbell
from strawbell.agronomy.feeds import FeedConcern
from strawbell.agronomy.schedules import Fault
from strawbell.config.keys import Kind
from strawbell.edges.mail_refusals import Stage
from strawbell.model.brief import (
    Action,
    AlertCode,
    Also,
    Caution,
    Instead,
    Reason,
    ReasonCode,
    State,
    Step,
    Turn,
    TurnsBy,
)
from strawbell.model.details import BatchStage, Sign
from strawbell.model.feeds import LabelRate
from strawbell.model.garden import Straw, Units
from strawbell.model.journal import EntryKind
from strawbell.model.notice import Doubt, Silence
from strawbell.model.season import FeedingFate, HintCode, PhaseKind
from strawbell.words import catalogue
from strawbell.words.advice import short_word, task_places, task_words
from strawbell.words.catalogue import AMERICAN, BRITISH, Choice, Message, Tongue
from strawbell.words.merge import merged
from strawbell.words.reasons import reason_headline, reason_sentence
from strawbell.words.units import Measures
from strawbell.words.voice import Voice
from support import briefs
from support.briefs import DETAILS, dose, rain_reason, watering
from support.gardens import garden
from support.made_up_locale import english_left, made_up_locale

ZONE = ZoneInfo("Europe/Vienna")
PACKAGE = Path(strawbell.__file__).parent
ENGLISH = catalogue.messages("en_GB")
ACTION_ROWS = {"noun", "cell", "did", "do", "wait", "deed", "subject", "how"}
TABLES: dict[str, tuple[type[Enum], set[str]]] = {
    "reason": (ReasonCode, set()),
    "headline": (ReasonCode, set()),
    "caution": (Caution, {"head", "text"}),
    "alert": (AlertCode, {"headline", "advice"}),
    "action": (Action, ACTION_ROWS),
    "state": (State, set()),
    "also": (Also, set()),
    "instead": (Instead, set()),
    "sign": (Sign, set()),
    "doubt": (Doubt, set()),
    "silence": (Silence, set()),
    "step": (Step, {"short", "long"}),
    "straw": (Straw, set()),
    "entry": (EntryKind, set()),
    "stage": (BatchStage, set()),
    "hint": (HintCode, set()),
    "fate": (FeedingFate, set()),
    "phase": (PhaseKind, set()),
    "turn": (TurnsBy, set()),
    "mail-stage": (Stage, set()),
    "takes": (Kind, set()),
    "concern": (FeedConcern, set()),
    "fault": (Fault, set()),
}
"""The tables that have a message, or rows of messages, for each member of a vocabulary."""
OPTIONAL = {"action": {"amount", "more", "below", "large", "small"}}
"""Rows that not every member has."""
GIVEN = {"action": set(task_places(merged((watering(),)), Voice.of(briefs.garden(), briefs.TODAY)))}
"""What is given to a table whose places are measured together."""
TONGUES = pytest.mark.parametrize("tongue", [BRITISH, AMERICAN], ids=["en_GB", "en_US"])


def local(day: int, hour: int) -> datetime:
    """Return a moment of April 2027."""
    return datetime(2027, 4, day, hour, tzinfo=ZONE)


def places_of(parts: Message) -> set[str]:
    """Return the places that a message names."""
    found = set()
    for part in parts:
        if isinstance(part, Choice):
            found.add(part.place)
            found.update(*map(places_of, part.options.values()))
    return found


Use = tuple[str, str, str, frozenset[str] | None]
"""How a message is asked for, which, which row, and the places it is given; None for many."""


def keys_in(node: ast.expr) -> Iterator[str]:
    """Yield the keys that an argument may be; in one that is put together stands a "*"."""
    if isinstance(node, ast.Constant):
        yield str(node.value)
    elif isinstance(node, ast.IfExp):
        yield from keys_in(node.body)
        yield from keys_in(node.orelse)
    elif isinstance(node, ast.JoinedStr):
        ends = (node.values[0], node.values[-1])
        first, last = (each.value if isinstance(each, ast.Constant) else "" for each in ends)
        yield f"{first}*{last}"
    else:
        yield "*"


@cache
def uses() -> tuple[Use, ...]:
    """Return every place in the code and the templates where a message is asked for."""
    found: list[Use] = []
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            names = [each.arg for each in node.keywords]
            given = None if None in names else frozenset(each for each in names if each)
            if name == "refused":
                given = given and given - {"remedy", "typed"}
            if name == "unusable" and given is not None:
                given |= {"service"}
            if name in ("say", "known", "refused", "unusable"):
                found += [("say", key, "", given) for key in keys_in(node.args[0])]
            elif name in ("of", "optional", "lines_of") and len(node.args) > 1:
                rows = list(keys_in(node.args[2])) if len(node.args) > 2 else [""]
                found += [(name, key, row, given) for key in keys_in(node.args[0]) for row in rows]
            elif name in ("date", "time") and len(node.args) == 2:
                found += [("say", key, "", frozenset()) for key in keys_in(node.args[0])]
    for path in PACKAGE.rglob("*.j2"):
        text = path.read_text(encoding="utf-8")
        for key, given in re.findall(r"""\bsay\("([\w.-]+)"((?:,\s*\w+=[^,)]+)*)\)""", text):
            found.append(("say", key, "", frozenset(re.findall(r"(\w+)=", given))))
    return tuple(each for each in found if "." in each[1] or each[1] in TABLES)


def keys_of(use: Use) -> list[str]:
    """Return the messages that a use may mean."""
    way, key, row, _ = use
    if way == "say":
        stem, put_together, end = key.partition("*")
        found = [each for each in ENGLISH if each.startswith(stem) and each.endswith(end)]
        return found if put_together else [key]
    last = f".{row}" if row and not row.endswith("*") else ""
    return [each for each in ENGLISH if each.startswith(f"{key}.") and each.endswith(last)]


def test_every_message_that_is_asked_for_exists() -> None:
    asked = {key for use in uses() for key in keys_of(use)}
    assert sorted(asked - set(ENGLISH)) == []


def test_every_message_is_asked_for() -> None:
    asked = {key for use in uses() for key in keys_of(use)}
    rows = {f".{row}" for several in OPTIONAL.values() for row in several}
    idle = set(ENGLISH) - asked
    assert sorted(key for key in idle if not key.endswith(tuple(rows))) == []


@pytest.mark.parametrize("table", TABLES)
def test_a_table_has_all_rows_for_each_member(table: str) -> None:
    members, rows = TABLES[table]
    found = {key.removeprefix(f"{table}.") for key in ENGLISH if key.startswith(f"{table}.")}
    keys = {str(member.value).replace(" ", "-") for member in members}
    wanted = {f"{key}.{row}" for key in keys for row in rows} if rows else keys
    may = {f"{key}.{row}" for key in keys for row in OPTIONAL.get(table, ())}
    assert sorted(wanted - found) == []
    assert sorted(found - wanted - may) == []


@TONGUES
def test_each_message_has_the_places_it_is_given(tongue: Tongue) -> None:
    """One that is asked for by name all of them; a table all of them together."""
    for use in uses():
        _, key, _, given = use
        if given is None or key.startswith("crop.*"):
            continue  # The rows of a crop share their places.
        parts = (part for each in keys_of(use) for part in catalogue.lines(tongue.locale, each))
        together = set().union(*map(places_of, parts))
        assert together <= given, (key, "is not given", together - given)
        if tongue is BRITISH and "*" not in key:
            assert given <= together, (key, "does not name", given - together)


@pytest.mark.parametrize("table", GIVEN)
@TONGUES
def test_what_is_measured_for_a_table_is_named_in_it(table: str, tongue: Tongue) -> None:
    keys = [key for key in ENGLISH if key.startswith(f"{table}.")]
    parts = (part for key in keys for part in catalogue.lines(tongue.locale, key))
    assert set().union(*map(places_of, parts)) == GIVEN[table]


_SENTENCE = re.compile(r"[A-Za-z']{2,},? [a-z']{2,}")
_SQL = re.compile(
    r"\b(PRAGMA|SELECT|FROM|WHERE|ORDER BY|UPDATE|INSERT|JOIN|AND|NULL)\b|^ifnull|^quick"
)
_TYPED_AS_IT_STANDS = re.compile(r"\s*strawbell \w+|record \w+$")
_NOT_SAID = {
    "words/answers.py": "what a grower types",
    "words/asking.py": "the same, and places to be filled",
    "cli/parser.py": "the manual of the options",
    "edges/forecasts/http.py": "the name that services are told",
    "edges/inbox.py": "what mail programs write",
    "edges/store/rows.py": "the names of columns",
    "cli/main.py": "what is said of a defect, when nothing may be trusted",
    "config/schema.py": "the manual",
    "config/example.py": "the same",
    "config/reading.py": "what the reader of TOML says",
}
"""Modules of the rooms below whose strings are no sentences to a grower."""
_NO_SENTENCES = {
    ("chart.py", ":root{color-scheme:light dark;"),
    ("escaping.py", "(no name)"),
    ("notices.py", "came back "),
    ("build.py", "Blood meal"),
    ("build.py", "drench with "),
    ("build.py", "the grower's own"),
    ("checks_supplies.py", "Blood meal"),
}
"""A style sheet, a name for what has none, the name of an occasion, and what a grower types."""


def strings_in(path: Path) -> Iterator[str]:
    """Yield the strings of a module, but for docstrings and what a defect says."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    passed_over = set()
    for node in ast.walk(tree):
        raised = node.exc if isinstance(node, ast.Raise) else None
        kind = getattr(getattr(raised, "func", None), "id", "")
        says = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        if says or kind in ("ValueError", "TypeError", "KeyError", "Defect"):
            passed_over.update(map(id, ast.walk(node)))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and id(node) not in passed_over:
            yield node.value if isinstance(node.value, str) else ""


@pytest.mark.parametrize("room", ["words", "config", "cli", "edges"])
def test_no_sentence_stands_in_the_code(room: str) -> None:
    """Two words in a row that are no command are a sentence; a name of the program is none.

    Templates that a wheel brings compiled are not written by anybody.
    """
    found = {
        (path.name, each)
        for path in (PACKAGE / room).rglob("*.py")
        if path.relative_to(PACKAGE).as_posix() not in _NOT_SAID
        and not path.name.startswith("tmpl_")
        for each in strings_in(path)
        if _SENTENCE.search(each) and not _TYPED_AS_IT_STANDS.match(each) and not _SQL.search(each)
    }
    assert sorted(found - _NO_SENTENCES) == []


def test_the_american_catalogue_says_only_what_it_says_otherwise() -> None:
    american = catalogue.messages("en_US")
    assert set(american) == set(ENGLISH)
    assert any(american[key] != ENGLISH[key] for key in ENGLISH)


@pytest.mark.parametrize("text", ["{n", "{n, plural, one {a}}", "a } b", "{, select, a {b}}", "{}"])
def test_a_message_with_a_brace_too_few_or_without_an_other_is_a_defect(text: str) -> None:
    with pytest.raises(ValueError, match=r"brace|other|name"):
        catalogue._read(text)


@pytest.mark.parametrize(
    ("days", "said"), [(0, "none"), (1, "1 day"), (2, "2 days"), (1.5, "1.5 days")]
)
def test_plurals_are_those_of_cldr(days: float, said: str) -> None:
    """Rules of Unicode CLDR for English: one is 1 without decimals."""
    parts = catalogue._read("{n, plural, =0 {none} one {{n} day} other {{n} days}}")
    assert BRITISH._filled(parts, {"n": days}) == said


def test_lists_are_those_of_cldr() -> None:
    """Patterns of Unicode CLDR: no comma before "and" in Britain, one in the United States."""
    three = ["straw", "feed", "straw", "mix"]
    assert BRITISH.listing(three) == "straw, feed and mix"
    assert AMERICAN.listing(three, "or") == "straw, feed, or mix"
    assert BRITISH.listing([]) == ""


# A made-up language leaves no English.

_FORMATTERS = ("mass", "water", "volume", "temperature", "rain", "length", "hours")
VOICES = pytest.mark.parametrize("units", Units)


@VOICES
def test_units_and_moments_leave_no_english(units: Units) -> None:
    with made_up_locale():
        voice, measures = Voice.of(garden(units=units), local(10, 5).date()), Measures(units)
        values = [None, 0.01, 0.3, 1.0, 7.0, 47.0, 250.0, 4000.0]
        said = [
            getattr(measures, each)(value)
            for each in (
                "mass",
                "water",
                "volume",
                "temperature",
                "rain",
                "length",
                "hours",
            )
            for value in values
        ]
        rates = (None, LabelRate(ml_per_l=15.0), LabelRate(g_per_l=4.0))
        said += [measures.rate(rate) for rate in rates]
        rates = (None, LabelRate(ml_per_l=15.0), LabelRate(g_per_l=4.0))
        said += [measures.rate(rate) for rate in rates]
        for hour in (2, 8, 13, 20):
            for on in (8, 9, 10, 11, 12, 27):
                at = local(on, hour)
                said += [voice.at(at), voice.about(at), voice.dark_before(at), voice.clock(at)]
                said += [voice.near_day(at.date()), voice.date_said(at.date()), voice.horizon(hour)]
    assert english_left(" ".join(said)) == []


@VOICES
def test_reasons_leave_no_english(units: Units) -> None:
    said = []
    with made_up_locale():
        voice = Voice.of(garden(units=units), local(10, 5).date())
        for code in ReasonCode:
            for unit in ("mm", "degC", "percent", "day", "h"):
                turns = [None, *(Turn(by, 0.4) for by in TurnsBy)]
                full = Reason(code, 7.0, 5.0, unit, local(10, 5), 0.8, wait_costs_days=1)
                turned = (replace(full, turn=turn) for turn in turns)
                for reason in (Reason(code), *turned):
                    said += [reason_sentence(reason, voice), reason_headline(reason, voice)]
    assert english_left(" ".join(said)) == []


@VOICES
@pytest.mark.parametrize("action", Action)
def test_tasks_and_their_cautions_leave_no_english(units: Units, action: Action) -> None:
    said: list[str] = []
    with made_up_locale():
        voice = Voice.of(garden(units=units), local(10, 5).date())
        for state in State:
            bare = watering(action=action, state=state, crops=(), water_per_bale_l=None)
            fed = dose() if action is Action.FEED else None
            full = replace(
                bare, plants=8, crops=("tomato", "kale"), water_per_bale_l=2.0, dose=fed,
                detail=DETAILS.get(action), also=tuple(Also), instead=tuple(Instead),
                cautions=tuple(Caution), reasons=(rain_reason(),), times_a_day=2,
            )  # fmt: skip
            for task in (bare, full):
                words = task_words(merged((task,)), voice)
                said += [words.line, words.heading, words.subject, words.brief, words.below]
                said += [*words.beside, *words.why, *words.steps, short_word(task, voice.tongue)]
                said += [each.whole for each in words.cautions]
                said += [part for figure in words.figures for part in figure]
    assert english_left(" ".join(said), "Row A strawbell record temperature batch summary") == []
