"""What is typed after `strawbell record` and `away` becomes a word."""

from __future__ import annotations

import pytest

from strawbell.app.word_parts import Word, WordKind
from strawbell.cli.parser import build_parser
from strawbell.cli.record import word_of


@pytest.mark.parametrize(
    ("typed", "word"),
    [
        (["low", "-2C"], Word(WordKind.LOW, amount="-2C")),
        (["low", "28F"], Word(WordKind.LOW, amount="28F")),
        (["rain", "0.5in"], Word(WordKind.RAIN, amount="0.5in")),
        (["undo"], Word(WordKind.UNDO)),
        (["undo", "Row A", "--garden", "Mill"], Word(WordKind.UNDO, task="Row A", garden="Mill")),
    ],
)
def test_a_word_is_read_as_it_is_typed(typed: list[str], word: Word) -> None:
    """A temperature below zero is no option."""
    assert word_of(build_parser().parse_args(["record", *typed])) == word
