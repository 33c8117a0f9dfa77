"""Read the file: every way it can be unreadable, and as many slips of syntax as can be told."""

from __future__ import annotations

import codecs
import re
import stat
import tomllib
from enum import Enum
from pathlib import Path as FilePath

from msgspec import Struct, field

from strawbell.config.mistakes import Mistake, clean, is_secret
from strawbell.config.outline import Key, Path, key_at, places_of
from strawbell.config.positions import HEADER, STATEMENT, Positions, positions, split_key
from strawbell.config.syntax import hint, in_plain_words
from strawbell.errors import GrowerError, Problem

BYTES_MAX = 1_048_576
"""Largest file read, each of them: a hundred gardens take a tenth of it, and a club has files."""
DEEPEST = 16
"""Levels of tables that are read: the schema has five, and our own reading goes down by calls."""
RECOVERIES_MAX = 12
"""How many slips of syntax are stepped over before the rest is left unread."""
_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)")
_TWICE = re.compile(r"Cannot (declare|overwrite|mutate|redefine)|already|twice", re.IGNORECASE)
_MANY_DIGITS = re.compile(r"\d{4000,}|[0-9_]{4300,}")
_ONE_WORD = re.compile(r"""\s*["']?[^\s"'=]*["']?\s*""")


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
        raise _refusal(
            path, "the file is empty", "Write a first garden into it; README.md has ten lines."
        )
    _parse(text.split("\n"), reading)
    return reading


def _refusal(path: FilePath, what: str, remedy: str, found: str = "") -> GrowerError:
    return GrowerError(Problem(what=what, where=clean_path(path), found=found, remedy=remedy))


def clean_path(path: FilePath) -> str:
    """Return a path for a message; the end of a long one tells more than its beginning."""
    return "".join(letter if letter.isprintable() else "?" for letter in str(path))[-200:]


def _bytes_of(path: FilePath) -> tuple[bytes, Readers | None]:
    try:
        about = path.stat()
        if stat.S_ISDIR(about.st_mode):
            raise _refusal(
                path,
                "this is a folder, not a file",
                f"Name the file in it: {path.name}/config.toml.",
            )
        if not stat.S_ISREG(about.st_mode):
            raise _refusal(path, "this is not an ordinary file", "Name a configuration file.")
        with path.open("rb") as file:
            raw = file.read(BYTES_MAX + 1)
    except FileNotFoundError:
        raise _refusal(
            path,
            "there is no such file",
            "`strawbell setup` makes one; another is named with --config or STRAWBELL_CONFIG.",
        ) from None
    except PermissionError:
        raise _refusal(
            path, "the file may not be read", "Give the user Strawbell runs as leave to read it."
        ) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else str(error)
        raise _refusal(path, "the file cannot be read", "Look at the path.", f"{reason}") from None
    if len(raw) > BYTES_MAX:
        raise _refusal(
            path,
            "the file is too large for a configuration",
            "Is it the right file?",
            f"{about.st_size / BYTES_MAX:.1f} MiB",
        )
    return raw, readers_of(about.st_mode)


def _decode(raw: bytes, reading: Reading) -> str:
    save = "Save it as UTF-8 without a byte order mark."
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        reading.mistakes.append(Mistake("the file is saved as UTF-16", remedy=save, line=1))
        return raw.decode("utf-16", errors="replace")
    if raw.startswith(codecs.BOM_UTF8):
        what = "the file begins with a byte order mark"
        reading.mistakes.append(Mistake(what, remedy=save, line=1))
        raw = raw[len(codecs.BOM_UTF8) :]
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        found = f"byte 0x{raw[error.start]:02x}"
        what = "the file is not UTF-8 text"
        reading.mistakes.append(Mistake(what, found=found, allowed="UTF-8", remedy=save, line=line))
        return raw.decode("utf-8", errors="replace")


def _parse(lines: list[str], reading: Reading) -> None:
    """Parse the lines; step over what cannot be parsed, so that the rest is judged too."""
    reading.positions = positions(lines)
    for _ in range(RECOVERIES_MAX):
        try:
            reading.data = tomllib.loads("\n".join(lines))
        except tomllib.TOMLDecodeError as error:
            _step_over(error, lines, reading)
        except RecursionError:
            reading.mistakes.append(Mistake("brackets are nested too deep to be meant"))
            break
        except ValueError:
            # A whole number of thousands of digits: Python refuses to read it.
            if not _step_over_digits(lines, reading):
                reading.mistakes.append(Mistake("the file holds a value that cannot be read"))
                break
        else:
            if not _is_deep(reading.data):
                return
            reading.data = {}
            reading.mistakes.append(Mistake("tables are nested too deep to be meant"))
            break
    reading.complete = False
    del reading.mistakes[RECOVERIES_MAX // 2 :]


def _is_deep(data: dict[str, object]) -> bool:
    """Return whether tables and lists lie deeper in each other than anybody could mean."""
    level: list[dict[str, object] | list[object]] = [data]
    for _ in range(DEEPEST):
        inner = [
            part for each in level for part in (each.values() if isinstance(each, dict) else each)
        ]
        level = [each for each in inner if isinstance(each, dict | list)]
        if not level:
            return False
    return True


def _step_over(error: tomllib.TOMLDecodeError, lines: list[str], reading: Reading) -> None:
    """Say what is wrong there and blank the statement or table, never the lines' numbers."""
    message = str(error)
    place = _PLACE.search(message)
    line = int(place[1]) if place and place[1] else len(lines)
    column = int(place[2]) if place and place[2] else None
    message = _PLACE.sub("", message)
    spots = positions(lines)
    while line > 1 and not lines[line - 1].strip():
        line -= 1
    if _TWICE.search(message):
        _duplicate(line, lines, spots, reading)
        return
    if re.match(r"\s*\[", lines[line - 1]) and spots.statement_on.get(line) == line:
        _broken_header(line, column, lines, spots, reading)
        return
    start, end = _statement_around(line, lines, spots)
    path, value = _key_and_value(start, lines, spots)
    name = str(path[-1]) if path else ""
    key = _meant(path)
    hidden = not path or key is None or is_secret(name) or _may_hold_a_password(path, value)
    reading.mistakes.append(
        Mistake(
            what=in_plain_words(message),
            path=path,
            found="" if not path else "(not shown)" if hidden else clean(value.strip()),
            allowed=key.allowed if key else "",
            remedy="" if hidden else hint(value, key),
            line=start if start != line else line,
            column=column if start == line else None,
        )
    )
    if path:
        reading.tainted.add(path)
    else:
        reading.doubtful.add(spots.table_on.get(line, ()))
    lines[start - 1 : end] = [""] * (end - start + 1)


def _meant(path: Path) -> Key | None:
    """Return the key at a path, or the only one of that name when it stands in a wrong place."""
    if not path:
        return None
    elsewhere = places_of(str(path[-1]))
    return key_at(path) or (elsewhere[0] if len(elsewhere) == 1 else None)


def _may_hold_a_password(path: Path, value: str) -> bool:
    """Return whether the rest of a broken line may be another line, run together with it."""
    return "=" in value or (
        path[0] == "email" and not _ONE_WORD.fullmatch(value.split("#", maxsplit=1)[0])
    )


def _key_and_value(start: int, lines: list[str], spots: Positions) -> tuple[Path, str]:
    statement = STATEMENT.match(lines[start - 1])
    if not statement:
        word = re.match(r"\s*([A-Za-z_][A-Za-z0-9_-]*)", lines[start - 1])
        table = spots.table_on.get(start, ())
        if word and key_at((*table, word[1])):
            return (*table, word[1]), ""
        return (), ""
    table = spots.table_on.get(start, ())
    return (*table, *split_key(statement["key"])), statement["value"]


def _statement_around(line: int, lines: list[str], spots: Positions) -> tuple[int, int]:
    """Return the first and last line to step over for an error on a line."""
    for before in range(line - 1, 0, -1):
        if HEADER.match(lines[before - 1]):
            break
        statement = STATEMENT.match(lines[before - 1])
        if statement:
            text = "".join([statement["value"], *lines[before : line - 1]])
            if text.count("[") > text.count("]") or text.count("{") > text.count("}"):
                return before, max(before, line - 1 if STATEMENT.match(lines[line - 1]) else line)
            break
    start = spots.statement_on.get(line, line)
    if '"""' in lines[start - 1] or "'''" in lines[start - 1]:
        return start, start
    return start, line


def _next_header(line: int, lines: list[str]) -> int:
    """Return the last line of the table whose header stands on a line."""
    for number in range(line + 1, len(lines) + 1):
        if HEADER.match(lines[number - 1]):
            return number - 1
    return len(lines)


def _duplicate(line: int, lines: list[str], spots: Positions, reading: Reading) -> None:
    header = HEADER.match(lines[line - 1])
    if header:
        path: Path = split_key(header["name"])
        what, end = f"the table [{clean(header['name'])}] stands twice", _next_header(line, lines)
        remedy = "Write its keys under one header."
        first = next(
            (
                n
                for n, text in enumerate(lines[: line - 1], 1)
                if (m := HEADER.match(text)) and split_key(m["name"]) == path
            ),
            None,
        )
    else:
        start = spots.statement_on.get(line, line)
        path, _ = _key_and_value(start, lines, spots)
        what, end, line = (
            f'the key "{clean(str(path[-1] if path else ""))}" stands twice',
            line,
            start,
        )
        remedy = "Keep one of the two."
        first = spots.lines.get(path)
    if first and first < line:
        remedy = f"{remedy} The first is on line {first}."
    known = key_at(path)
    reading.mistakes.append(
        Mistake(what, path, found="it twice", allowed="it once", remedy=remedy, line=line)
    )
    if known is None:
        reading.tainted.add(path)
    lines[line - 1 : end] = [""] * (end - line + 1)


def _broken_header(
    line: int, column: int | None, lines: list[str], spots: Positions, reading: Reading
) -> None:
    """Say that a header is broken and leave its table unread."""
    name = re.match(r"\s*\[+\s*([A-Za-z0-9_.-]*)", lines[line - 1])
    around = spots.table_on.get(line - 1, ())
    path: Path = ()
    for part in split_key(name[1]) if name else ():
        path = (*path, part)
        index = around[len(path)] if around[: len(path)] == path and len(around) > len(path) else 0
        if isinstance(index, int) and path != split_key(name[1] if name else ""):
            path = (*path, index) if len(around) > len(path) else path
    reading.mistakes.append(
        Mistake(
            "the header of a table is not complete",
            path,
            found=clean(lines[line - 1].strip()),
            allowed="[name], or [[name]] where there can be several",
            line=line,
            column=column,
        )
    )
    if key_at(path):
        reading.tainted.add(path)
    else:
        reading.doubtful.add(())
    end = _next_header(line, lines)
    lines[line - 1 : end] = [""] * (end - line + 1)


def _step_over_digits(lines: list[str], reading: Reading) -> bool:
    for number, line in enumerate(lines, start=1):
        if _MANY_DIGITS.search(line):
            path, _ = _key_and_value(number, lines, positions(lines))
            key = key_at(path)
            reading.mistakes.append(
                Mistake(
                    "the number is far too long",
                    path,
                    found="a number of very many digits",
                    allowed=key.allowed if key else "",
                    line=number,
                )
            )
            if path:
                reading.tainted.add(path)
            lines[number - 1] = ""
            return True
    return False
