"""`strawbell record`: the grower's own words for the journal."""

from __future__ import annotations

import argparse
import re

from msgspec.structs import fields

from strawbell.app.word import Word, WordKind
from strawbell.cli.configured import read_configuration
from strawbell.cli.reach import tell
from strawbell.edges.clock import SystemClock
from strawbell.words.catalogue import BRITISH
from strawbell.words.escaping import wrap

_PART = {
    WordKind.DONE: "task",
    WordKind.MISSED: "task",
    WordKind.UNDO: "task",
    WordKind.NOTE: "text",
    WordKind.GONE: "text",
    WordKind.SAID: "text",
}
"""Which part of a word it is that was typed; else its amount."""
_FED = re.compile(r"([\d.,]+\s*[A-Za-z]+)(?:\s+(?:of\s+)?(\S.*))?")
_PICKED = re.compile(r"(.+) ([+-]?\d[\d.,]*\s*[^\W\d]*)")
"""A crop, which may have a number of its own, and how much."""

QUOTED = 2
"""A crop and an amount that are one argument each are taken as they stand."""


def run(options: argparse.Namespace) -> int:
    """Have one word written into the journal, and say what was written and where."""
    return say(options, word_of(options))


def away(options: argparse.Namespace) -> int:
    """Have it written from when to when nobody is in the garden, and say what that means."""
    last = options.last_day.isoformat()
    return say(options, Word(WordKind.AWAY, text=last, on=options.on, garden=options.garden))


def say(options: argparse.Namespace, word: Word) -> int:
    """Have a word written into the journal, and print what was understood."""
    configuration = read_configuration(options)
    answer = tell(configuration, word, SystemClock().now())
    print(answer.said)
    print(BRITISH.say("reach.where", daemon=answer.by_daemon, store=answer.store))
    for warning in answer.warnings:
        print(wrap(warning))
    return 0


def word_of(options: argparse.Namespace) -> Word:
    """Return what was typed; words need no quotes, and a kind has only some of the options."""
    typed = {each.name: getattr(options, each.name, None) for each in fields(Word)}
    given = {name: value for name, value in typed.items() if value is not None}
    return Word(**{**given, **_parts(WordKind(options.kind), options.words)})


def _parts(kind: WordKind, typed: list[str]) -> dict[str, str]:
    """Return the parts of a word of a kind."""
    words = " ".join(typed)
    if kind in (WordKind.DONE, WordKind.MISSED) and not words:
        return {"kind": WordKind.SAID, "text": kind.value}  # all of today's, as in a reply
    if kind is WordKind.HARVEST:
        if words[:1].isdigit():
            return {"kind": WordKind.SAID, "text": words}
        picked = _PICKED.fullmatch(words) if len(typed) != QUOTED else None
        crop, amount = picked.groups() if picked else (" ".join(typed[:-1]), typed[-1])
        return {"kind": kind, "crop": crop, "amount": amount}
    if kind is WordKind.COST:
        amount, _, text = words.partition(" ")
        return {"kind": kind, "amount": amount, "text": text}
    if kind is WordKind.FEED and (fed := _FED.fullmatch(words)) is not None:
        return {"kind": kind, "amount": fed[1], "text": fed[2] or ""}
    return {"kind": kind, _PART.get(kind, "amount"): words}
