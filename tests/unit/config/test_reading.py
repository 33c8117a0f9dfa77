"""Slips of syntax: placed, worded, stepped over."""

from __future__ import annotations

import tomllib

import pytest

from strawbell.config.reading import hint, positions
from support.config_mistakes import SOUND
from support.config_trial import edited, trial


@pytest.mark.parametrize(
    ("written", "remedy"),
    [
        ("06:30", "Write 06:30:00, without quotes."),
        ("6:30", "Write 06:30:00, without quotes."),
        ("7 pm", "Write 19:00:00, without quotes."),
        ("12am", "Write 00:00:00, without quotes."),
        ("12:15 p.m.", "Write 12:15:00, without quotes."),
        ("24:00", "A day runs from 00:00:00 to 23:59:59."),
        ("4/5/2027", "Write year-month-day, such as 2027-04-05, without quotes."),
        ("5.4.2027", "Write year-month-day, such as 2027-04-05, without quotes."),
        ("2027-4-5", "Write 2027-04-05, without quotes."),
        ("2027-02-30", "There is no such day in the calendar."),
        ("47,05", "Write 47.05, with a point."),
        ("True", "Write true, without quotes."),
        ("no # comment", "Write false, without quotes."),
        ('"open', "Close the quote."),
        ("whatever 1", ""),
    ],
)
def test_a_value_is_answered_with_what_was_probably_meant(written: str, remedy: str) -> None:
    """As a sentence, or not at all."""
    assert hint(written, None) == remedy


def test_a_message_of_the_reader_that_is_not_known_is_passed_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Later versions may word it otherwise."""
    monkeypatch.setattr("strawbell.config.reading._SLIPS", ())
    assert edited(("port = 587", "port 587")).error.what.startswith("not TOML: Expected '='")


def test_two_slips_of_syntax_are_both_told() -> None:
    """The reader stops at the first; here it goes on."""
    errors = edited(("latitude = 47.05", "latitude = 47,05"), ("port = 587", "port 587")).errors

    assert len(errors) == 2
    assert "line 5" in errors[0].where
    assert "point" in errors[0].remedy
    assert "[email] port" in errors[1].where


def test_a_slip_of_syntax_hides_no_other_mistake() -> None:
    """And drags none behind it: the broken latitude is not told as missing."""
    errors = edited(("latitude = 47.05", "latitude = 47,05"), ("port = 587", "port = 0")).errors

    assert [each.where.rsplit(" ", 1)[-1] for each in errors] == ["latitude", "port"]


@pytest.mark.parametrize("header", ["[email", "[email]]", "[ema il]", "[[email]"])
def test_a_broken_header_is_told(header: str) -> None:
    """What stands below is left unread, nothing is made of it."""
    error = edited(("[email]", header)).error

    assert "header" in error.what
    assert error.found == header


def test_an_open_long_text_is_told_on_its_first_line() -> None:
    """The reader notices only at the end of the file."""
    error = edited(('name = "Short row"', 'name = """Short row')).error

    before = SOUND.split('name = "Short row"', maxsplit=1)[0]
    assert f"line {before.count(chr(10)) + 1}" in error.where


@pytest.mark.parametrize(
    "rubbish", ["%PDF-1.7\n\x00\x01", "{" * 2000, "<html>\n" * 300, "= = =\n" * 50]
)
def test_a_file_of_something_else_is_refused_in_a_few_words(rubbish: str) -> None:
    """Not in three hundred."""
    assert 1 <= len(trial(rubbish).errors) <= 12


def test_a_number_of_thousands_of_digits_is_told_with_its_line() -> None:
    """Python refuses to read it."""
    error = edited(("bales = 6", f"bales = {'9' * 5000}")).error

    assert error.where.endswith("bales")
    assert len(error.sentence()) < 500


@pytest.mark.parametrize("levels", [16, 5000])
def test_tables_nested_deeper_than_anybody_means_are_told(levels: int) -> None:
    """Dotted keys cost the parser no stack, only whoever goes down into them."""
    dotted = ".".join(["deep"] * (levels + 1))
    assert "nested too deep" in edited(("bales = 6", f"{dotted} = 6")).error.what


def test_a_few_levels_too_many_are_only_unknown_keys() -> None:
    """Then the key itself is told."""
    dotted = ".".join(["deep"] * 9)
    assert "nested too deep" not in edited(("bales = 6", f"bales = 6\n{dotted} = 6")).error.what


def test_brackets_nested_too_deep_are_told() -> None:
    """The reader runs out of stack."""
    assert "nested too deep" in edited(("bales = 6", f"bales = {'[' * 5000}")).error.what


def test_lines_are_found_for_every_kind_of_key() -> None:
    """In tables, lists of tables, long lists and after long texts."""
    text = (
        "a = 1\n[b]\nc = [\n  1,\n  2,\n]\nd = 2\n[[e]]\nf = 1\n[[e]]\nf = 2\n[[e.g]]\n"
        'h = """\n[x]\ni = 3\n"""\nj.k = 4\n"l m" = 5\n'
    )
    tomllib.loads(text)
    lines = positions(text.split("\n")).lines

    assert lines[("a",)] == 1
    assert lines[("b",)] == 2
    assert lines[("b", "c")] == 3
    assert lines[("b", "d")] == 7
    assert lines[("e", 0, "f")] == 9
    assert lines[("e", 1, "f")] == 11
    assert lines[("e", 1, "g", 0)] == 12
    assert lines[("e", 1, "g", 0, "h")] == 13
    assert lines[("e", 1, "g", 0, "j", "k")] == 17
    assert lines[("e", 1, "g", 0, "l m")] == 18
    assert ("x",) not in lines
