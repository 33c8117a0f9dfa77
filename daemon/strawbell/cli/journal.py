"""`strawbell journal`: what was told, done, missed, measured and sent."""

from __future__ import annotations

import argparse

from strawbell.app.kept_indexes import kept_in
from strawbell.app.word import gardens_meant, moment_meant
from strawbell.cli.configured import read_configuration
from strawbell.cli.output import print_json, text_width
from strawbell.cli.reach import reached
from strawbell.edges.clock import SystemClock
from strawbell.model.journal import EntryKind
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import local_date, zone_of
from strawbell.season.season_summary import chances_kept
from strawbell.season.undone import standing
from strawbell.wiring import build
from strawbell.words.json_v1 import journal_json
from strawbell.words.summary_json import chances_json
from strawbell.words.terminal import journal_screen


def run(options: argparse.Namespace) -> int:
    """Print the journal of every garden meant."""
    configuration = read_configuration(options)
    documents = []
    now = SystemClock().now()
    with reached(configuration, now) as store:
        for garden in gardens_meant(configuration.gardens, options.garden):
            until = moment_meant(options.at, garden, now)
            zone = zone_of(garden.place.time_zone)
            kept = tuple(entry for entry in store.journal(garden.name) if entry.at <= until)
            # Every row is shown; only a supposed time has them indexed anew.
            at_hand = options.at is None
            found = kept_in(store, garden, build()).index if at_hand else JournalIndex.of(kept)
            rows = [
                entry
                for entry in kept
                # What a garden is known by is news only where a name has changed.
                if (entry.kind is not EntryKind.KNOWN or entry.text)
                and (options.since is None or entry.local_date >= options.since)
            ]
            told = standing(tuple(rows))
            chances = chances_kept(garden, told, found, local_date(until, zone))
            if options.json:
                entries = journal_json(rows, zone)
                documents.append(
                    {"garden": garden.name, "entries": entries, **chances_json(chances)}
                )
            else:
                # The whole brief of a day is for `why`; its tasks have rows of their own.
                shown = [each for each in rows if each.kind is not EntryKind.BRIEF]
                print(journal_screen(shown, garden, text_width(), chances))
    if options.json:
        print_json(documents)
    return 0
