"""Slips of the finger in every key, header and name of the sound configuration."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from support.config_mistakes import SOUND

_ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
_KEY = re.compile(r"(\w+)( = .*)")
_HEADER = re.compile(r"(\[\[?(?:\w+\.)*)(\w+)(\]\]?)")
_NAMES = re.compile(r'((?:time_zone|bale|schedule|feed|crop|method|like|security) = ")([^"]+)(")')
"""Keys whose value is a name that has to be known."""


@dataclass(frozen=True)
class Typo:
    """One word misspelt on one line of the sound configuration, counted from 0."""

    word: str
    typo: str
    line: int
    kind: str
    written: str

    @property
    def text(self) -> str:
        """The whole configuration with it."""
        lines = SOUND.split("\n")
        lines[self.line] = self.written
        return "\n".join(lines)

    @property
    def hint(self) -> re.Pattern[str]:
        """What a right hint looks like: the word, in its quotes or brackets."""
        return re.compile(rf'Did you mean (\[\[?(\w+\.)*|")?{re.escape(self.word)}(\]\]?|")?\?')


def typos() -> Iterator[Typo]:
    """Yield four slips of every key, header and name."""
    for number, line in enumerate(SOUND.split("\n")):
        for kind, word, written in _words(line):
            for slip in _slips(word):
                yield Typo(word, slip, number, kind, written(slip))


def _words(line: str) -> Iterator[tuple[str, str, Callable[[str], str]]]:
    """Yield what can be misspelt on a line, and the line as it reads then."""
    if key := _KEY.fullmatch(line):
        yield "key", key[1], lambda slip: slip + key[2]
    if header := _HEADER.fullmatch(line):
        yield "header", header[2], lambda slip: header[1] + slip + header[3]
    if name := _NAMES.fullmatch(line):
        yield "name", name[2], lambda slip: name[1] + slip + name[3]


def _slips(word: str) -> Iterator[str]:
    """Yield the word with two letters swapped, one left out, one doubled, one beside its key."""
    dice = random.Random(word)
    letters = [n for n, letter in enumerate(word) if letter.isalpha()]
    pairs = [n for n in letters if word[n + 1 : n + 2].isalpha() and word[n + 1] != word[n]]
    at = dice.choice(pairs)
    yield word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    at = dice.choice(letters)
    yield word[:at] + word[at + 1 :]
    at = dice.choice(letters)
    yield word[: at + 1] + word[at:]
    at = dice.choice(letters)
    yield word[:at] + _beside(word[at].lower()) + word[at + 1 :]


def _beside(letter: str) -> str:
    row = next(row for row in _ROWS if letter in row)
    at = row.index(letter)
    return row[at + 1] if at + 1 < len(row) else row[at - 1]
