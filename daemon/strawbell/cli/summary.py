"""`strawbell summary`: what the season came to by the journal, and what to change next year."""

from __future__ import annotations

import argparse

from strawbell.app.word import gardens_meant, moment_meant
from strawbell.cli.configured import read_configuration
from strawbell.cli.output import print_json
from strawbell.cli.reach import reached
from strawbell.edges.clock import SystemClock
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import local_date, zone_of
from strawbell.season.season_summary import summarise
from strawbell.words.summary_json import summary_json
from strawbell.words.summary_text import summary_screen


def run(options: argparse.Namespace) -> int:
    """Print the summary of every garden meant; no forecast is asked for."""
    configuration = read_configuration(options)
    documents = []
    now = SystemClock().now()
    with reached(configuration, now) as store:
        for garden in gardens_meant(configuration.gardens, options.garden):
            until = moment_meant(options.at, garden, now)
            rows = tuple(entry for entry in store.journal(garden.name) if entry.at <= until)
            today = local_date(until, zone_of(garden.place.time_zone))
            found = summarise(garden, rows, JournalIndex.of(rows), today)
            if options.json:
                documents.append(summary_json(found, garden))
            else:
                print(summary_screen(found, garden))
    if options.json:
        print_json(documents)
    return 0
