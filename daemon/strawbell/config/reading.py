"""Read the file: every way it can be unreadable, and as many slips of syntax as can be told.

The reader of the standard library stops at the first slip, and says neither on which line a key
stands nor what was meant. A plan is written by hand, in a text editor, by somebody who has never
heard of TOML; one run that tells all slips is worth these lines. So what cannot be read is taken
out and the rest read again, and a rough scan finds the lines of keys. It only serves to name lines
in messages, and never decides what a value is.
"""

from __future__ import annotations

import codecs
import re
import stat
import tomllib
from bisect import bisect_left
from collections.abc import Iterator
from datetime import date
from enum import Enum
from pathlib import Path as FilePath

from msgspec import Struct, field
from msgspec.structs import replace

from strawbell.config.keys import Key, Kind, Path, key_at
from strawbell.config.mistakes import (
    Mistake,
    Positions,
    clean,
    finding,
    hidden,
    is_secret,
    printable,
    said,
)
from strawbell.config.places import GARDENS_FOLDER
from strawbell.errors import GrowerError, Problem
from strawbell.words.catalogue import BRITISH

say = BRITISH.say
_SLIPS = (
    (re.compile(r"Illegal character '\\n'|Unterminated string|Unclosed string"),
     "quote"),
    (re.compile(r"Unclosed array"), "bracket"),
    (re.compile(r"Unclosed inline table"), "brace"),
    (re.compile(r"Invalid date or datetime"), "date"),
    (re.compile(r"Expected '=' after a key"), "equals"),
    (re.compile(r"Expected newline or end of document"),
     "after"),
    (re.compile(r"Invalid value"), "value"),
    (re.compile(r"Invalid statement|Invalid initial character"),
     "line"),
    (re.compile(r"Unescaped '\\\\'|escape", re.IGNORECASE),
     "backslash"),
)  # fmt: skip
MANY_DIGITS = re.compile(r"[0-9_]{4000,}")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::\d{2})?$")
_MERIDIAN = re.compile(r"(\d{1,2})(?::(\d{2}))?\s*([ap])\.?m\.?$", re.IGNORECASE)
_SLASHED = re.compile(r"\d{1,2}[/.]\d{1,2}[/.]\d{2,4}$")
_ISO_DAY = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})$")
_DECIMAL_COMMA = re.compile(r"-?\d+,\d+$")
_SWITCHES = {"yes": "true", "on": "true", "true": "true",
             "no": "false", "off": "false", "false": "false"}  # fmt: skip
HOURS_OF_HALF_DAY = 12
HOURS_OF_DAY = 24
BYTES_MAX = 1_048_576
"""Largest file read, each of them: a hundred gardens take a tenth of it, and a club has files."""
DEEPEST = 16
"""Levels of tables that are read: the schema has five, and our own reading goes down by calls."""
RECOVERIES_MAX = 12
"""How many slips of syntax are stepped over before the rest is left unread."""
_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)")
_TWICE = re.compile(r"Cannot (declare|overwrite|mutate|redefine)|already|twice", re.IGNORECASE)
_ONE_WORD = re.compile(r"""\s*["']?[^\s"'=]*["']?\s*""")
_PART = r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')"""
_DOTTED = rf"{_PART}(?:\s*\.\s*{_PART})*"
_HEADER = re.compile(rf"\s*(?P<open>\[\[?)\s*(?P<name>{_DOTTED})\s*\]*\s*(?:#.*)?$")
_STATEMENT = re.compile(rf"\s*(?P<name>{_DOTTED})\s*=(?P<value>.*)$")
_TRIPLE = re.compile(r'"""|\'\'\'')
SECTION = "gardens"


class Readers(Enum):
    """Who beside its owner may read a file."""

    GROUP = "group"
    ALL = "all"


def readers_of(mode: int) -> Readers | None:
    """Return who beside the owner may read a file of a mode, None for nobody."""
    if mode & stat.S_IROTH:
        return Readers.ALL
    return Readers.GROUP if mode & stat.S_IRGRP else None


class Reading(Struct):
    """What a file gave: its values, what was wrong, and what therefore must not be judged."""

    data: dict[str, object] = field(default_factory=dict)
    positions: Positions = field(default_factory=Positions)
    mistakes: list[Mistake] = field(default_factory=list)
    tainted: set[Path] = field(default_factory=set)
    doubtful: set[Path] = field(default_factory=set)
    """Tables of which some line could not be read: nobody knows what it would have said."""
    files: dict[Path, str] = field(default_factory=dict)
    """Gardens that stand in files of their own, with the name of that file."""
    complete: bool = True
    readers: Readers | None = None
    """Who else on the machine may read the file."""


def read(path: FilePath) -> Reading:
    """Read a configuration file; raise `GrowerError` where there is nothing to read."""
    raw, readers = _bytes_of(path)
    reading = Reading(readers=readers)
    text = _decode(raw, reading)
    if not text.strip():
        raise _refusal("empty-file", path)
    _parse(text.split("\n"), reading)
    return reading


def _refusal(name: str, path: FilePath, found: str = "") -> GrowerError:
    about = said(name, found=found, folder=path.name)
    return GrowerError(Problem(where=clean_path(path), **about))


def clean_path(path: FilePath) -> str:
    """Return a path for a message; the end of a long one tells more than its beginning."""
    return "".join(letter if letter.isprintable() else "?" for letter in str(path))[-200:]


def _bytes_of(path: FilePath) -> tuple[bytes, Readers | None]:
    try:
        about = path.stat()
        if stat.S_ISDIR(about.st_mode):
            raise _refusal("folder-for-file", path)
        if not stat.S_ISREG(about.st_mode):
            raise _refusal("no-ordinary-file", path)
        with path.open("rb") as file:
            raw = file.read(BYTES_MAX + 1)
    except FileNotFoundError:
        raise _refusal("no-such-file", path) from None
    except PermissionError:
        raise _refusal("file-closed", path) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else str(error)
        raise _refusal("file-unreadable", path, f"{reason}") from None
    if len(raw) > BYTES_MAX:
        raise _refusal("file-too-large", path, f"{about.st_size / BYTES_MAX:.1f} MiB")
    return raw, readers_of(about.st_mode)


def _decode(raw: bytes, reading: Reading) -> str:
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        reading.mistakes.append(finding("utf-16", line=1))
        return raw.decode("utf-16", errors="replace")
    if raw.startswith(codecs.BOM_UTF8):
        reading.mistakes.append(finding("byte-order-mark", line=1))
        raw = raw[len(codecs.BOM_UTF8) :]
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        byte = f"0x{raw[error.start]:02x}"
        reading.mistakes.append(finding("not-utf-8", line=line, byte=byte))
        return raw.decode("utf-8", errors="replace")


def _parse(lines: list[str], reading: Reading) -> None:
    """Parse the lines; step over what cannot be parsed, so that the rest is judged too."""
    for _ in range(RECOVERIES_MAX):
        reading.positions = positions(lines)
        try:
            reading.data = tomllib.loads("\n".join(lines))
        except RecursionError:
            reading.mistakes.append(finding("too-deep", brackets=True))
            break
        except ValueError as error:
            _step_over(str(error), lines, reading)
            continue
        if not _is_deep(reading.data):
            return
        reading.data = {}
        reading.mistakes.append(finding("too-deep", brackets=False))
        break
    reading.complete = False
    del reading.mistakes[RECOVERIES_MAX // 2 :]


def _is_deep(part: object, left: int = DEEPEST) -> bool:
    """Return whether tables and lists lie deeper in each other than anybody could mean."""
    inner = part.values() if isinstance(part, dict) else part if isinstance(part, list) else ()
    return not left or any(_is_deep(x, left - 1) for x in inner if isinstance(x, dict | list))


def _step_over(message: str, lines: list[str], reading: Reading) -> None:
    """Say what is wrong and blank the key or the table it is in, never the lines' numbers."""
    place = _PLACE.search(message)
    long = next((n for n, text in enumerate(lines, 1) if MANY_DIGITS.search(text)), len(lines))
    # Python itself refuses a number of thousands of digits, without a word of where it is.
    line = int(place[1]) if place and place[1] else len(lines) if place else long
    while line > 1 and not lines[line - 1].strip():
        line -= 1
    start = _begins(lines, line)
    before = positions(lines[: start - 1])
    header = re.match(r"\s*\[+\s*([\w.\"'-]*)", lines[start - 1])
    is_twice = _TWICE.search(message) is not None
    end = _ends(lines, start, _HEADER if header else None)
    if header:
        path: Path = split_key(header[1])
        mistake = finding("broken-header", path, clean(lines[start - 1].strip()))
        (reading.tainted if key_at(path[:1]) else reading.doubtful).add(path[:1])
    else:
        path, value = _key_and_value(lines[start - 1], before.table)
        mistake = _broken_value(path, value, _PLACE.sub("", message))
        if not path:
            reading.doubtful.add(before.table)
        elif not is_twice:
            reading.tainted.add(path)
    if is_twice:
        mistake = _twice(path, header is not None, before)
    column = int(place[2]) if place and place[2] and start == line and not is_twice else None
    reading.mistakes.append(replace(mistake, line=start, column=column))
    lines[start - 1 : end] = [""] * (end - start + 1)


def _begins(lines: list[str], line: int) -> int:
    """Return the line on which begins what the reader stumbled over on a later one, or there.

    What stands before it can be read by itself; what is cut off within brackets or a long text
    cannot.
    """
    if _can_be_read(lines[: line - 1]):
        return line
    begin = [n for n, text in enumerate(lines[:line], 1) if _is_begin(text)]
    broken = bisect_left(begin, True, key=lambda n: not _can_be_read(lines[: n - 1]))
    return begin[broken - 1] if broken else line


def _can_be_read(lines: list[str]) -> bool:
    try:
        tomllib.loads("\n".join(lines))
    except (ValueError, RecursionError):
        return False
    return True


def _is_begin(text: str) -> bool:
    return bool(_HEADER.match(text) or _STATEMENT.match(text))


def _ends(lines: list[str], start: int, header: re.Pattern[str] | None) -> int:
    """Return the last line of what begins on one: up to the next header, or the next key."""
    for number in range(start + 1, len(lines) + 1):
        text = lines[number - 1]
        if header.match(text) if header else _is_begin(text):
            return number - 1
    return len(lines)


def _key_and_value(text: str, table: Path) -> tuple[Path, str]:
    """Return the path of a key and what follows it; () where a line has none that is known."""
    if statement := _STATEMENT.match(text):
        return (*table, *split_key(statement["name"])), statement["value"]
    word = re.match(r"\s*([A-Za-z_][A-Za-z0-9_-]*)", text)
    path: Path = (*table, word[1]) if word else ()
    return (path if key_at(path) else ()), ""


def _broken_value(path: Path, value: str, message: str) -> Mistake:
    """Return what is wrong with a value; it is shown only where it cannot hold a password."""
    key = key_at(path)
    allowed = key.allowed if key else ""
    if MANY_DIGITS.search(value):
        return finding("long-number", path, allowed=allowed)
    # The rest of a broken line may be another line, run together with it.
    is_run_on = "=" in value or (
        path[:1] == ("email",) and not _ONE_WORD.fullmatch(value.split("#", maxsplit=1)[0])
    )
    is_hidden = key is None or is_secret(key.name) or is_run_on
    found = "" if not path else hidden() if is_hidden else clean(value.strip())
    remedy = "" if is_hidden else hint(value, key)
    return finding(
        "toml",
        path,
        found,
        slip=slip_of(message),
        message=printable(message),
        allowed=allowed,
        remedy=remedy,
    )


def _twice(path: Path, is_table: bool, before: Positions) -> Mistake:
    first = before.lines.get(path)
    if is_table:
        return finding("table-twice", path, name=clean(".".join(map(str, path))), first=first)
    return finding("key-twice", path, name=clean(str(path[-1] if path else "")), first=first)


def slip_of(message: str) -> str | None:
    """Return which slip the reader means, as the finding "toml" chooses by it, None for another."""
    return next((slip for pattern, slip in _SLIPS if pattern.search(message)), None)


def hint(value: str, key: Key | None) -> str:
    """Return what a value was probably meant to be, as a sentence, or nothing."""
    text = value.split(" #", 1)[0].strip().strip("\"'")
    found = time_hint(text) or date_hint(text)
    if found:
        return found
    if text.lower() in _SWITCHES and (key is None or key.kind is Kind.SWITCH):
        return say("mend.without-quotes", value=_SWITCHES[text.lower()])
    if _DECIMAL_COMMA.match(text):
        return say("mend.point", value=text.replace(",", "."))
    if value.count('"') % 2 or value.count("'") % 2:
        return say("mend.close")
    texts = key is not None and key.kind in (Kind.TEXT, Kind.CHOICE)
    if texts and re.match(r"[^\W\d]", text) and '"' not in text:
        return say("mend.quotes", value=text[:60])
    return ""


def time_hint(text: str) -> str:
    """Return how a time of day is written, where the text looks like one."""
    meridian = _MERIDIAN.match(text)
    if meridian and 1 <= int(meridian[1]) <= HOURS_OF_HALF_DAY:
        hour = int(meridian[1]) % HOURS_OF_HALF_DAY
        hour += HOURS_OF_HALF_DAY if meridian[3].lower() == "p" else 0
        return say("mend.without-quotes", value=f"{hour:02}:{meridian[2] or '00'}:00")
    clock = _CLOCK.match(text)
    if not clock:
        return ""
    if int(clock[1]) >= HOURS_OF_DAY:
        return say("mend.day-runs")
    return say("mend.without-quotes", value=f"{int(clock[1]):02}:{clock[2]}:00")


def date_hint(text: str) -> str:
    """Return how a date is written, where the text looks like one."""
    if _SLASHED.match(text):
        return say("mend.date")
    day = _ISO_DAY.match(text)
    if not day:
        return ""
    try:
        meant = date(int(day[1]), int(day[2]), int(day[3]))
    except ValueError:
        return say("mend.no-such-day")
    return say("mend.without-quotes", value=meant.isoformat())


def split_key(dotted: str) -> tuple[str, ...]:
    """Return the parts of a dotted key without their quotes."""
    return tuple(part.strip().strip("\"'") for part in re.findall(_PART, dotted))


def positions(lines: list[str]) -> Positions:
    """Scan lines for the keys and headers on them; what stands in long texts is none."""
    found = Positions()
    counts: dict[Path, int] = {}
    triple: str | None = None
    for number, line in enumerate(lines, start=1):
        if triple is not None:
            triple = None if triple in line else triple
            continue
        if header := _HEADER.match(line):
            found.table = _table(header, counts)
            found.lines.setdefault(found.table, number)
        elif statement := _STATEMENT.match(line):
            found.lines.setdefault((*found.table, *split_key(statement["name"])), number)
        marks = _TRIPLE.findall(line)
        triple = marks[0] if len(marks) % 2 else None
    return found


def _table(header: re.Match[str], counts: dict[Path, int]) -> Path:
    """Return the path of a header with the positions of the list tables it lies in."""
    path: Path = ()
    parts = split_key(header["name"])
    for depth, part in enumerate(parts, start=1):
        path = (*path, part)
        if depth == len(parts) and header["open"] == "[[":
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def join(reading: Reading, path: FilePath) -> None:
    """Put the gardens of a file of their own, `gardens.d/*.toml`, behind those that were read.

    A club has a file a garden, or a file a street. They are read one by one and judged together, as
    if all stood in one file; a mistake names the file it is in.
    """
    name = f"{GARDENS_FOLDER}/{clean(path.name)}"
    own = read(path)
    gardens = reading.data.setdefault(SECTION, [])
    more = own.data.pop(SECTION, [])
    if not isinstance(gardens, list):
        return
    if not isinstance(more, list):
        reading.mistakes.append(finding("gardens-no-tables", file=name, line=1))
        more = []
    begins = len(gardens)
    gardens.extend(more)
    for number in range(begins, len(gardens)):
        reading.files[SECTION, number] = name
    for other in own.data:
        line = own.positions.lines.get((other,))
        reading.mistakes.append(
            finding("not-for-gardens", file=name, line=line, key=repr(clean(other)))
        )
    for place, at in own.positions.lines.items():
        reading.positions.lines.setdefault(_behind(place, begins), at)
    for each in own.mistakes:
        reading.mistakes.append(replace(each, path=_behind(each.path, begins), file=name))
    reading.tainted |= set(_all_behind(own.tainted, begins))
    reading.doubtful |= set(_all_behind(own.doubtful, begins))
    reading.complete = reading.complete and own.complete


def _all_behind(places: set[Path], begins: int) -> Iterator[Path]:
    for place in places:
        yield _behind(place, begins)


def _behind(place: Path, begins: int) -> Path:
    """Return the path of a value of a later file among all gardens."""
    if len(place) > 1 and place[0] == SECTION and isinstance(place[1], int):
        return (SECTION, place[1] + begins, *place[2:])
    return place
