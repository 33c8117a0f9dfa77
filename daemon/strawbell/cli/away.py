"""`strawbell away`: from when to when nobody is in the garden."""

from __future__ import annotations

import argparse

from strawbell.cli import record


def run(options: argparse.Namespace) -> int:
    """Have it written into the journal, and say what that means."""
    options.kind, options.text = "away", options.last_day.isoformat()
    return record.run(options)
