"""Find the line a key stands on; the TOML reader of the standard library does not say.

The scan is rough on purpose: it only serves to name lines in messages, and never decides
what a value is.
"""

from __future__ import annotations

import re

from msgspec import Struct, field

from strawbell.config.outline import Path

_PART = r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')"""
_DOTTED = rf"{_PART}(?:\s*\.\s*{_PART})*"
HEADER = re.compile(rf"\s*(?P<open>\[\[?)\s*(?P<name>{_DOTTED})\s*(?P<close>\]*)\s*(?:#.*)?$")
STATEMENT = re.compile(rf"\s*(?P<key>{_DOTTED})\s*=(?P<value>.*)$")
_QUOTED = re.compile(r'"(?:\\.|[^"\\])*"|\'[^\']*\'')
_TRIPLE = re.compile(r'"""|\'\'\'')


class Positions(Struct):
    """Lines count from 1; `table_on` gives the table each line belongs to, header included."""

    lines: dict[Path, int] = field(default_factory=dict)
    table_on: dict[int, Path] = field(default_factory=dict)
    statement_on: dict[int, int] = field(default_factory=dict)
    """The line on which the statement that covers a line begins."""

    def line_of(self, path: Path) -> int | None:
        """Return the line of a value, or of the nearest table around it that has one."""
        for length in range(len(path), 0, -1):
            line = self.lines.get(path[:length])
            if line is not None:
                return line
        return None


def split_key(dotted: str) -> tuple[str, ...]:
    """Return the parts of a dotted key without their quotes."""
    return tuple(part.strip().strip("\"'") for part in re.findall(_PART, dotted))


def positions(lines: list[str]) -> Positions:
    """Scan the lines of a file."""
    found = Positions()
    counts: dict[Path, int] = {}
    table: Path = ()
    open_brackets = 0
    triple: str | None = None
    start = 1
    for number, line in enumerate(lines, start=1):
        header = HEADER.match(line) if triple is None else None
        statement = STATEMENT.match(line) if triple is None else None
        # An open bracket ends at the next header or key, or one slip would hide the whole rest.
        inside = triple is not None or (open_brackets > 0 and not statement)
        if header and (not inside or header["name"][0].isalpha()):
            table = _table(header, counts)
            found.lines.setdefault(table, number)
            open_brackets, start = 0, number
        elif statement and not (open_brackets > 0 and line[:1].isspace() and "{" in line):
            found.lines.setdefault((*table, *split_key(statement["key"])), number)
            open_brackets, start = 0, number
        elif not inside:
            start = number
        found.table_on[number] = table
        found.statement_on[number] = start
        if header is None or inside:
            triple, change = _balance(statement["value"] if statement else line, triple)
            open_brackets = max(0, open_brackets + change)
    return found


def _table(header: re.Match[str], counts: dict[Path, int]) -> Path:
    """Return the path of a header with the positions of the list tables it lies in."""
    path: Path = ()
    parts = split_key(header["name"])
    for depth, part in enumerate(parts):
        path = (*path, part)
        last = depth == len(parts) - 1
        if last and header["open"] == "[[":
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def _balance(text: str, triple: str | None) -> tuple[str | None, int]:
    """Return whether a long text is still open after this line, and the change in brackets."""
    if triple is not None:
        return (None if triple in text else triple), 0
    marks = _TRIPLE.findall(text)
    if len(marks) % 2:
        return marks[0], 0
    bare = _QUOTED.sub("", text).split("#", 1)[0]
    return None, bare.count("[") + bare.count("{") - bare.count("]") - bare.count("}")
