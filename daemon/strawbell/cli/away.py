"""`strawbell away`: from when to when nobody is in the garden."""

from __future__ import annotations

import argparse

from strawbell.app.word import Word, WordKind
from strawbell.cli import record


def run(options: argparse.Namespace) -> int:
    """Have it written into the journal, and say what that means."""
    last = options.last_day.isoformat()
    return record.say(options, Word(WordKind.AWAY, text=last, on=options.on, garden=options.garden))
