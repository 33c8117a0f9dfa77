"""`strawbell settings`: everything that can be set, what it may be, and what it means."""

from __future__ import annotations

import argparse

from strawbell.cli.output import print_json, text_width
from strawbell.config.example import settings
from strawbell.errors import GrowerError, Problem
from strawbell.words.escaping import wrap


def run(options: argparse.Namespace) -> int:
    """Print the settings that have all the words in them."""
    found = list(settings(options.words))
    if not found:
        raise GrowerError(
            Problem(
                "no setting has these words in it",
                found=" ".join(options.words),
                remedy="`strawbell settings` alone lists all.",
            )
        )
    if options.json:
        rows = [
            {"name": name, "allowed": allowed, "meaning": said} for name, allowed, said in found
        ]
        print_json([{"version": 1, "settings": rows}])
        return 0
    for name, allowed, meaning in found:
        print(name)
        print(wrap(f"{allowed}.", "    ", width=text_width()))
        print(wrap(meaning, "    ", width=text_width()))
    return 0
