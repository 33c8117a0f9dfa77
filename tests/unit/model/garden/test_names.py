"""What is left of a grower's name in keys and files."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from strawbell.model.garden import slug


@pytest.mark.parametrize(
    ("name", "short"),
    [
        ("Row A", "row-a"),
        ("row-a", "row-a"),
        ("Row Ä 1", "row-a-1"),
        ("  Row   A  ", "row-a"),
        ("(long) row!", "long-row"),
        ("Ⅳ", "iv"),
        ("crème brûlée", "creme-brulee"),
        ("北", "5317"),
        ("北南", "5317-5357"),
        ("🌱", "1f331"),
        ("", "unnamed"),
        ("   ", "unnamed"),
    ],
)
def test_a_name_becomes_words_that_can_be_typed(name: str, short: str) -> None:
    """Lower-case ASCII; other scripts keep their code points."""
    assert slug(name) == short


@given(st.text(max_size=40))
def test_a_key_is_one_word_of_the_shell(name: str) -> None:
    """Nothing in it has to be quoted, whatever the grower calls a row."""
    short = slug(name)
    assert short
    assert set(short) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert not short.startswith("-")
