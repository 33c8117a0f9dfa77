"""What is typed after `strawbell record` and `away` becomes a word."""

from __future__ import annotations

import pytest

from strawbell.app.word import Word, WordKind
from strawbell.cli.parser import parse
from strawbell.cli.reach import word_of


@pytest.mark.parametrize(
    ("typed", "word"),
    [
        (["low", "-2C"], Word(WordKind.LOW, amount="-2C")),
        (["low", "28F"], Word(WordKind.LOW, amount="28F")),
        (["rain", "0.5in"], Word(WordKind.RAIN, amount="0.5in")),
        (["undo"], Word(WordKind.UNDO)),
        (["54"], Word(WordKind.SAID, text="54")),
        (["-2C", "--batch", "Row A"], Word(WordKind.SAID, text="-2C", batch="Row A")),
        (["--batch", "Row A", "54"], Word(WordKind.SAID, text="54", batch="Row A")),
        (["2", "kg", "tomatoes"], Word(WordKind.SAID, text="2 kg tomatoes")),
        (["not", "today"], Word(WordKind.SAID, text="not today")),
        (["done"], Word(WordKind.SAID, text="done")),
        (["done", "row", "a"], Word(WordKind.DONE, task="row a")),
        (["note", "Slugs", "in", "it"], Word(WordKind.NOTE, text="Slugs in it")),
        (["cost", "12.50", "ten", "bales"], Word(WordKind.COST, amount="12.50", text="ten bales")),
        (
            ["harvest", "pak", "choi", "2", "kg"],
            Word(WordKind.HARVEST, crop="pak choi", amount="2 kg"),
        ),
        (["harvest", "radish 2", "12"], Word(WordKind.HARVEST, crop="radish 2", amount="12")),
        (["harvest", "2", "kg", "kale"], Word(WordKind.SAID, text="2 kg kale")),
        (["undo", "Row A", "--garden", "Mill"], Word(WordKind.UNDO, task="Row A", garden="Mill")),
    ],
)
def test_a_word_is_read_as_it_is_typed(typed: list[str], word: Word) -> None:
    """A temperature below zero is no option."""
    assert word_of(parse(["record", *typed])) == word
