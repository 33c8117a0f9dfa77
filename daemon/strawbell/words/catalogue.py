"""The catalogue: every message whole, as data, with named places; numbers and dates by CLDR.

`messages/` has a folder for each language (`en/`), in it a file for each kin of things (what mails
say, what commands say, what is wrong in a plan) and there a table for each thing; the folder of a
narrower locale (`en_US/`) has only what is said otherwise. A message is written in a small part of
the ICU message syntax: a place `{crop}`; a choice by the value of a place,
`{held, select, yes {...} other {...}}`; and a choice by CLDR plural category,
`{days, plural, =0 {...} one {...} other {{days} days}}`. In a choice an empty value is `none`, a
truth `yes` or `no`, a member of a vocabulary its value. Every choice has its `other`. Braces are
never plain text.

To add a message: write it whole into the file of its kin, and say it with `tongue.say("table.name",
place=...)`, or, where a table has a message for each member of a vocabulary, with
`tongue.of("table", member, place=...)`. Never join, cut, re-case or read what was said: let the
message choose. `tests/unit/words/test_catalogue.py` fails where a message is missing, unused,
or names other places than it is given, and where English is left outside the catalogue.

An error is said where it is made, by the room that knows what is wrong (this module imports nothing
of ours, so that any room may import it):

    raise OperationalError(BRITISH.say("store.full", path=path))
    raise GrowerError(Problem(BRITISH.say("recorded.empty"), where=path, remedy=BRITISH.say(...)))

One message for each thing that can be wrong, as a whole sentence; a fragment only where a `Problem`
puts it between `where` and `found` (the message "problem.line" says how). What a server or the
system said itself goes into a place. A `Defect`, a `ValueError` and the like speak to who mends
Strawbell and stay in the code.

Decided 2026-11-29: a small reader over Babel and not a library for a message format of its own:
what there is parses all messages at every start, and this one only those that are said. Babel is
imported when the first message is worded. A wheel brings the messages of each locale read ahead
(`daemon/build_pages.py`); a checkout reads what is written.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time
from enum import Enum
from functools import cache, lru_cache
from pkgutil import get_data
from typing import TYPE_CHECKING

from msgspec import Struct, json

if TYPE_CHECKING:
    from babel import Locale

Place = str | float | Enum | None
"""What stands in a place: words already said, a number, a member of a vocabulary, or nothing."""
Catalogue = Mapping[str, tuple[str, ...]]
"""The messages by "table.name", several where they are a list."""

LATIN_DIGITS = ("en",)
"""Languages whose usual digits (CLDR, default numbering system) are those of Python: a plain whole
number is written without a library."""

_TOKEN = re.compile(r"\{\s*(\w+)\s*(?:,\s*(select|plural)\s*,)?|[{}]")
_KEY = re.compile(r"\s*(=?[\w-]+)\s*\{")
_CLOSE = re.compile(r"\s*\}")


class Choice(Struct, frozen=True):
    """A place of a message; with `options` what is said for each of its values."""

    place: str
    plural: bool
    options: Mapping[str, Message]


Message = tuple[str | Choice, ...]


class Tongue(Struct, frozen=True):
    """A locale in which things are said."""

    locale: str = "en_GB"

    def say(self, key: str, /, **places: Place) -> str:
        """Return a message with its places filled."""
        return self._filled(message(self.locale, key), places)

    def of(self, table: str, member: Enum, row: str = "", /, **places: Place) -> str:
        """Return the message, or a row of the messages, of a table for a member of a vocabulary."""
        return self.say(_of(table, member, row), **places)

    def optional(self, table: str, member: Enum, row: str, /, **places: Place) -> str:
        """Return a row of the messages of a table for a member, "" where it has no such row."""
        return self.known(_of(table, member, row), **places)

    def lines_of(self, table: str, member: Enum, row: str, /, **places: Place) -> tuple[str, ...]:
        """Return a list of messages, but for those that come to nothing; () where it has none."""
        key = _of(table, member, row)
        found = lines(self.locale, key) if key in messages(self.locale) else ()
        return tuple(said for each in found if (said := self._filled(each, places)))

    def known(self, key: str, /, **places: Place) -> str:
        """Return the message for a thing that may be known or not, "" where it is not."""
        return self.say(key, **places) if key in messages(self.locale) else ""

    def number(self, value: float, digits: int = 0, *, padded: bool = False) -> str:
        """Return a number with at most `digits` decimals; idle zeros only where it is `padded`."""
        return _number(self.locale, round(value, digits) + 0.0, ("0" if padded else "#") * digits)

    def day(self, on: date) -> str:
        """Return a date in short: "Fri 9 Apr", in US words "Fri, Apr 9"."""
        return self.date("date.day", on)

    def long_day(self, on: date) -> str:
        """Return a date with its year: "Friday 9 April 2027"."""
        return self.date("date.long", on)

    def clock(self, at: datetime | time) -> str:
        """Return a time of day: "17:00", in US words "5 PM"."""
        return self.time("time.clock" if at.minute else "time.hour", at)

    def date(self, pattern: str, on: date) -> str:
        """Return a date by a pattern of the catalogue ("date.day")."""
        return _date(self.locale, message(self.locale, pattern), on)

    def time(self, pattern: str, at: datetime | time) -> str:
        """Return a time of day by a pattern of the catalogue ("time.clock")."""
        return _time(self.locale, message(self.locale, pattern), at.hour, at.minute)

    def listing(self, words: Iterable[str], style: str = "standard") -> str:
        """Return words as they are said, each once: "a", "a and b", "a, b and c".

        `style` is "standard", "or", or "comma", which not every locale has a pattern of CLDR for.
        """
        items = tuple(dict.fromkeys(words))
        if style == "comma":
            rest = self.listing(items[1:], style) if items[1:] else None
            return self.say("amount.comma", words=items[0], more=rest) if items else ""
        return "".join(items) if len(items) < 2 else _listed(self.locale, items, style)  # noqa: PLR2004

    def read_ahead(self) -> None:
        """Read the messages and what the locale knows of numbers, dates and lists."""
        self.date("date.day", date(2000, 1, 1))
        self.clock(time(0))
        self.listing((self.number(1.5, 1), self.number(2.0)))
        _cldr(self.locale).plural_form(1)

    def _filled(self, parts: Message, places: Mapping[str, Place]) -> str:
        return "".join(
            part if isinstance(part, str) else self._chosen(part, places) for part in parts
        )

    def _chosen(self, choice: Choice, places: Mapping[str, Place]) -> str:
        value = places[choice.place]
        if not choice.options:
            if value is None:
                raise KeyError(choice.place)
            return self.number(value, 3) if isinstance(value, (int, float)) else str(value)
        key = self._plural(choice, value) if choice.plural else _key(value)
        chosen = choice.options.get(key)
        return self._filled(choice.options["other"] if chosen is None else chosen, places)

    def _plural(self, choice: Choice, value: Place) -> str:
        if not isinstance(value, (int, float)):
            raise TypeError(f"{choice.place} must be a number, not {value!r}")
        exact = f"={value:g}"
        if exact in choice.options or all(
            key[0] == "=" or key == "other" for key in choice.options
        ):
            return exact  # no category is asked for
        return str(_cldr(self.locale).plural_form(value))


BRITISH, AMERICAN = Tongue(), Tongue("en_US")


def _key(value: Place) -> str:
    if value is None or value == "":
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value.value if isinstance(value, Enum) else value)


def message(locale: str, key: str) -> Message:
    """Return a message of a locale; a missing one is a defect."""
    return lines(locale, key)[0]


def lines(locale: str, key: str) -> tuple[Message, ...]:
    """Return the messages that a locale has under a key: one, or those of a list."""
    return tuple(_read(each) for each in messages(locale)[key])


def _of(table: str, member: Enum, row: str) -> str:
    key = f"{table}.{str(member.value).replace(' ', '-')}"
    return f"{key}.{row}" if row else key


@cache
def messages(locale: str) -> Catalogue:
    """Return the messages of a locale: its own over those of its language."""
    ahead = _brought(f"ahead/{locale}.json")
    return written(locale) if ahead is None else json.decode(ahead, type=dict[str, tuple[str, ...]])


def written(locale: str) -> Catalogue:
    """Return the messages of a locale as they are written, which takes ten times as long."""
    import tomllib
    from importlib.resources import files

    found: dict[str, tuple[str, ...]] = {}
    for name in dict.fromkeys((locale.partition("_")[0], locale)):
        folder = files(__package__) / "messages" / name
        own: dict[str, tuple[str, ...]] = {}
        for file in folder.iterdir() if folder.is_dir() else ():
            for key, said in _flat(tomllib.loads(file.read_text(encoding="utf-8"))):
                if own.setdefault(key, said) is not said:
                    raise ValueError(f"{key} stands in two files of {name}")
        found |= own
    return found


def _brought(name: str) -> bytes | None:
    """Return a file of this package, None where it has none of that name."""
    try:
        return get_data(__package__, name)
    except OSError:
        return None


def _flat(table: Mapping[str, object], stem: str = "") -> Iterator[tuple[str, tuple[str, ...]]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{stem}{key}.")
        else:
            yield f"{stem}{key}", tuple(value) if isinstance(value, list) else (str(value),)


@cache
def _read(text: str) -> Message:
    parts, end = _parts(text, 0)
    if end != len(text):
        raise ValueError(f"a brace too many in {text!r}")
    return parts


def _parts(text: str, at: int) -> tuple[Message, int]:
    """Return the parts of a text up to the brace that closes it, and where that stands."""
    parts: list[str | Choice] = []
    while found := _TOKEN.search(text, at):
        if found.start() > at:
            parts.append(text[at : found.start()])
        if found[0] == "}":
            return tuple(parts), found.start()
        if found[1] is None:
            raise ValueError(f"a place without a name in {text!r}")
        options: dict[str, Message] = {}
        at = found.end()
        while found[2] and (key := _KEY.match(text, at)):
            options[key[1]], at = _parts(text, key.end())
            at += 1
        close = _CLOSE.match(text, at)
        if close is None or (found[2] and "other" not in options):
            raise ValueError(f"no end, or no other, for {found[1]!r} in {text!r}")
        parts.append(Choice(found[1], found[2] == "plural", options))
        at = close.end()
    if at < len(text):
        parts.append(text[at:])
    return tuple(parts), len(text)


@cache
def _cldr(locale: str) -> Locale:
    from babel import Locale

    return Locale.parse(locale)


@lru_cache(maxsize=4096)
def _number(locale: str, value: float, decimals: str) -> str:
    is_whole = value >= 0 and value == int(value) and "0" not in decimals
    if is_whole and locale.partition("_")[0] in LATIN_DIGITS:
        return f"{value:.0f}"
    from babel.numbers import format_decimal

    return format_decimal(value, f"0.{decimals}".rstrip("."), _cldr(locale))


@lru_cache(maxsize=1024)
def _date(locale: str, pattern: Message, on: date) -> str:
    from babel.dates import format_date

    return format_date(on, str(pattern[0]), _cldr(locale))


@lru_cache(maxsize=256)
def _time(locale: str, pattern: Message, hour: int, minute: int) -> str:
    from babel.dates import format_time

    return format_time(time(hour, minute), str(pattern[0]), locale=_cldr(locale))


@lru_cache(maxsize=256)
def _listed(locale: str, items: tuple[str, ...], style: str) -> str:
    from babel.lists import format_list

    return format_list(items, style, _cldr(locale))  # type: ignore[arg-type]
