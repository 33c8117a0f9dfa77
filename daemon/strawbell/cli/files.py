"""How commands write a file: whole or not at all."""

from __future__ import annotations

from pathlib import Path

from strawbell.edges.whole_file import replace_whole
from strawbell.errors import GrowerError, Problem


def write_whole(path: Path, content: bytes, what: str) -> None:
    """Replace the file at once, so that a program that reads it never sees half of it.

    `what` is what a failure is said about, such as "the calendar".
    """
    try:
        replace_whole(path, content)
    except OSError as error:
        raise GrowerError(
            Problem(
                what=f"{what} cannot be written: {error.strerror}",
                where=str(path),
                remedy="Name a file in a folder you may write to.",
            )
        ) from error
