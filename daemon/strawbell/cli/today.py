"""`strawbell today`: the brief of the day."""

from __future__ import annotations

import argparse
import sys

from strawbell.cli.context import seen_gardens
from strawbell.cli.output import print_json, text_width
from strawbell.words.terminal import today_screen


def run(options: argparse.Namespace) -> int:
    """Print the brief of every garden meant."""
    documents = []
    with seen_gardens(options) as gardens:
        for seen in gardens:
            for complaint in (*seen.asked, *seen.complaints):
                print(complaint, file=sys.stderr)
            today = seen.brief()
            if options.json:
                from strawbell.words.json_v1 import brief_json

                documents.append({**brief_json(today, seen.garden), "asked": list(seen.asked)})
            else:
                explained = seen.explained(today.on)
                print(today_screen(today, seen.garden, text_width(), explained))
    if options.json:
        print_json(documents)
    return 0
