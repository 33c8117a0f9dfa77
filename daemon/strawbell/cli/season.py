"""`strawbell season`: every batch day by day, done and projected."""

from __future__ import annotations

import argparse

from strawbell.cli.context import seen_gardens
from strawbell.cli.output import print_json
from strawbell.planning.local_time import local_date, zone_of
from strawbell.planning.season import season
from strawbell.wording.season import season_json
from strawbell.wording.terminal import season_screen


def run(options: argparse.Namespace) -> int:
    """Print the season of every garden meant."""
    documents = []
    with seen_gardens(options) as gardens:
        for seen in gardens:
            days = season(seen.garden, seen.journal, seen.forecast, seen.now)
            today = local_date(seen.now, zone_of(seen.garden.place.time_zone))
            if options.json:
                documents.append(season_json(days, seen.garden, today))
            else:
                rows = [(day.on, task) for day in days for task in day.tasks]
                print(season_screen(rows, seen.garden, today, seen.brief().outlooks))
    if options.json:
        print_json(documents)
    return 0
