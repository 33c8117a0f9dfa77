"""`strawbell supplies`: what is still to be bought, in packages, and by when."""

from __future__ import annotations

import argparse

from strawbell.cli.context import seen_gardens
from strawbell.cli.output import print_json
from strawbell.decision.shopping import shopping
from strawbell.season.local_time import local_date, zone_of
from strawbell.words.shopping import supplies_json, supplies_screen


def run(options: argparse.Namespace) -> int:
    """Print the list of every garden meant."""
    documents = []
    with seen_gardens(options) as gardens:
        for seen in gardens:
            wanted = shopping(seen.garden, seen.index, seen.forecast, seen.now)
            today = local_date(seen.now, zone_of(seen.garden.place.time_zone))
            if options.json:
                documents.append(supplies_json(wanted, seen.garden, today))
            else:
                print(supplies_screen(wanted, seen.garden, today))
    if options.json:
        print_json(documents)
    return 0
