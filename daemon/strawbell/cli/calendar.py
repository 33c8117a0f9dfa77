"""`strawbell calendar`: the season of a garden as an iCalendar file, written anew in place."""

from __future__ import annotations

import argparse
from pathlib import Path

from strawbell.app.word import one_garden
from strawbell.cli.context import seen_gardens
from strawbell.cli.files import write_whole
from strawbell.decision.projection import season
from strawbell.words.calendar import calendar_bytes
from strawbell.words.catalogue import BRITISH


def run(options: argparse.Namespace) -> int:
    """Write the calendar and say how many entries it has."""
    path: Path = options.file.expanduser()
    with seen_gardens(options) as gardens:
        seen = list(gardens)
        if len(seen) != 1:
            one_garden([each.garden for each in seen], options.garden)
        garden = seen[0].garden
        days = season(garden, seen[0].index, seen[0].forecast, seen[0].now)
        previous = path.read_bytes() if path.is_file() else None
        content = calendar_bytes(days, garden, previous, seen[0].now)
    if content == previous:
        print(BRITISH.say("written.same", path=str(path)))
        return 0
    write_whole(path, content)
    entries = content.count(b"BEGIN:VEVENT")
    print(BRITISH.say("written.calendar", path=str(path), count=entries))
    return 0
