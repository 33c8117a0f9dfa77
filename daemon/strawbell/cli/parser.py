"""The command line: every command, option and its help in one place, quick to import."""

from __future__ import annotations

import argparse
import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any, NoReturn, TypeAlias

EPILOG = "Exit codes: 0 done; 1 could not do it now; 2 something to mend; 70 a defect of Strawbell."


_NO_SUCH = re.compile(r"argument (\w+): invalid choice: '(.*)' \(choose from (.*)\)", re.DOTALL)


class Parser(argparse.ArgumentParser):
    """A parser that answers a slip of the finger with what was probably meant."""

    def error(self, message: str) -> NoReturn:
        """End with code 2 and one sentence; a word that is none gets the nearest one."""
        slip = _NO_SUCH.fullmatch(message)
        if slip is None:
            self.exit(
                2, f"{message[:1].upper()}{message[1:]}. `{self.prog} --help` shows the way.\n"
            )
        from difflib import get_close_matches

        known = [word.strip("' ") for word in slip[3].split(",")]
        near = get_close_matches(slip[2], known, n=1)
        way = (
            f"Did you mean `{self.prog} {near[0]}`?" if near else f"There are: {', '.join(known)}."
        )
        self.exit(2, f"There is no `{self.prog} {slip[2][:40]}`. {way}\n")


def _moment(text: str) -> datetime:
    """Read a date or a date and time; without an offset it is garden-local."""
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        message = f"{text!r} is no date and time; write it like 2027-04-09T06:30"
        raise argparse.ArgumentTypeError(message) from None


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        message = f"{text!r} is no date; write it like 2027-04-09"
        raise argparse.ArgumentTypeError(message) from None


Option: TypeAlias = tuple[tuple[str, ...], dict[str, Any]]


def _option(*names: str, **how: Any) -> Option:
    """Return an option, or what is typed without one, as `argparse` takes it."""
    return names, how


_FLAG: dict[str, Any] = {"action": "store_true"}
_JSON = _option("--json", **_FLAG, help="machine-readable output")
_AT = _option("--at", type=_moment, metavar="DATETIME", help="as if it were then; nothing is sent")
_ONLY_GARDEN = _option("--garden", metavar="NAME", help="only this garden")
_WHICH_GARDEN = _option("--garden", metavar="NAME", help="which garden, when there are several")
_READING = (_JSON, _AT, _ONLY_GARDEN)

_ANSWERS = (
    ("--place", "PLACE", "a town, a postal code, or coordinates such as 47.05,8.31"),
    ("--bales", "BALES", "such as 6, or '4 three-string oat'"),
    ("--feeds", "FEEDS", "what is on the shelf, such as 'urea 46-0-0, fish 5-1-1 liquid'"),
    ("--crops", "CROPS", "such as '8 tomato, 40 carrot seed'"),
    ("--day", "DATE", "the first soaking, or 'plant DATE'"),
    ("--reach", "WAY", "a mail address, desktop, the address of a push server, or files"),
    ("--name", "NAME", "what the garden is called (the place)"),
    ("--mail-server", "HOST[:PORT]", "the outgoing server, where it is not found by itself"),
    ("--inbox", "HOST[:PORT]", "the server that answers are read from, by IMAP"),
    ("--mirror", "URL", "another address of geocoder and archive; for tests and mirrors"),
)
"""The answers that setup takes as flags too."""
COMMANDS: Mapping[str, tuple[str, str, tuple[Option, ...]]] = {
    "demo": (
        "play a built-in garden through built-in weather",
        "demo --out demo-notices",
        (_option("--out", type=Path, metavar="DIR", help="where the notices go"),),
    ),
    "setup": (
        "a few questions, and the first configuration",
        "setup",
        (
            *(_option(flag, metavar=shown, help=text) for flag, shown, text in _ANSWERS),
            _option(
                "--password-file", type=Path, metavar="FILE",
                help="holds the password for mail alone",
            ),
            _option("--units", choices=("metric", "us"), help="how amounts are shown"),
            _option("--dry-run", **_FLAG, help="print the configuration and write nothing"),
            _option("--no-test", **_FLAG, help="send no test notice"),
            _option("--no-start", **_FLAG, help="do not ask to start the daemon"),
        ),
    ),
    "settings": (
        "everything that can be set, with its default",
        "settings rain",
        (
            _option(
                "words", nargs="*", metavar="WORD",
                help="only settings that have these words in them",
            ),
            _JSON,
        ),
    ),
    "rehearse": (
        "play your plan on recorded weather, and count",
        "rehearse --from 2025-04-01 --out rehearsal",
        (
            _option(
                "--weather", type=Path, metavar="FILE.csv",
                help="daily: date, low_c, high_c, rain_mm; hourly: time, temperature_c, rain_mm"
                " (without it, from an open archive)",
            ),
            _option(
                "--from", dest="first", type=_date, metavar="DATE",
                help="first date (the first start)",
            ),
            _option(
                "--to", dest="last", type=_date, metavar="DATE",
                help="last date (200 days, or the end)",
            ),
            _option(
                "--forecast-error", default="usual",
                choices=("perfect", "persistence", "usual", "ensemble", "hollow", "issued"),
                help="how well the forecasts knew what came (usual)",
            ),
            _option("--seed", type=int, default=0, help="of the usual errors (0)"),
            _option("--out", type=Path, metavar="DIR", help="where report, journal and notices go"),
            _JSON,
            _ONLY_GARDEN,
        ),
    ),
    "check": (
        "read the configuration and list every mistake",
        "check --connect",
        (
            _option(
                "--connect", **_FLAG, help="also try the forecast services and the mail server"
            ),
            _JSON,
        ),
    ),
    "today": (
        "what is due, how much, what waits and why", "today --at 2027-04-09T06:30", _READING,
    ),
    "how": (
        "the steps and cautions of work, all of them again",
        "how feed",
        (
            _option(
                "task", nargs="?", default="", metavar="TASK",
                help="such as feed, or a key (all of today)",
            ),
            *_READING,
        ),
    ),
    "season": (
        "every batch day by day, done and projected",
        "season --html season.html",
        (
            _option(
                "--html", metavar="FILE",
                help="write it as a page with a picture; - for the output",
            ),
            *_READING,
        ),
    ),
    "summary": (
        "what the season came to, and what to change next year",
        "summary --garden 'Mill lane'",
        _READING,
    ),
    "why": (
        "the numbers behind a day's decisions, as they were then",
        "why 2027-04-09",
        (
            _option("date", nargs="?", type=_date, metavar="DATE", help="local date (today)"),
            *_READING,
        ),
    ),
    "record": ("write into the journal", "record 2 kg tomatoes", ()),
    "away": (
        "say from when to when nobody is in the garden",
        "away 2027-06-12 2027-06-20",
        (
            _option("on", type=_date, metavar="FROM", help="the first day"),
            _option("last_day", type=_date, metavar="TO", help="the last day"),
            _WHICH_GARDEN,
        ),
    ),
    "journal": (
        "what was told, done, missed, measured and sent",
        "journal --since 2027-04-01",
        (
            _option("--since", type=_date, metavar="DATE", help="leave out older rows"),
            *_READING,
        ),
    ),
    "supplies": ("what is still to be bought, and by when", "supplies", _READING),
    "start-when": (
        "frost dates, and the first soaking for each crop",
        "start-when",
        (
            _option(
                "--minima", type=Path, metavar="FILE.csv",
                help="daily lows of your own: date, low_c",
            ),
            *_READING,
        ),
    ),
    "calendar": (
        "write the season as an iCalendar file",
        "calendar season.ics",
        (
            _option("file", type=Path, metavar="FILE.ics", help="written anew in place"),
            _WHICH_GARDEN,
            _option("--at", type=_moment, metavar="DATETIME", help="as if it were then"),
        ),
    ),
    "ring": ("send a test notice through every channel", "ring", ()),
    "run": (
        "run the daemon",
        "run --once",
        (_option("--once", **_FLAG, help="do what is due now and exit"),),
    ),
    "reload": ("let the daemon read its configuration anew", "reload", ()),
    "unit": (
        "print the systemd unit",
        "unit user > ~/.config/systemd/user/strawbell.service",
        (_option("kind", choices=("user", "system", "shard"), help="which unit"),),
    ),
}  # fmt: skip
"""Each command: what it does, an example, and what may be typed with it."""

HOW_TO_RECORD = (
    " Say it as you would answer a notice: done, not today, fed 400 g, 54 (degrees inside),"
    " 2 kg tomatoes, rain 12, low -2, undo; degrees and depths without a unit are in that of"
    " your configuration. Or name its kind:"
)
SAID = "said"
"""The kind of a record in free words; nobody types it."""
KINDS: Mapping[str, tuple[str, str, str, str]] = {
    "done": ("a task was done", "[TASK]", "such as feed, or a key (all of today's)", "garden at"),
    "missed": ("a task was not done", "[TASK]", "the same", "garden at"),
    "temperature": (
        "a probe reading of a bale's core", "READING", "such as 54, 54C or 129F", "batch garden at",
    ),
    "note": ("anything worth remembering", "TEXT", "in your own words", "batch garden at"),
    "rain": (
        "what stood in the rain gauge", "AMOUNT", "such as 12, 12mm or 0.5in", "garden on at",
    ),
    "low": (
        "the lowest temperature of the night by your own thermometer", "AMOUNT",
        "such as -2, -2C or 28F", "garden on at",
    ),
    "undo": (
        "take back the last word, or the last one about WHAT", "[WHAT]",
        "a task, a batch, a crop or a kind such as temperature", "garden at",
    ),
    "gone": ("a garden or batch out of the configuration", "NAME", "what it was called", ""),
    "harvest": (
        "what was picked of a crop", "CROP AMOUNT", "such as tomato 2.4kg, or lettuce 12 (pieces)",
        "batch last garden on at",
    ),
    "cost": (
        "what something cost, in your own money", "AMOUNT TEXT", "such as 12.50 for bales",
        "batch garden on at",
    ),
    "feed": (
        "what each bale was fed beyond the plan", "AMOUNT [FEED]",
        "such as 120g, or 60ml fish feed where the plan has several",
        "batch garden on at",
    ),
    SAID: ("as one would answer a notice", "WORDS", "such as 54", "batch garden on at"),
}  # fmt: skip
"""Each kind of record: what it is, its words (in brackets where there may be none), an example of
them, and its options."""
_OF_A_WORD: Mapping[str, Option] = {
    "batch": _option("--batch", metavar="NAME", help="which batch it is about"),
    "garden": _WHICH_GARDEN,
    "on": _option("--on", type=_date, metavar="DATE", help="on which day, if not today"),
    "at": _option("--at", type=_moment, metavar="DATETIME", help="when it was, if not just now"),
    "last": _option("--last", **_FLAG, help="it was the last: what follows may go in"),
}


def build_parser(only: str = "") -> argparse.ArgumentParser:
    """Return the parser of the whole command line, or of one command where that is all asked for.

    The other commands cost as much as most of them take to run.
    """
    parser: argparse.ArgumentParser = Parser(
        prog="strawbell",
        description="Weather-aware morning reminders for growing vegetables in straw bales.",
        epilog=EPILOG,
    )
    parser.add_argument("--version", action="store_true", help="print the version")
    parser.add_argument("--config", type=Path, metavar="FILE", help="configuration to read")
    parser.add_argument("--debug", action="store_true", help="show tracebacks")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    for name in COMMANDS if only == "" else (only,):
        _add(commands, name)
    return parser


def parse(arguments: Sequence[str]) -> argparse.Namespace:
    """Return what was typed; what is for every command may stand anywhere before a lone `--`."""
    first, rest = _for_all(arguments)
    if rest[:1] == ["record"] and len(rest) > 1 and rest[1] not in ("-h", "--help"):
        rest = _as_words(rest)
    only = rest[0] if rest and rest[0] in COMMANDS else ""
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


Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


def _add(commands: Commands, name: str) -> None:
    text, example, options = COMMANDS[name]
    more = HOW_TO_RECORD if name == "record" else ""
    command = commands.add_parser(
        name,
        help=text,
        description=f"{text[0].upper()}{text[1:]}.{more}",
        epilog=f"Example: strawbell {example}",
    )
    for names, how in options:
        command.add_argument(*names, **how)
    if name == "record":
        _add_kinds(command)


def _add_kinds(command: argparse.ArgumentParser) -> None:
    kinds = command.add_subparsers(dest="kind", metavar="KIND", required=True)
    for kind, (text, metavar, about, options) in KINDS.items():
        shown: dict[str, Any] = {} if kind == SAID else {"help": text}
        one = kinds.add_parser(
            kind, description=text, usage=f"%(prog)s {metavar} [options]", **shown
        )
        # A temperature below zero begins like an option, and is none.
        one._negative_number_matcher = re.compile(r"-\d")
        count = "*" if metavar.startswith("[") else "+"
        one.add_argument("words", metavar=metavar.strip("[]"), nargs=count, help=about)
        for names, how in (_OF_A_WORD[each] for each in options.split()):
            one.add_argument(*names, **how)
