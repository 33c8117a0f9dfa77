"""Tell every setting, from the schema: as config.example.toml, or one by one.

The docstrings of the schema are the manual, and it is written in English: neither they nor the few
words around them here are messages of the catalogue. What is said of a mistake is one.

`python -m strawbell.config.example` prints the example.
"""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterator, Sequence
from datetime import date, time
from enum import Enum

from strawbell.config.keys import Key, Kind, keys_in, outline

WIDTH = 96
"""Longest line of the example."""
_HEAD = """\
# Strawbell: an example of its configuration, written from the schema. Every key is here.
#
# A line that begins with "# key =" is not in force; it shows the default, or an example where
# there is none. Take the # away to set it. A garden needs no more than the lines without #.
# It is looked for in the file named with --config, else in $STRAWBELL_CONFIG, else in the
# platform's configuration folder (on Linux ~/.config/strawbell/config.toml).
# A variable such as STRAWBELL_EMAIL__PASSWORD overrules this file.
# `strawbell check` reads it and lists every mistake at once.
"""
_IN_FORCE = {
    "gardens.name", "gardens.latitude", "gardens.longitude", "gardens.time_zone",
    "gardens.batches.name", "gardens.batches.bales", "gardens.batches.start_on",
    "gardens.batches.plantings.crop", "gardens.batches.plantings.plants",
}  # fmt: skip
"""The keys of the example garden that are in force."""
_OPEN = ("gardens", "gardens.batches", "gardens.batches.plantings")
"""The tables of the example garden."""
_BOUNDED = (Kind.NUMBER, Kind.WHOLE)
_INLINE = ("gardens.batches.bale", "schedules.days")
"""Keys with a table for a value; their own keys are told in the description."""


def example_toml() -> str:
    """Return the text of config.example.toml."""
    lines = [*_HEAD.splitlines(), ""]
    top = keys_in(())
    for key in top.values():
        if key.section is None:
            lines += [*_key(key, ""), ""]
    for key in top.values():
        if key.section is not None:
            lines += [*_table(key), ""]
    return "\n".join(_squeezed(lines)).rstrip() + "\n"


def _squeezed(lines: list[str]) -> Iterator[str]:
    """Yield lines without two empty ones in a row."""
    last = "x"
    for line in lines:
        if line or last:
            yield line
        last = line


def _table(key: Key) -> Iterator[str]:
    dotted = ".".join(key.path)
    indent = "  " * (len(key.path) - 1)
    brackets = f"[[{dotted}]]" if key.kind is Kind.TABLES else f"[{dotted}]"
    in_force = dotted in _OPEN
    yield ""
    yield from _comment(key.description, indent)
    yield f"{indent}{brackets}" if in_force else f"{indent}# {brackets}"
    below = []
    for inner in keys_in(key.path).values():
        if inner.section is not None and ".".join(inner.path) not in _INLINE:
            below.append(inner)
        else:
            yield from _key(inner, indent)
    for inner in below:
        yield from _table(inner)


def _key(key: Key, indent: str) -> Iterator[str]:
    dotted = ".".join(key.path)
    allowed = key.allowed if key.choices or key.kind in _BOUNDED else ""
    words = [key.description, f"{allowed[:1].upper()}{allowed[1:]}." if allowed else ""]
    if key.required and dotted not in _IN_FORCE:
        words.append("Needed.")
    yield from _comment(" ".join(filter(None, words)), indent)
    mark = "" if dotted in _IN_FORCE else "# "
    yield f"{indent}{mark}{key.name} = {_toml(_shown_value(key), key)}"


def _comment(text: str, indent: str) -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=f"{indent}# ",
        subsequent_indent=f"{indent}#   ",
        break_on_hyphens=False,
    )


def _shown_value(key: Key) -> object:
    return key.example if key.required or key.default in _NONE else key.default


def _toml(value: object, key: Key) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Enum):
        return f'"{value.value}"'
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, str):
        return value if key.kind in (Kind.DATE, Kind.TIME) else f'"{value}"'
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_toml(each, key) for each in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {_toml(v, key)}" for k, v in value.items()) + " }"
    if isinstance(value, float):
        return repr(value)
    return str(value)


def settings(words: Sequence[str] = ()) -> Iterator[tuple[str, str, str]]:
    """Yield every key that has all `words`: name, what it may be and its default, meaning."""
    for key in outline().values():
        dotted = ".".join(key.path)
        if key.section is not None and dotted not in _INLINE:
            continue
        text = f"{dotted} {key.description}".casefold()
        if not all(word.casefold() in text for word in words):
            continue
        kind = key.allowed if key.choices or key.kind in _BOUNDED else _PLAIN[key.kind]
        if dotted in _INLINE:
            kind = "text or table" if key.kind is Kind.TEXT else "texts or tables"
        yield dotted, f"{kind}; {_default(key)}", key.description


_NONE: tuple[object, ...] = (None, (), {})
_PLAIN = {
    Kind.TEXT: "text", Kind.SECRET: "text", Kind.SWITCH: "true or false", Kind.DATE: "date",
    Kind.TIME: "time", Kind.TEXTS: "list of texts", Kind.NUMBERS: "list of numbers",
    Kind.TABLES: "tables", Kind.BY_DAY: "texts by day", Kind.TABLE: "table", Kind.CHOICE: "text",
    Kind.NUMBER: "number", Kind.WHOLE: "whole number",
}  # fmt: skip


def _default(key: Key) -> str:
    if key.required:
        return "needed"
    if key.default in _NONE:
        return "may be left out"
    return f"without it {_toml(key.default, key)}"


if __name__ == "__main__":
    sys.stdout.write(example_toml())
