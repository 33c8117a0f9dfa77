"""Harmless text out of what others wrote, lists that read well, and lines that fit."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from functools import lru_cache

NAME_LIMIT = 60
"""Longest name shown [characters]; a longer one is cut on a character and marked."""
LINE_WIDTH = 78
"""Longest line of a text [columns]: what RFC 5322 recommends."""
NOT_SHOWABLE = "\ufffd"
"""Stands where something was that could steer a terminal or turn a line around."""
ELLIPSIS = "\u2026"

_BLANK = re.compile("[\\s\u0085\u2028\u2029\u2800\u3164]+")
_STEERING = re.compile(
    "[\x00-\x08\x0e-\x1f\x7f-\x9f"  # C0, DEL, C1
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # marks and overrides of direction
    "\ufff9-\ufffb\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]"  # annotations, halves, non-characters
)
_TURNING = re.compile(f"(?!\x1b\\[K){_STEERING.pattern}")
_INVISIBLE = re.compile("[\u00ad\u180e\u200b\u2060-\u2064\ufeff\U000e0000-\U000e007f]")
_JOINERS = frozenset("\u200c\u200d\ufe0e\ufe0f\U0001f3fb\U0001f3fc\U0001f3fd\U0001f3fe\U0001f3ff")


@lru_cache(maxsize=256)
def clean(text: str) -> str:
    """Return text on one line, without anything that steers a terminal or the direction."""
    blanked = _BLANK.sub(" ", text)
    return _INVISIBLE.sub("", _STEERING.sub(NOT_SHOWABLE, blanked)).strip()


def harmless(text: str) -> str:
    """Return text with everything written out that steers a terminal or turns a line around.

    As in JSON, U+202E becomes its number after a backslash; the end of a line, and the sequence
    by which a line of progress is wiped, stay.
    """
    if text.isascii() and text.isprintable():
        return text
    return _TURNING.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def clean_lines(text: str) -> str:
    """Return text of several lines, each of them clean; for what goes to a terminal."""
    lines = text.split("\n")
    return "\n".join(
        _INVISIBLE.sub("", _STEERING.sub(NOT_SHOWABLE, line.expandtabs(4).replace("\r", " ")))
        for line in lines
    )


def name(text: str, limit: int = NAME_LIMIT) -> str:
    """Return a grower's name for something, fit to stand in a sentence."""
    return cut(clean(text), limit) or "(no name)"


def cut(text: str, limit: int) -> str:
    """Return text of at most `limit` characters, never cut inside a composed character."""
    if len(text) <= limit:
        return text
    end = limit - 1
    while end > 0 and (_continues(text[end]) or text[end - 1] == "\u200d"):
        end -= 1
    return text[:end].rstrip() + ELLIPSIS


def columns(text: str) -> int:
    """Return how many columns a terminal gives to a text."""
    if text.isascii():
        return len(text)
    return sum(_columns_of(character) for character in text)


def wrap(text: str, first: str = "", rest: str | None = None, width: int = LINE_WIDTH) -> str:
    """Return text broken at blanks into lines of at most `width` columns.

    `first` stands before the first line, `rest` (blanks as wide, by default) before the others.
    A word wider than a line is broken where it must be.
    """
    indent = " " * columns(first) if rest is None else rest
    before, indented = columns(first), columns(indent)
    room = width - max(before, indented)
    lines: list[str] = []
    line, used, empty = first, before, True
    for word in text.split(" "):
        for piece, wide in _pieces(word, room):
            if not empty and used + 1 + wide > width:
                lines.append(line.rstrip())
                line, used, empty = indent, indented, True
            if not empty:
                line, used = line + " ", used + 1
            line, used, empty = line + piece, used + wide, False
    lines.append(line.rstrip())
    return "\n".join(lines)


def table(head: Sequence[str], rows: Iterable[Sequence[str]], width: int | None = None) -> str:
    """Return a table of plain text: columns as wide as they need, two blanks between.

    Where it is wider than `width` each row is lines of its own instead, what it is of first.
    """
    grid = [tuple(head), *(tuple(row) for row in rows)]
    widths = [max(columns(row[place]) for row in grid) for place in range(len(head))]
    if width is not None and width < LINE_WIDTH and sum(widths) + 2 * len(head) - 2 > width:
        return "\n\n".join(_flowed(head, row, width) for row in grid[1:])
    return "\n".join(
        "  ".join(
            cell + " " * (wide - columns(cell)) for cell, wide in zip(row, widths, strict=True)
        ).rstrip()
        for row in grid
    )


def _flowed(head: Sequence[str], row: Sequence[str], width: int) -> str:
    """Return a row of a table as lines: its first cell, then each other one with its heading."""
    cells = zip(head[1:], row[1:], strict=True)
    rest = (wrap(f"{of}: {cell}", "  ", width=width) for of, cell in cells if cell)
    return "\n".join((wrap(row[0], width=width), *rest))


def _pieces(word: str, width: int) -> list[tuple[str, int]]:
    """Return a word in pieces of at most `width` columns, each with its columns."""
    whole = columns(word)
    if whole <= width:
        return [(word, whole)]
    pieces, piece, used = [], "", 0
    for character in word:
        wide = _columns_of(character)
        if used + wide > width:
            pieces.append((piece, used))
            piece, used = "", 0
        piece, used = piece + character, used + wide
    return [*pieces, (piece, used)]


def _columns_of(character: str) -> int:
    if _continues(character):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def _continues(character: str) -> bool:
    return character in _JOINERS or unicodedata.combining(character) != 0
