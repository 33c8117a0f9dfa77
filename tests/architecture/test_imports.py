"""Which room may import which; the table in DEVELOPERS.md is held to this one."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from support.checkout import PACKAGE, ROOT, modules

PURE = ("model", "agronomy", "weather", "season", "decision", "words")
MAY_IMPORT: dict[str, set[str]] = {
    "errors": {"words.catalogue"},
    "model": {"errors"},
    "agronomy": {"model"},
    "weather": {"model", "agronomy"},
    "season": {"model", "agronomy"},
    "decision": {"model", "agronomy", "weather", "season"},
    "words": {"model"},
    "app": {"errors", "model", "agronomy", "weather", "season", "decision", "words"},
    "config": {"errors", "model", "agronomy", "weather", "words.catalogue"},
    "edges": {"errors", "model", "app.ports", "words.catalogue"},
    "rehearsal": {"errors", "model", "agronomy", "weather", "season", "decision", "words", "app"},
    "wiring": {"*"},
    "cli": {"*"},
}
"""Rooms beside itself that a room may import; only `cli` and `wiring` know every room."""

ANYBODY = {"strawbell"}
"""The version."""

IMPURE = {
    "os", "sys", "io", "pathlib", "time", "socket", "ssl", "sqlite3", "logging", "random",
    "secrets", "subprocess", "threading", "asyncio", "urllib", "http", "smtplib", "requests",
}  # fmt: skip
IMPURE_CALLS = {"now", "today", "utcnow", "open", "print", "input"}


def imports_of(tree: ast.AST) -> Iterator[tuple[str, int]]:
    """Yield every imported module with its line, also those inside functions."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name, node.lineno
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            yield node.module, node.lineno


def room_of(module: str) -> str:
    """Return the room of a module of ours ("strawbell.app.ports" -> "app")."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else "strawbell"


def allowed(room: str, module: str) -> bool:
    """Return whether a room may import a module of ours."""
    may = MAY_IMPORT[room]
    if "*" in may or module in ANYBODY or room_of(module) == room:
        return True
    return any(
        module == f"strawbell.{each}" or module.startswith(f"strawbell.{each}.") for each in may
    )


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_room_imports_only_what_its_row_lists(path: Path) -> None:
    """Lazy imports inside functions count too."""
    room = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    if room in ("__init__", "__main__"):
        return
    tree = ast.parse(path.read_text(encoding="utf-8"))
    wrong = [
        f"line {line}: {module}"
        for module, line in imports_of(tree)
        if module.split(".")[0] == "strawbell" and not allowed(room, module)
    ]
    assert wrong == []


@pytest.mark.parametrize(
    "path",
    [path for path in modules() if path.relative_to(PACKAGE).parts[0] in PURE],
    ids=lambda path: str(path.relative_to(PACKAGE)),
)
def test_pure_rooms_touch_nothing_outside(path: Path) -> None:
    """No clock, file, network, randomness or print in the pure rooms."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    wrong = [
        f"line {line}: import {module}"
        for module, line in imports_of(tree)
        if module.split(".")[0] in IMPURE
    ]
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            if name in IMPURE_CALLS:
                wrong.append(f"line {node.lineno}: {name}()")
    assert wrong == []


def test_the_table_in_the_map_is_this_one() -> None:
    """DEVELOPERS.md lists the same rooms with the same imports."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = {}
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 3 and cells[0].startswith("`") and cells[0].endswith("`"):
            rows[cells[0].strip("`")] = cells[2]
    for room, may in MAY_IMPORT.items():
        said = rows.get(room)
        assert said is not None, f"{room} is missing from the table"
        if "*" in may:
            assert said == "everything; nobody imports it"
        else:
            found = {word.strip(" `") for word in said.split(",")}
            assert found == may, room


def test_the_daemon_does_without_what_checks_a_configuration() -> None:
    """In its process that would stay for good, and take more memory than all the rest of it."""
    load = (
        "import sys, strawbell.cli.run, strawbell.app.daemon, strawbell.app.pipeline;"
        "sys.exit('pydantic' in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", load], check=True)


def test_adapters_do_not_know_each_other_across_services() -> None:
    """A channel imports no other channel, a forecast adapter no other adapter."""
    services = {"open_meteo", "nws", "met_norway"}
    channels = {"smtp", "desktop", "folder"}
    for family in (services, channels):
        for path in modules():
            if path.stem not in family:
                continue
            tree = ast.parse(path.read_text(encoding="utf-8"))
            others = {
                module.split(".")[-1]
                for module, _ in imports_of(tree)
                if module.startswith("strawbell.edges")
            }
            assert not others & (family - {path.stem}), path
