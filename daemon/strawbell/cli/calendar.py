"""`strawbell calendar`: the season of a garden as an iCalendar file, written anew in place."""

from __future__ import annotations

import argparse
import os
import tempfile
from pathlib import Path

from strawbell.cli.context import one_garden, seen_gardens
from strawbell.errors import GrowerError, Problem
from strawbell.planning.season import season
from strawbell.wording.calendar import calendar_bytes


def run(options: argparse.Namespace) -> int:
    """Write the calendar and say how many entries it has."""
    path: Path = options.file.expanduser()
    with seen_gardens(options) as gardens:
        seen = list(gardens)
        if len(seen) != 1:
            one_garden(seen[0].configuration, options.garden)
        garden = seen[0].garden
        days = season(garden, seen[0].journal, seen[0].forecast, seen[0].now)
        previous = path.read_bytes() if path.is_file() else None
        content = calendar_bytes(days, garden, previous, seen[0].now)
    if content == previous:
        print(f"{path} is as it was.")
        return 0
    _write_whole(path, content)
    print(f"{path} has {content.count(b'BEGIN:VEVENT')} entries.")
    return 0


def _write_whole(path: Path, content: bytes) -> None:
    """Replace the file at once, so that a program that reads it never sees half of it."""
    try:
        descriptor, name = tempfile.mkstemp(dir=path.parent or ".", prefix=f".{path.name}-")
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except OSError as error:
        raise GrowerError(
            Problem(
                what=f"the calendar cannot be written: {error.strerror}",
                where=str(path),
                remedy="Name a file in a folder you may write to.",
            )
        ) from error
