"""What a release brings along, and that it works where nothing else is."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import jinja2
import pytest
from jinja2 import ModuleLoader

from strawbell import __version__
from strawbell.cli.parser import COMMANDS
from strawbell.words.page import compiled_for
from support.checkout import ROOT
from support.wheels import unpacked, wheel_in

BROUGHT = (
    "strawbell/units/strawbell-user.service",
    "strawbell/units/strawbell-system.service",
    "strawbell/units/strawbell@.service",
    "strawbell/config.example.toml",
    "strawbell/words/ahead/en_GB.json",
    f"strawbell/words/{compiled_for(jinja2.__version__)}/{ModuleLoader.get_module_filename('notice.html.j2')}",
    "share/man/man1/strawbell.1",
    "share/bash-completion/completions/strawbell",
    "share/zsh/site-functions/_strawbell",
    "share/fish/vendor_completions.d/strawbell.fish",
)
MARKS_OF_A_MESSAGE = re.compile(rb"[0-9a-f]{24,}")
"""Identifiers and boundaries, which are of each store alone."""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel as it would be released."""
    return wheel_in(tmp_path_factory.mktemp("release"))


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
            assert [command for command in COMMANDS if command not in text] == []


def test_the_program_runs_from_the_wheel_alone(wheel: Path, tmp_path: Path) -> None:
    """Out of the way of the checkout; the unit comes from the wheel too."""
    environment = {**os.environ, "PYTHONPATH": str(unpacked(wheel, tmp_path / "installed"))}
    for arguments, said in (("--version", __version__), ("unit user", "ExecStart=")):
        program = [sys.executable, "-P", "-m", "strawbell", *arguments.split()]
        done = subprocess.run(
            program, cwd=tmp_path, env=environment, capture_output=True, text=True, check=True
        )
        assert said in done.stdout


def test_what_the_wheel_brings_ready_made_says_what_is_written(wheel: Path, tmp_path: Path) -> None:
    """A demo's notices are the same from the checkout, which reads and compiles what is written."""
    installed = str(unpacked(wheel, tmp_path / "installed"))
    said = {}
    for name, found in (("wheel", {"PYTHONPATH": installed}), ("checkout", {})):
        program = [sys.executable, "-P", "-m", "strawbell", "demo", "--out", str(tmp_path / name)]
        environment = {**os.environ, **found}
        subprocess.run(program, cwd=tmp_path, env=environment, check=True, capture_output=True)
        said[name] = {
            each.name: MARKS_OF_A_MESSAGE.sub(b"", each.read_bytes())
            for each in (tmp_path / name).rglob("*.eml")
        }
    assert said["wheel"] == said["checkout"] != {}


def test_templates_compiled_for_another_jinja_are_left_alone(wheel: Path, tmp_path: Path) -> None:
    """What one version compiled another may not be able to run."""
    installed = unpacked(wheel, tmp_path / "installed")
    show = (
        "from strawbell.words.page import environment;"
        "print(environment().get_template('notice.html.j2').filename)"
    )

    def loaded_from() -> str:
        return subprocess.run(
            [sys.executable, "-P", "-c", show],
            env={**os.environ, "PYTHONPATH": str(installed)},
            check=True, capture_output=True, text=True,
        ).stdout.strip()  # fmt: skip

    ahead = installed / "strawbell" / "words" / compiled_for(jinja2.__version__)
    assert Path(loaded_from()).parent == ahead
    ahead.rename(ahead.with_name("jinja-0.0"))
    assert Path(loaded_from()).name == "notice.html.j2"


def test_the_same_sources_make_the_same_wheel(wheel: Path, tmp_path: Path) -> None:
    """Byte for byte, whatever order the interpreter keeps its sets in."""
    assert wheel_in(tmp_path, PYTHONHASHSEED="4711").read_bytes() == wheel.read_bytes()


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
