"""The example and the settings are written from the schema and cannot drift."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from strawbell.config.example import example_toml, settings
from strawbell.config.keys import Kind, outline
from strawbell.config.load import load
from strawbell.errors import GrowerError
from support.config_mistakes import TODAY

ROOT = Path(__file__).parents[3]


def test_the_example_file_is_what_the_schema_writes() -> None:
    """Write it again with `python -m strawbell.config.example > config.example.toml`."""
    assert (ROOT / "config.example.toml").read_text(encoding="utf-8") == example_toml()


def test_the_example_loads_without_a_warning(tmp_path: Path) -> None:
    """It is a configuration, not a picture of one."""
    path = tmp_path / "config.toml"
    path.write_text(example_toml(), encoding="utf-8")

    loaded = load(path, {}, today=TODAY)
    assert loaded.warnings == ()
    assert [garden.name for garden in loaded.gardens] == ["Mill lane"]


def _all_in_force() -> str:
    """Return the example with every key taken into force."""
    return re.sub(r"(?m)^(\s*)# (\[|[a-z_-]+ = )", r"\1\2", example_toml())


def test_every_key_of_the_example_can_be_put_in_force(tmp_path: Path) -> None:
    """Without any # only the values that exclude each other are refused."""
    path = tmp_path / "config.toml"
    path.write_text(_all_in_force(), encoding="utf-8")
    path.chmod(0o600)

    with pytest.raises(GrowerError) as caught:
        load(path, {}, today=TODAY)
    told = {problem.where.split(": ", 1)[1].rsplit(" ", 1)[-1] for problem in caught.value.problems}
    # start_on with plant_on, a crop that follows none, two passwords, a rate of a dry feed,
    # a package and a stock both by mass and by volume.
    assert told == {
        "plant_on", "follows", "password_file", "label_rate", "kg", "in_stock_l",
    }  # fmt: skip


def test_every_key_of_the_schema_is_in_the_example() -> None:
    """Keys of values that are tables themselves are told in the description."""
    text = _all_in_force()
    data = tomllib.loads(text)
    for key in outline().values():
        if key.path[:3] == ("gardens", "batches", "bale") or key.path[:2] == ("schedules", "days"):
            assert key.name in text
            continue
        value: object = data
        for part in key.path:
            value = value[0] if isinstance(value, list) else value
            assert isinstance(value, dict)
            assert part in value, key.path
            value = value[part]


def test_every_key_has_a_description_and_the_required_ones_an_example() -> None:
    """The schema is the manual; a required key's example also stands in for a wrong value."""
    for key in outline().values():
        assert key.description.endswith("."), key.path
        if key.required:
            assert key.example is not None, key.path


def test_every_key_is_told_with_what_it_may_be() -> None:
    """Sections are not settings, keys are."""
    told = {name: allowed for name, allowed, _meaning in settings()}
    leaves = {".".join(key.path) for key in outline().values() if key.section is None}

    assert leaves <= set(told)
    assert told["gardens.latitude"] == "a number from -90 to 90; needed"
    assert told["times.morning"] == "time; without it 06:30:00"


def test_settings_are_found_by_any_of_their_words() -> None:
    """All words must be there, in the name or the meaning, whatever their capitals."""
    assert {name for name, _, _ in settings(["RAIN", "hold", "chance"])} == {
        "rules.rain_hold_chance_percent"
    }
    assert list(settings(["no such thing"])) == []


def test_lines_of_the_example_fit_a_screen() -> None:
    """No line is over 100 letters but a long list of values."""
    assert all(len(line) <= 100 for line in example_toml().splitlines())


def test_kinds_are_told_apart() -> None:
    """The outline knows what each key takes."""
    kinds = {".".join(key.path): key.kind for key in outline().values()}

    assert kinds["units"] is Kind.CHOICE
    assert kinds["gardens"] is Kind.TABLES
    assert kinds["gardens.latitude"] is Kind.NUMBER
    assert kinds["gardens.batches.bales"] is Kind.WHOLE
    assert kinds["gardens.batches.start_on"] is Kind.DATE
    assert kinds["times.morning"] is Kind.TIME
    assert kinds["email"] is Kind.TABLE
    assert kinds["email.password"] is Kind.SECRET
    assert kinds["email.recipients"] is Kind.TEXTS
    assert kinds["crops.per_bale"] is Kind.NUMBERS
    assert kinds["desktop.enabled"] is Kind.SWITCH
