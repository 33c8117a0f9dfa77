"""What a release brings along, and that it works where nothing else is."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from strawbell import __version__
from strawbell.cli.parser import EXAMPLES
from support.checkout import ROOT

BROUGHT = (
    "strawbell/units/strawbell-user.service",
    "strawbell/units/strawbell-system.service",
    "strawbell/units/strawbell@.service",
    "strawbell/config.example.toml",
    "share/man/man1/strawbell.1",
    "share/bash-completion/completions/strawbell",
    "share/zsh/site-functions/_strawbell",
    "share/fish/vendor_completions.d/strawbell.fish",
)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel as it would be released."""
    folder = tmp_path_factory.mktemp("release")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (built,) = folder.glob("*.whl")
    return built


@pytest.mark.parametrize("name", BROUGHT)
def test_the_wheel_brings_what_belongs_to_a_program(wheel: Path, name: str) -> None:
    """Units, the example, man page and completions."""
    with zipfile.ZipFile(wheel) as parts:
        assert [part for part in parts.namelist() if part.endswith(name)]


def test_every_command_is_in_the_man_page_and_the_completions(wheel: Path) -> None:
    """They are made from the parser, so a new command is in them by itself."""
    with zipfile.ZipFile(wheel) as parts:
        for name in (each for each in BROUGHT if each.startswith("share/")):
            (place,) = (part for part in parts.namelist() if part.endswith(name))
            text = parts.read(place).decode().replace("\\-", "-")
            assert [command for command in EXAMPLES if command not in text] == []


def test_the_program_runs_from_the_wheel_alone(wheel: Path, tmp_path: Path) -> None:
    """Out of the way of the checkout; the unit comes from the wheel too."""
    target = tmp_path / "installed"
    with zipfile.ZipFile(wheel) as parts:
        parts.extractall(target)
    environment = {**os.environ, "PYTHONPATH": str(target)}
    for arguments, said in (("--version", __version__), ("unit user", "ExecStart=")):
        program = [sys.executable, "-P", "-m", "strawbell", *arguments.split()]
        done = subprocess.run(
            program, cwd=tmp_path, env=environment, capture_output=True, text=True, check=True
        )
        assert said in done.stdout


def test_the_tested_set_meets_the_floors_and_is_pinned_by_hash() -> None:
    """Every dependency of the project is in it, each with hashes."""
    pinned = (ROOT / ".ci" / "constraints.txt").read_text(encoding="utf-8")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    blocks = dict(re.findall(r"(?m)^([a-z0-9_.-]+)==((?:.|\n(?= ))+)", pinned))
    for wanted in project["dependencies"]:
        name = re.split(r"[<>=;\[ ]", wanted)[0]
        assert "--hash=sha256:" in blocks.get(name, ""), name


def test_the_newest_entry_of_the_changelog_is_this_version() -> None:
    """Under what is not released yet."""
    text = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    versions = re.findall(r"(?m)^## \[(.*?)\]", text)
    assert versions[:2] == ["Unreleased", __version__]


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("todya", "`strawbell today`"),
        ("recrod done x", "`strawbell record`"),
        ("unit users", "`strawbell unit user`"),
    ],
)
def test_a_slip_of_the_finger_gets_the_nearest_command(typed: str, meant: str) -> None:
    """And code 2: the grower has to mend something."""
    program = [sys.executable, "-m", "strawbell", *typed.split()]
    done = subprocess.run(program, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert meant in done.stderr
