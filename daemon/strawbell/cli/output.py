"""How the commands print: one garden as a JSON object, several as an array; text that fits.

Decided 2026-11-25: Several gardens print as an array with `--json`, one as an object.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO, cast

from strawbell.words.escaping import LINE_WIDTH, harmless

NARROWEST, WIDEST = 40, 100
"""Text is never narrower or wider than this [columns]: longer lines are hard to read."""


class Harmless:
    """A stream on which nothing that others wrote can steer the terminal or turn a line around."""

    def __init__(self, stream: TextIO) -> None:
        """Write to `stream`, which does everything else."""
        self._stream = stream

    def write(self, text: str) -> int:
        """Write text with what is harmful written out."""
        # A letter that the terminal does not know becomes "?".
        known = self._stream.encoding or "utf-8"
        return self._stream.write(harmless(text).encode(known, "replace").decode(known))

    def __getattr__(self, name: str) -> object:
        return getattr(self._stream, name)


def _nowhere() -> TextIO:
    """Return what stands in for a stream that the caller closed."""
    return Path(os.devnull).open("w", encoding="utf-8")


@contextmanager
def harmless_streams() -> Iterator[None]:
    """Let everything that is printed be harmless."""
    kept = sys.stdout, sys.stderr
    streams = (stream or _nowhere() for stream in kept)
    sys.stdout, sys.stderr = (cast("TextIO", Harmless(stream)) for stream in streams)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = kept


def text_width() -> int:
    """Return how wide text may be [columns]: as the terminal is, within limits; in a pipe 78."""
    if not sys.stdout.isatty():
        return LINE_WIDTH
    from shutil import get_terminal_size

    return min(max(get_terminal_size((LINE_WIDTH, 24)).columns, NARROWEST), WIDEST)


def print_json(documents: Sequence[object]) -> None:
    """Print one document by itself, several as an array."""
    content = documents[0] if len(documents) == 1 else list(documents)
    print(json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False))
