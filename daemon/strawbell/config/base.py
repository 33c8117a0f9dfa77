"""What every section of the configuration shares: strictness, kinds of values, refusals."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from datetime import date, time
from typing import Annotated, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

NAME_LETTERS_MAX = 120
"""Longest name of anything; longer ones do not fit a subject line."""
TEXT_LETTERS_MAX = 1000
"""Longest other text; nothing in a configuration needs more."""
YEAR_FIRST, YEAR_LAST = 2000, 2099
"""Years a plan may lie in; others are slips of the finger."""

T = TypeVar("T")
_LINE_BREAKING = ("Zl", "Zp")
_ADDRESS = re.compile(r"[A-Za-z0-9.!#$%&'*+/?^_`{|}~-]+@[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)*")


class Section(BaseModel):
    """A table of the configuration: unknown keys are mistakes, values keep their TOML type.

    What stands below each key is its manual: the example and `strawbell settings` are made of it.
    """

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        hide_input_in_errors=True,
        validate_default=False,
        defer_build=True,
    )


def refuse(what: str, allowed: str = "", remedy: str = "") -> PydanticCustomError:
    """Return an error for a validator that already speaks to the grower."""
    return PydanticCustomError(
        "strawbell", "{what}", {"what": what, "allowed": allowed, "remedy": remedy}
    )


def left_out(section: Callable[..., T]) -> T:
    """Return the default of a table that may be left out: the defaults of all its keys."""
    made: T = Field(default_factory=section)
    return made


def breaks_a_line(letter: str) -> bool:
    """Return whether a letter is a control, a line separator or half of a surrogate pair."""
    category = unicodedata.category(letter)
    return category in ("Cc", "Cs") or category in _LINE_BREAKING


def _one_line(text: str) -> str:
    if any(breaks_a_line(letter) for letter in text):
        raise refuse(
            "holds a line break or a control character",
            "printable text on one line",
            "Remove what cannot be seen, such as \\n, \\t or \\u0000.",
        )
    return text


def _name(text: str) -> str:
    if not text.strip():
        raise refuse("is empty", "a name of at least one letter")
    if text != text.strip():
        raise refuse("begins or ends with a space", remedy=f'Write "{text.strip()}".')
    return _one_line(text)


def _address(text: str) -> str:
    if "=?" in text or any(breaks_a_line(letter) for letter in text):
        raise refuse("is not a plain mail address", "an address such as grower@example.org")
    if not _ADDRESS.fullmatch(text):
        hint = "The @ is missing." if "@" not in text else "Give the address alone, no name."
        raise refuse("is not a mail address", "an address such as grower@example.org", hint)
    return text


def _mailbox(text: str) -> str:
    """Check an address that may have a name before it, as in a letter head."""
    name, bracket, rest = text.rpartition("<")
    if not bracket:
        return _address(text)
    shown = name.strip().strip('"')
    if not rest.endswith(">") or any(sign in shown for sign in '<>"\\') or "=?" in text:
        raise refuse("is not a name with a mail address", "for instance Bales <bales@example.org>")
    _address(rest[:-1])
    return f'"{_one_line(shown)}" <{rest}' if shown else rest[:-1]


def _sensible_year(day: date) -> date:
    if not YEAR_FIRST <= day.year <= YEAR_LAST:
        raise refuse("has a year that cannot be meant", f"a year from {YEAR_FIRST} to {YEAR_LAST}")
    return day


def _whole_second(moment: time) -> time:
    return moment.replace(microsecond=0)


Lax = Annotated[T, Field(strict=False)]
"""What TOML has no type of its own for: choices are texts there, tuples are lists."""
Name = Annotated[str, Field(max_length=NAME_LETTERS_MAX), AfterValidator(_name)]
"""A name the grower gives."""
Line = Annotated[str, Field(min_length=1, max_length=TEXT_LETTERS_MAX), AfterValidator(_one_line)]
"""Printable text on one line."""
Address = Annotated[str, Field(max_length=254), AfterValidator(_address)]
"""A mail address without a display name (at most 254 letters, RFC 5321 with its erratum 1690)."""
Mailbox = Annotated[str, Field(max_length=400), AfterValidator(_mailbox)]
"""A mail address, with or without a display name."""
Day = Annotated[date, AfterValidator(_sensible_year)]
"""A day of the plan."""
TimeOfDay = Annotated[time, AfterValidator(_whole_second)]
"""A garden-local time of day."""
