"""How the commands print: one garden as a JSON object, several as an array; text that fits."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Sequence

from strawbell.words.escaping import LINE_WIDTH

NARROWEST, WIDEST = 40, 100
"""Text is never narrower or wider than this [columns]: longer lines are hard to read."""


def text_width() -> int:
    """Return how wide text may be [columns]: as the terminal is, within limits; in a pipe 78."""
    if not sys.stdout.isatty():
        return LINE_WIDTH
    return min(max(shutil.get_terminal_size((LINE_WIDTH, 24)).columns, NARROWEST), WIDEST)


def print_json(documents: Sequence[object]) -> None:
    """Print one document by itself, several as an array."""
    content = documents[0] if len(documents) == 1 else list(documents)
    print(json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False))
