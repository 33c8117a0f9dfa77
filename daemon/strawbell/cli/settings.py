"""`strawbell settings`: everything that can be set, what it may be, and what it means."""

from __future__ import annotations

import argparse

from strawbell.app.word import refusal
from strawbell.cli.output import print_json, text_width
from strawbell.config.example import settings
from strawbell.words.catalogue import BRITISH
from strawbell.words.escaping import wrap


def run(options: argparse.Namespace) -> int:
    """Print the settings that have all the words in them."""
    found = list(settings(options.words))
    if not found:
        raise refusal(BRITISH.say("written.no-setting"), "settings", " ".join(options.words))
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
