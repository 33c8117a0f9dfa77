"""How words, rows and answers cross the daemon's door: as plain JSON values, read strictly."""

from __future__ import annotations

from typing import TypeVar

import msgspec
from msgspec import Struct

from strawbell.errors import GrowerError, Problem

Line = dict[str, object]
S = TypeVar("S", bound=Struct)


class Said(Struct, frozen=True):
    """What came back for a word."""

    said: str
    warnings: tuple[str, ...]
    store: str
    by_daemon: bool = True


class Laid(Struct, frozen=True):
    """What was laid by of a garden's journal, up to its row `last`."""

    last: int
    content: bytes


def line_of(value: Struct) -> Line:
    """Return a value as JSON values; dates in ISO 8601, bytes in base 64."""
    line: Line = msgspec.to_builtins(
        value, enc_hook=dict
    )  # rows hold mappings that wait to be read
    return line


def value_in(line: object, kind: type[S]) -> S:
    """Return the value of JSON values; raise `GrowerError` where they are none of its kind."""
    try:
        return msgspec.convert(line, kind)
    except msgspec.ValidationError as error:
        raise other_version() from error


def other_version() -> GrowerError:
    """Return what is said where the two sides of the door do not understand each other."""
    return GrowerError(
        Problem(
            what="the daemon that runs does not know this request; it is of another version",
            remedy="Start the daemon anew, so that both are the same.",
        )
    )
