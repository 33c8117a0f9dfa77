"""How commands write a file: whole or not at all."""

from __future__ import annotations

from pathlib import Path

from strawbell.app.word import refusal
from strawbell.edges.whole_file import replace_whole
from strawbell.words.catalogue import BRITISH


def write_whole(path: Path, content: bytes) -> None:
    """Replace the file at once, so that a program that reads it never sees half of it."""
    try:
        replace_whole(path, content)
    except OSError as error:
        said = BRITISH.say("written.not", error=str(error.strerror))
        raise refusal(said, str(path)) from error
