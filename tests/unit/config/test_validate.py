"""Keys the schema does not know: what was probably meant."""

from __future__ import annotations

import pytest

from strawbell.config.keys import outline
from strawbell.config.validate import OTHER_NAMES
from support.config_trial import edited


def test_a_slip_in_the_header_of_a_garden_is_the_only_thing_told() -> None:
    """The headers below spell it right; what stands under both is judged once it is put right."""
    result = edited(("[[gardens]]", "[[gardnes]]"), ("= 6\n", "= -6\n"))
    assert result.error.remedy == "Did you mean [[gardens]]?"


def test_what_stands_under_a_misspelt_header_is_judged_too() -> None:
    """Two mistakes, two problems."""
    errors = edited(("[times]", "[tims]"), ("= 06:30:00", '= "7am"')).errors

    assert len(errors) == 2
    assert "Write 07:00:00" in errors[1].remedy


@pytest.mark.parametrize(
    ("header", "written", "meant"),
    [("[[feeds]]", "[feeds]", "[[feeds]]"), ("[email]", "[[email]]", "[email]")],
)
def test_single_and_double_brackets_are_told_apart(header: str, written: str, meant: str) -> None:
    """And what stands below is read as meant."""
    error = edited((header, written)).error

    assert error.allowed == meant
    assert error.found == written


def test_a_key_of_the_top_inside_a_table_is_sent_to_the_top() -> None:
    """TOML puts every key after a header into that table."""
    error = edited(('units = "metric"\n', ""), ("elevation_m = 440", 'units = "us"')).error

    assert error.remedy == "It belongs at the top of the file, before the first header."


def test_a_misplaced_key_is_not_told_as_missing_beside() -> None:
    """latitude at the top is one mistake."""
    result = edited(("latitude = 47.05\n", ""), ('units = "metric"', "latitude = 47.05"))

    assert "[[gardens]]" in result.error.remedy


def test_successors_are_keys_and_their_old_names_are_not() -> None:
    """The table of other names follows the schema."""
    names = {key.name for key in outline().values()}

    assert set(OTHER_NAMES.values()) <= names


@pytest.mark.parametrize("name", ['""', '"a.b"', '"a b"', '"\\u001b[2J"', "_env_file", "self"])
def test_keys_of_any_shape_are_refused_and_printable(name: str) -> None:
    """Also those that a settings library would take as its own."""
    error = edited(('units = "metric"', f"{name} = 1")).error

    assert error.sentence().isprintable()
