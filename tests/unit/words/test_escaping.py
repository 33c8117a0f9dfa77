"""Text that others wrote is harmless, lists read well, and lines fit."""

from __future__ import annotations

import pytest

from strawbell.words.escaping import (
    NOT_SHOWABLE,
    clean,
    clean_lines,
    columns,
    cut,
    name,
    table,
    wrap,
)


@pytest.mark.parametrize("code", [*range(32), *range(127, 160), 0x202E, 0x2066, 0x200F, 0xD800])
def test_no_steering_character_survives(code: int) -> None:
    """C0, DEL, C1, marks of direction and halves of characters never come through."""
    assert chr(code) not in clean(f"a{chr(code)}b")


def test_an_escape_sequence_is_shown_instead_of_obeyed() -> None:
    assert clean("a\x1b[31mb") == f"a{NOT_SHOWABLE}[31mb"


@pytest.mark.parametrize("blank", ["\r\n", "\n", "\v", "\f", "\x85", "\u2028", "\u2029", "\t  "])
def test_every_break_becomes_one_blank(blank: str) -> None:
    assert clean(f"a{blank}b") == "a b"


def test_invisible_letters_are_dropped() -> None:
    assert clean("a\u200b\ufeff\U000e0041b") == "ab"


def test_ordinary_letters_and_joined_emoji_are_left_alone() -> None:
    text = "Rüebli 大根 👩‍🌾 نعناع"
    assert clean(text) == text


def test_lines_are_kept_where_several_are_meant() -> None:
    assert clean_lines("a\x07\nb\r\n") == f"a{NOT_SHOWABLE}\nb \n"


def test_a_name_of_nothing_is_said_to_be_none() -> None:
    assert name(" \u200b\n ") == "(no name)"


def test_a_name_as_long_as_the_limit_is_whole_and_one_longer_is_cut() -> None:
    assert name("x" * 60) == "x" * 60
    assert name("x" * 61) == "x" * 59 + "…"


def test_a_cut_never_splits_a_composed_character() -> None:
    """The accent goes with its letter, the farmer with her sheaf."""
    assert cut("abcde\u0301fgh", 6) == "abcd…"
    assert cut("abc👩\u200d🌾xyz", 6) == "abc…"


def test_a_name_of_marks_alone_is_cut_without_end() -> None:
    assert len(cut("\u0301" * 10_000, 60)) <= 60


def test_columns_count_wide_letters_twice_and_marks_not_at_all() -> None:
    assert columns("ab") == 2
    assert columns("大根") == 4
    assert columns("e\u0301") == 1


@pytest.mark.parametrize("word", ["word ", "x" * 200 + " ", "大根" * 50 + " "])
def test_no_line_is_wider_than_asked_for(word: str) -> None:
    lines = wrap(word * 30, "- ").split("\n")
    assert all(columns(line) <= 78 for line in lines)
    assert len(lines) > 1


def test_a_line_of_just_the_width_is_not_broken() -> None:
    assert wrap("x" * 39 + " " + "y" * 38) == "x" * 39 + " " + "y" * 38
    assert "\n" in wrap("x" * 39 + " " + "y" * 39)


def test_wrapping_loses_no_word() -> None:
    text = " ".join(f"word{number}" for number in range(100))
    assert wrap(text, "- ").removeprefix("- ").split() == text.split()


def test_a_table_lines_up_wide_letters() -> None:
    lines = table(("A", "B"), [("大根", "x"), ("abc", "y")]).split("\n")
    assert lines == ["A     B", "大根  x", "abc   y"]
