"""A made-up language: every letter of the catalogue with an accent, every date in Greek.

What is still plain English in it did not come from the catalogue.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from unittest.mock import patch

from babel import Locale
from msgspec.structs import replace

from strawbell.words import catalogue, units
from strawbell.words.catalogue import Message

LETTERS = "abcdefghijklmnopqrstuvwxyz"
ACCENTED = "áƀćđéƒǵĥíĵķĺḿńóṕɋŕśťúṽŵẋýź"
_ACCENTS = str.maketrans(LETTERS + LETTERS.upper(), ACCENTED + ACCENTED.upper())
_TYPED = re.compile(
    r"strawbell (?:record (?:done|missed|feed|cost|temperature)|check --connect|start-when|[a-z]+)"
    r"|--[a-z]+|\[times\] [a-z]+|https?:\S+"
)
"""What is typed as it stands stays as it is."""
TYPED = "strawbell record done cost supplies temperature times morning unit start when"
"""Words of commands and settings, which are typed as they stand."""
_WORD = re.compile(r"[A-Za-z]{2,}")
_GREEK = Locale("el")
_CACHES = (
    catalogue._number,
    catalogue._date,
    catalogue._time,
    catalogue._listed,
    units._measures,
    units.cups_and_spoons,
)


def accented(text: str) -> str:
    """Return text in the made-up language."""
    parts, at = [], 0
    for kept in _TYPED.finditer(text):
        parts += [text[at : kept.start()].translate(_ACCENTS), kept[0]]
        at = kept.end()
    return "".join((*parts, text[at:].translate(_ACCENTS)))


def _made_up(parts: Message) -> Message:
    return tuple(
        accented(part)
        if isinstance(part, str)
        else replace(part, options={key: _made_up(each) for key, each in part.options.items()})
        for part in parts
    )


@contextmanager
def made_up_locale() -> Iterator[set[str]]:
    """Say everything in the made-up language; gives the keys of what was said."""
    english = catalogue.lines
    said: set[str] = set()

    def lines(locale: str, key: str) -> tuple[Message, ...]:
        said.add(key)
        found = english(locale, key)
        return found if key.startswith(("date.", "time.")) else tuple(map(_made_up, found))

    def forget() -> None:
        for each in _CACHES:
            each.cache_clear()

    forget()
    with (
        patch.object(catalogue, "lines", lines),
        patch.object(catalogue, "_cldr", lambda _locale: _GREEK),
    ):
        yield said
    forget()


def english_left(said: str, names: str = "") -> list[str]:
    """Return the plain words of what was said, but for those of `names` (the grower's own)."""
    own = set(_WORD.findall(names))
    return [word for word in _WORD.findall(said) if word not in own]
