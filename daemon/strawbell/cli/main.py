"""Runs a command, lets only harmless text out, and turns every error into sentences and a code.

Decided 2026-11-25: Several gardens print as an array with `--json`, one as an object.
"""

from __future__ import annotations

import errno
import importlib
import json
import os
import signal
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO, cast

from strawbell import __version__
from strawbell.cli.early_signals import BROKEN_OFF, hand_over
from strawbell.cli.parser import build_parser, parse
from strawbell.errors import GrowerError, OperationalError
from strawbell.words.catalogue import BRITISH
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


HOMES = {
    **dict.fromkeys(
        ("today", "how", "season", "calendar", "supplies", "why", "summary", "journal"), "reading"
    ),
    **dict.fromkeys(("record", "away", "reload"), "reach"),
    **dict.fromkeys(("settings", "unit"), "installing"),
    "ring": "check",
}
"""Modules that several commands share; each command is a function of its name."""
DONE = 0
NOT_NOW = 1
TO_MEND = 2
DEFECT = 70
OUTPUT_ERRORS = frozenset({errno.ENOSPC, errno.EIO, errno.EDQUOT, errno.EFBIG})
"""What a full or broken output fails with; other files have their own sentences."""


def run(arguments: list[str]) -> int:
    """Run the command line and return its exit code."""
    with harmless_streams():
        return _run(arguments)


def home_of(command: str) -> tuple[str, str]:
    """Return the module of a command, and its function there."""
    name = command.replace("-", "_")
    return f"strawbell.cli.{HOMES.get(name, name)}", name


def _run(arguments: list[str]) -> int:
    options = parse(arguments)
    if options.version:
        print(f"strawbell {__version__}")
        return DONE
    if options.command is None:
        build_parser("").print_help()
        return TO_MEND
    try:
        module, name = home_of(options.command)
        command = getattr(importlib.import_module(module), name)
        if options.command != "run" or options.once:  # the daemon takes them itself
            hand_over()
        code = int(command(options))
        sys.stdout.flush()
        return code
    except GrowerError as error:
        return _fail(TO_MEND, *(problem.sentence() for problem in error.problems), options=options)
    except OperationalError as error:
        return _fail(NOT_NOW, str(error), options=options)
    except BrokenPipeError:
        # Whoever read the output has seen enough.
        sys.stderr.close()
        return DONE
    except OSError as error:
        if error.errno not in OUTPUT_ERRORS or error.filename is not None:
            return _defect(error, options)
        # What is left in the buffer goes nowhere, instead of failing again at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        said = BRITISH.say("reach.unwritten", error=error.strerror)
        return _fail(NOT_NOW, said, options=options)
    except KeyboardInterrupt:
        return _fail(BROKEN_OFF + signal.SIGINT, BRITISH.say("reach.broken-off"), options=options)
    except Exception as error:
        return _defect(error, options)


def _defect(error: Exception, options: object) -> int:
    said = BRITISH.say("reach.defect", error=f"{type(error).__name__}: {error}")
    return _fail(DEFECT, said, options=options)


def _fail(code: int, *sentences: str, options: object) -> int:
    if getattr(options, "debug", False):
        import traceback

        traceback.print_exc()
    for sentence in sentences:
        print(sentence, file=sys.stderr)
    return code
