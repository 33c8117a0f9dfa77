"""`strawbell why`: the numbers behind a day's decisions, as they were when it was told."""

from __future__ import annotations

import argparse
from datetime import date

from strawbell.app.word import tongue_of
from strawbell.cli.context import Seen, seen_gardens
from strawbell.cli.output import print_json
from strawbell.errors import OperationalError
from strawbell.model.journal import EntryKind
from strawbell.season.local_time import local_date, zone_of
from strawbell.words.json_v1 import brief_json
from strawbell.words.terminal import why_screen


def run(options: argparse.Namespace) -> int:
    """Print what a day's decisions rested on."""
    documents = []
    with seen_gardens(options) as gardens:
        for seen in gardens:
            on = options.date or local_date(seen.now, zone_of(seen.garden.place.time_zone))
            kept = _kept(seen, on)
            if options.json:
                documents.append(kept)
            else:
                print(why_screen(kept, seen.garden))
    if options.json:
        print_json(documents)
    return 0


def _kept(seen: Seen, on: date) -> dict[str, object]:
    """Return the brief as it was told on a date, or for today as it would be told now."""
    for entry in reversed(seen.rows(on)):
        if entry.kind is EntryKind.BRIEF and entry.data:
            return dict(entry.data)
    today = seen.brief()
    if today.on == on:
        return dict(brief_json(today, seen.garden))
    raise OperationalError(
        tongue_of(seen.garden).say("why.nothing", garden=seen.garden.name, day=on.isoformat())
    )
