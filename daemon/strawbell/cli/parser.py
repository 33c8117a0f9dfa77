"""The command line: every command and option in one place, quick to import.

What is said of them is in the catalogue (`messages/en/help.toml`).

Decided 2026-11-29: A command line is read by a parser without words, as most have no slip in them.
Where there is something to say, help or a slip, one with words reads it again.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path
from typing import Any, NoReturn, TypeAlias

from strawbell.words.catalogue import BRITISH

say = BRITISH.say

_SLIPS = {
    "no-choice": r"argument (?P<name>.*?): invalid choice: (?P<typed>.*) "
    r"\(choose from (?P<known>.*)\)",
    "missing": r"the following arguments are required: (?P<names>.*)",
    "unknown": r"unrecognized arguments: (?P<typed>.*)",
    "no-value": r"argument (?P<name>.*?): expected .*",
    "takes-nothing": r"argument (?P<name>.*?): ignored explicit argument (?P<typed>.*)",
    "no-number": r"argument (?P<name>.*?): invalid int value: (?P<typed>.*)",
    "several": r"ambiguous option: (?P<typed>.*) could match (?P<known>.*)",
    "argument": r"argument (?P<name>.*?): (?P<said>.*)",
    "other": r"(?P<said>.*)",
}
"""The slips that argparse finds, as it tells them to who overrides `error`; the first that fits."""


class _Formatter(argparse.HelpFormatter):
    def add_usage(
        self,
        usage: str | None,
        actions: Iterable[argparse.Action],
        groups: Iterable[Any],
        prefix: str | None = None,
    ) -> None:
        super().add_usage(usage, actions, groups, say("help.usage") if prefix is None else prefix)


class Parser(argparse.ArgumentParser):
    """A parser with words, which answers a slip of the finger with what was probably meant."""

    def __init__(self, **how: Any) -> None:
        """Say in our words what argparse says in its own."""
        super().__init__(**how, add_help=False, formatter_class=_Formatter)
        self.add_argument("-h", "--help", action="help", help=say("help.show"))
        self._positionals.title, self._optionals.title = say("help.arguments"), say("help.options")

    def error(self, message: str) -> NoReturn:
        """End with code 2 and what is said of the slip."""
        found = ((slip, re.fullmatch(each, message, re.DOTALL)) for slip, each in _SLIPS.items())
        slip, parts = next((slip, each.groupdict()) for slip, each in found if each)
        typed = parts.get("typed", "").strip("'\"")[:40]
        known = [word.strip("' ") for word in parts.get("known", "").split(",")]
        if slip == "no-choice" and not parts["name"].startswith("-"):
            slip = "no-such"
        near = None
        if slip in ("no-such", "no-choice"):
            from difflib import get_close_matches

            near = next(iter(get_close_matches(typed, known, n=1)), None)
        places = parts | {"typed": typed, "known": ", ".join(known), "near": near}
        self.exit(2, say(f"slip.{slip}", prog=self.prog, **places) + "\n")


class _Unsaid(Exception):
    """There is something to say, and no words for it."""


class _Wordless(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise _Unsaid(message)

    def print_help(self, file: object = None) -> NoReturn:
        raise _Unsaid(file)


def _moment(text: str) -> datetime:
    """Read a date or a date and time; without an offset it is garden-local."""
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(say("slip.no-moment", typed=text)) from None


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(say("slip.no-date", typed=text)) from None


Option: TypeAlias = tuple[str, str, tuple[str, ...], dict[str, Any]]
"""The messages that say what it means and what is typed with it; its names; how it is read."""


def _option(means: str, *names: str, typed: str = "", **how: Any) -> Option:
    """Return an option, or what is typed without one, as `argparse` takes it."""
    return means, typed, names, how


_FLAG: dict[str, Any] = {"action": "store_true"}
_JSON = _option("json", "--json", **_FLAG)
_AT = _option("at", "--at", typed="moment", type=_moment)
_ONLY_GARDEN = _option("only-garden", "--garden", typed="name")
_WHICH_GARDEN = _option("which-garden", "--garden", typed="name")
_READING = (_JSON, _AT, _ONLY_GARDEN)

_ANSWERS = {
    "place": "place", "bales": "bales", "feeds": "feeds", "crops": "crops", "day": "date",
    "reach": "way", "name": "name", "mail-server": "host", "inbox": "host", "mirror": "url",
}  # fmt: skip
"""The answers that setup takes as flags too, and what is typed with them."""
_ERRORS = ("perfect", "persistence", "usual", "ensemble", "hollow", "issued")
COMMANDS: Mapping[str, tuple[Option, ...]] = {
    "demo": (_option("demo-out", "--out", typed="folder", type=Path),),
    "setup": (
        *(_option(name, f"--{name}", typed=typed) for name, typed in _ANSWERS.items()),
        _option("password-file", "--password-file", typed="file", type=Path),
        _option("units", "--units", choices=("metric", "us")),
        _option("dry-run", "--dry-run", **_FLAG),
        _option("no-test", "--no-test", **_FLAG),
        _option("no-start", "--no-start", **_FLAG),
    ),
    "settings": (_option("words", "words", typed="word", nargs="*"), _JSON),
    "rehearse": (
        _option("weather", "--weather", typed="csv", type=Path),
        _option("from", "--from", typed="date", dest="first", type=_date),
        _option("to", "--to", typed="date", dest="last", type=_date),
        _option("forecast-error", "--forecast-error", default="usual", choices=_ERRORS),
        _option("seed", "--seed", typed="number", type=int, default=0),
        _option("rehearse-out", "--out", typed="folder", type=Path),
        _JSON,
        _ONLY_GARDEN,
    ),
    "check": (_option("connect", "--connect", **_FLAG), _JSON),
    "today": _READING,
    "how": (_option("task", "task", typed="task", nargs="?", default=""), *_READING),
    "season": (_option("html", "--html", typed="file"), *_READING),
    "summary": _READING,
    "why": (_option("date", "date", typed="date", nargs="?", type=_date), *_READING),
    "record": (),
    "away": (
        _option("first-day", "on", typed="from", type=_date),
        _option("last-day", "last_day", typed="to", type=_date),
        _WHICH_GARDEN,
    ),
    "journal": (_option("since", "--since", typed="date", type=_date), *_READING),
    "supplies": _READING,
    "start-when": (_option("minima", "--minima", typed="csv", type=Path), *_READING),
    "calendar": (_option("file", "file", typed="ics", type=Path), _WHICH_GARDEN, _AT),
    "ring": (),
    "run": (_option("once", "--once", **_FLAG),),
    "reload": (),
    "unit": (_option("unit", "kind", choices=("user", "system", "shard")),),
}
"""Each command, and what may be typed with it."""

SAID = "said"
"""The kind of a record in free words; nobody types it."""
KINDS: Mapping[str, tuple[str, str]] = {
    "done": ("*", "garden at"),
    "missed": ("*", "garden at"),
    "temperature": ("+", "batch garden at"),
    "note": ("+", "batch garden at"),
    "rain": ("+", "garden on at"),
    "low": ("+", "garden on at"),
    "undo": ("*", "garden at"),
    "gone": ("+", ""),
    "harvest": ("+", "batch last garden on at"),
    "cost": ("+", "batch garden on at"),
    "feed": ("+", "batch garden on at"),
    SAID: ("+", "batch garden on at"),
}
"""Each kind of record: how many words it takes ("*" for any, or none), and its options."""
_OF_A_WORD: Mapping[str, Option] = {
    "batch": _option("batch", "--batch", typed="name"),
    "garden": _WHICH_GARDEN,
    "on": _option("on-day", "--on", typed="date", type=_date),
    "at": _option("when", "--at", typed="moment", type=_moment),
    "last": _option("last-picking", "--last", **_FLAG),
}


def build_parser(only: str | None = None) -> argparse.ArgumentParser:
    """Return the parser of the whole command line, of one command, or ("") of their names alone.

    The other commands cost as much as most of them take to run.
    """
    return _built(only, Parser, say)


def parse(arguments: Sequence[str]) -> argparse.Namespace:
    """Return what was typed; what is for every command may stand anywhere before a lone `--`."""
    first, rest = _for_all(arguments)
    if rest[:1] == ["record"] and len(rest) > 1 and rest[1] not in ("-h", "--help"):
        rest = _as_words(rest)
    named = next((each for each in rest if each in COMMANDS), "")
    only = named if rest[:1] == [named] or not named else None
    with suppress(_Unsaid):
        return _built(only, _Wordless, _nothing).parse_args([*first, *rest])
    return build_parser(only).parse_args([*first, *rest])


def _for_all(arguments: Sequence[str]) -> tuple[list[str], list[str]]:
    """Return the options for every command, and all the rest in its order."""
    first: list[str] = []
    rest: list[str] = []
    coming = iter(arguments)
    for each in coming:
        if each == "--":
            return first, [*rest, each, *coming]
        if each == "--config":
            first += [each, *(file for file in (next(coming, None),) if file is not None)]
        elif each == "--debug" or each.startswith("--config="):
            first.append(each)
        else:
            rest.append(each)
    return first, rest


def _as_words(typed: list[str]) -> list[str]:
    """Return a record whose kind is not named as one in free words."""
    return typed if typed[1] in KINDS else [typed[0], SAID, *typed[1:]]


Say: TypeAlias = Callable[..., str | None]


def _nothing(_key: str, /, **_places: str) -> None:
    return None


def _built(
    only: str | None, made: type[argparse.ArgumentParser], say: Say
) -> argparse.ArgumentParser:
    parser = made(prog="strawbell", description=say("help.about"), epilog=say("help.codes"))
    for_all = (
        _option("version", "--version", **_FLAG),
        _option("config", "--config", typed="file", type=Path),
        _option("debug", "--debug", **_FLAG),
    )
    _add(parser, for_all, say)
    commands = parser.add_subparsers(dest="command", metavar=say("typed.command"))
    parser._positionals.title = say("help.commands")
    for name in (only,) if only else COMMANDS:
        help_ = say(f"command.{name}.says")
        typed = say("help.example", typed=say(f"command.{name}.example"))
        command = commands.add_parser(name, help=help_, description=help_, epilog=typed)
        if only != "":
            _add(command, COMMANDS[name], say)
        if only != "" and name == "record":
            _add_kinds(command, say)
    return parser


def _add(parser: argparse.ArgumentParser, options: Iterable[Option], say: Say) -> None:
    for means, typed, names, how in options:
        shown: dict[str, Any] = {"metavar": say(f"typed.{typed}")} if typed else {}
        parser.add_argument(*names, help=say(f"option.{means}"), **shown, **how)


def _add_kinds(command: argparse.ArgumentParser, say: Say) -> None:
    command.description = say("help.to-record")
    command._positionals.title = say("help.kinds")
    kinds = command.add_subparsers(dest="kind", metavar=say("typed.kind"), required=True)
    for kind, (count, options) in KINDS.items():
        says, words = say(f"kind.{kind}.says"), say(f"kind.{kind}.words")
        shown: dict[str, Any] = {} if kind == SAID else {"help": says}
        usage = say(
            "help.kind-usage", prog="%(prog)s", words=f"[{words}]" if count == "*" else words
        )
        one = kinds.add_parser(kind, description=says, usage=usage, **shown)
        # A temperature below zero begins like an option, and is none.
        one._negative_number_matcher = re.compile(r"-\d")
        one.add_argument("words", metavar=words, nargs=count, help=say(f"kind.{kind}.about"))
        _add(one, (_OF_A_WORD[each] for each in options.split()), say)
