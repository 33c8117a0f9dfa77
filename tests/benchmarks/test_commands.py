"""What a grower waits for at the terminal, in starts of a bare interpreter."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from support.cost import cost_of
from support.daemon_process import Setup
from support.forecast_server import FakeOpenMeteo, calm
from support.speed import figure
from support.wheels import unpacked, wheel_in

MOST_STARTS = {"check": 12.0, "today": 18.0}

pytestmark = pytest.mark.benchmark


def test_a_command_costs_few_starts_of_a_bare_interpreter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From the wheel, as a grower has it; checked before, the forecast in the store and fresh."""
    wheel = wheel_in(tmp_path / "wheel")
    monkeypatch.setenv("PYTHONPATH", str(unpacked(wheel, tmp_path / "installed")))
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path / "runtime"))
    monkeypatch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)
    program = (sys.executable, Path(sys.executable).with_name("strawbell"))
    with FakeOpenMeteo(calm) as service:
        setup = Setup(tmp_path, service.base_url)
        assert setup.command("run", "--once").returncode == 0
        for command in MOST_STARTS:
            assert setup.command(command).returncode == 0
        asked = len(service.hits)
        bare = cost_of((sys.executable, "-c", "pass"))
        starts = {
            command: cost_of((*program, "--config", setup.config, command)) / bare
            for command in MOST_STARTS
        }
        assert len(service.hits) == asked
    for command, most in MOST_STARTS.items():
        what = f"a command from the wheel: {command}"
        figure(what, starts[command], "starts of a bare interpreter", most=most)
