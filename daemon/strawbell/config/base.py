"""What every section of the configuration shares: strictness, kinds of values, refusals.

What can be found in a configuration stands in `findings.toml`, one table for each: what is wrong,
what is allowed, what to do, and whether it is only worth a look.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Callable, Mapping
from datetime import date, time
from functools import cache
from importlib.resources import files
from typing import Annotated, Any, TypeVar

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


@cache
def findings() -> Mapping[str, Mapping[str, Any]]:
    """Return what can be found, by its name; it is read when there is something to tell."""
    table = files("strawbell.config").joinpath("findings.toml")
    return tomllib.loads(table.read_text(encoding="utf-8"))


def said(name: str, /, **places: object) -> dict[str, Any]:
    """Return what is wrong, what is allowed and what to do, with what stands in `{places}`."""
    texts = findings()[name]
    return {key: texts.get(key, "").format(**places) for key in ("what", "allowed", "remedy")}


def refuse(name: str, /, **places: object) -> PydanticCustomError:
    """Return a finding for a validator; its sentence begins with the name of the key."""
    return PydanticCustomError("strawbell", "{what}", said(name, **places))


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
        raise refuse("unprintable")
    return text


def _name(text: str) -> str:
    if not text.strip():
        raise refuse("name-empty")
    if text != text.strip():
        raise refuse("space-around", meant=text.strip())
    return _one_line(text)


def _address(text: str) -> str:
    if "=?" in text or any(breaks_a_line(letter) for letter in text):
        raise refuse("no-plain-address")
    if not _ADDRESS.fullmatch(text):
        raise refuse("no-mail-address" if "@" in text else "address-without-at")
    return text


def _mailbox(text: str) -> str:
    """Check an address that may have a name before it, as in a letter head."""
    name, bracket, rest = text.rpartition("<")
    if not bracket:
        return _address(text)
    shown = name.strip().strip('"')
    if not rest.endswith(">") or any(sign in shown for sign in '<>"\\') or "=?" in text:
        raise refuse("no-mailbox")
    _address(rest[:-1])
    return f'"{_one_line(shown)}" <{rest}' if shown else rest[:-1]


def _sensible_year(day: date) -> date:
    if not YEAR_FIRST <= day.year <= YEAR_LAST:
        raise refuse("strange-year", first=YEAR_FIRST, last=YEAR_LAST)
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
