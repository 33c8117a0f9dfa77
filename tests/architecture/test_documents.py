"""README, the map, the example and CI are in step with the code, and name nothing they must not."""

from __future__ import annotations

import re
import tomllib

from strawbell import __version__
from strawbell.cli.parser import build_parser
from strawbell.config.example import example_toml
from support.checkout import ROOT, tracked_files

README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMAND_LINE = re.compile(r"^    (python3 -m venv .*)$", flags=re.MULTILINE)


def commands() -> list[str]:
    """Return every command of the command line."""
    parser = build_parser()
    (choices,) = [action.choices for action in parser._actions if getattr(action, "choices", None)]
    return sorted(choices)


def test_the_readme_has_exactly_two_commands_to_begin_with() -> None:
    """One runs the main job, one the tests; each is one line."""
    found = COMMAND_LINE.findall(README)
    assert len(found) == 2
    assert found[0].endswith("strawbell demo")
    assert "pytest" in found[1]


def test_ci_runs_the_readmes_second_command() -> None:
    """CI takes the line out of the README instead of having its own."""
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    pattern = re.search(r'grep -m 1 -E "(.*)" README.md', script)
    assert pattern is not None
    lines = [line for line in README.splitlines() if re.search(pattern[1], line)]
    assert lines[0].strip() == COMMAND_LINE.findall(README)[1]


def test_every_command_is_in_the_readme() -> None:
    """A command that is not documented does not exist for a newcomer."""
    missing = [name for name in commands() if f"strawbell {name}" not in README]
    assert missing == []


def test_the_example_is_what_the_schema_says() -> None:
    """`python -m strawbell.config.example > config.example.toml` makes it anew."""
    text = (ROOT / "config.example.toml").read_text(encoding="utf-8")
    assert text == example_toml()
    tomllib.loads(text)


def test_the_version_is_in_one_place() -> None:
    """Only the package says it."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["dynamic"] == ["version"]
    assert re.fullmatch(r"\d+\.\d+\.\d+", __version__)


def test_no_file_carries_a_path_of_a_machine_or_a_registry() -> None:
    """What is committed works anywhere."""
    forbidden = re.compile(
        rb"/(?:home|root|Users)/[a-z]|/wor"
        rb"k/|pypi\.or"
        rb"g|files\.pythonhosted|registry\.npmjs"
        rb"|deb\.debian\.or"
        rb"g"
    )
    found = []
    for path in tracked_files():
        if path.is_file() and path.suffix not in (".png",):
            hit = forbidden.search(path.read_bytes())
            if hit:
                found.append(f"{path.relative_to(ROOT)}: {hit[0].decode()}")
    assert found == []
