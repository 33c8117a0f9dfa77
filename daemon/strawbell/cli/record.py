"""`strawbell record`: the grower's own words for the journal."""

from __future__ import annotations

import argparse
from dataclasses import fields

from strawbell.app.word import take_word
from strawbell.app.word_parts import Word, WordKind
from strawbell.cli.context import read_configuration
from strawbell.edges.clock import SystemClock
from strawbell.wiring import introduce, open_store
from strawbell.words.escaping import wrap


def run(options: argparse.Namespace) -> int:
    """Write one word into the journal and say what was written."""
    configuration = read_configuration(options)
    now = SystemClock().now()
    with open_store(configuration, now) as store:
        introduce(configuration, store, now)
        taken = take_word(word_of(options), configuration.gardens, store, now)
    print(taken.said)
    for warning in taken.warnings:
        print(wrap(warning))
    return 0


def word_of(options: argparse.Namespace) -> Word:
    """Return what was typed; a kind has only some of the parts."""
    typed = {each.name: getattr(options, each.name, None) for each in fields(Word)}
    given = {name: value for name, value in typed.items() if value is not None}
    return Word(**{**given, "kind": WordKind(options.kind)})
