"""`strawbell record`: the grower's own words for the journal."""

from __future__ import annotations

import argparse

from msgspec.structs import fields

from strawbell.app.word_parts import Word, WordKind
from strawbell.cli.context import read_configuration
from strawbell.cli.reach import tell
from strawbell.edges.clock import SystemClock
from strawbell.words.escaping import wrap


def run(options: argparse.Namespace) -> int:
    """Have one word written into the journal, and say what was written and where."""
    configuration = read_configuration(options)
    answer = tell(configuration, word_of(options), SystemClock().now())
    print(answer.said)
    by = "By the daemon, into" if answer.by_daemon else "No daemon runs; into"
    print(f"{by} {answer.store}.")
    for warning in answer.warnings:
        print(wrap(warning))
    return 0


def word_of(options: argparse.Namespace) -> Word:
    """Return what was typed; a kind has only some of the parts."""
    typed = {each.name: getattr(options, each.name, None) for each in fields(Word)}
    given = {name: value for name, value in typed.items() if value is not None}
    return Word(**{**given, "kind": WordKind(options.kind)})
