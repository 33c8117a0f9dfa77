"""What may be typed: options wherever they stand, and what every command has."""

from __future__ import annotations

import argparse
from pathlib import Path

import pytest

from strawbell.cli.parser import build_parser, parse

WRITES = {"demo", "setup", "record", "away", "calendar", "ring", "run", "reload", "unit"}
"""Commands that make or send something; every other one only reads."""


def commands() -> dict[str, argparse.ArgumentParser]:
    """Return the parser of each command."""
    (choices,) = [
        action.choices for action in build_parser()._actions if getattr(action, "choices", None)
    ]
    return dict(choices)


def test_every_command_that_reads_can_answer_as_json() -> None:
    reading = {name: each for name, each in commands().items() if name not in WRITES}
    assert len(reading) + len(WRITES) == len(commands())
    without = [name for name, each in reading.items() if "--json" not in each.format_help()]
    assert without == []


def test_every_command_ends_its_help_with_an_example() -> None:
    assert [
        name
        for name, command in commands().items()
        if not command.format_help().splitlines()[-1].startswith(f"Example: strawbell {name}")
    ] == []


@pytest.mark.parametrize(
    "typed",
    [
        "--config here.toml today --json",
        "today --config here.toml --json",
        "today --json --config=here.toml",
        "record note Slugs on the --config here.toml west side",
        "record 54 --debug --config here.toml",
        "record harvest tomato --config here.toml 2.4kg",
    ],
)
def test_the_configuration_may_be_named_anywhere(typed: str) -> None:
    assert parse(typed.split()).config == Path("here.toml")


def test_what_follows_a_lone_double_dash_is_no_option() -> None:
    options = parse(["record", "note", "--", "--config", "is", "an", "option"])
    assert options.config is None
    assert options.words == ["--config", "is", "an", "option"]
