"""The kept result of the scoreboard: the table is that of the figures."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path
from types import ModuleType

from support.checkout import ROOT

FOLDER = ROOT / "tests" / "benchmarks"


def script() -> ModuleType:
    """Load the script beside the result."""
    path: Path = FOLDER / "scoreboard_tuning.py"
    spec = importlib.util.spec_from_file_location("scoreboard_tuning", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_table_is_rendered_from_the_kept_figures() -> None:
    """Neither is changed by hand."""
    kept = json.loads((FOLDER / "scoreboard_result.json").read_text(encoding="utf-8"))
    table = (FOLDER / "scoreboard_result.md").read_text(encoding="utf-8")
    assert script().rendered(kept) == table


def test_nothing_held_out_was_tuned_on() -> None:
    """No season is in both sets; every station of the records is in one."""
    module = script()
    development, held_out = set(module.DEVELOPMENT), set(module.HELD_OUT)
    assert not development & held_out
    assert {station for station, _ in development | held_out} == {"Seattle", "EWR", "JFK", "LGA"}
