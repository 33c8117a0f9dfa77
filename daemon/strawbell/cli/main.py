"""Runs a command and turns every error into sentences and an exit code, in one place."""

from __future__ import annotations

import errno
import importlib
import os
import signal
import sys

from strawbell import __version__
from strawbell.cli.early_signals import BROKEN_OFF, hand_over
from strawbell.cli.output import harmless_streams
from strawbell.cli.parser import build_parser, parse
from strawbell.errors import GrowerError, OperationalError

HOMES = {
    **dict.fromkeys(
        ("today", "how", "season", "calendar", "supplies", "why", "summary", "journal"), "reading"
    ),
    "away": "record",
    "reload": "reach",
}
"""Modules that several commands share, each a function of its name; others have a `run`."""
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
    home = HOMES.get(name)
    return (f"strawbell.cli.{name}", "run") if home is None else (f"strawbell.cli.{home}", name)


def _run(arguments: list[str]) -> int:
    options = parse(arguments)
    if options.version:
        print(f"strawbell {__version__}")
        return DONE
    if options.command is None:
        build_parser().print_help()
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
        sentence = f"What there is to say could not be written: {error.strerror}."
        return _fail(NOT_NOW, sentence, options=options)
    except KeyboardInterrupt:
        return _fail(BROKEN_OFF + signal.SIGINT, "Stopped.", options=options)
    except Exception as error:
        return _defect(error, options)


def _defect(error: Exception, options: object) -> int:
    sentence = f"This is a defect of Strawbell ({type(error).__name__}: {error})."
    remedy = "Run the command again with `strawbell --debug` and report what it prints."
    return _fail(DEFECT, f"{sentence} {remedy}", options=options)


def _fail(code: int, *sentences: str, options: object) -> int:
    if getattr(options, "debug", False):
        import traceback

        traceback.print_exc()
    for sentence in sentences:
        print(sentence, file=sys.stderr)
    return code
