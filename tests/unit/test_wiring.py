"""Commands typed by hand find the store and the door of the unit whose configuration it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from strawbell import wiring
from strawbell.cli.reach import read_kept

GARDEN = """
[[gardens]]
name = "Mill"
latitude = 47.05
longitude = 8.31
time_zone = "Europe/Zurich"
resting = true
"""


@pytest.mark.parametrize(
    ("where", "instance"),
    [
        pytest.param("strawbell/config.toml", "", id="the system unit"),
        pytest.param("strawbell/north/config.toml", "north", id="a shard"),
        pytest.param("other/north/config.toml", "", id="elsewhere in the machine's folder"),
    ],
)
def test_each_instance_of_the_unit_has_its_own_store_and_door(
    where: str, instance: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """StateDirectory= and RuntimeDirectory= of `strawbell@.service`, "strawbell/%i"."""
    monkeypatch.setattr(wiring, "MACHINES_FOLDER", tmp_path)
    monkeypatch.delenv("RUNTIME_DIRECTORY", raising=False)
    monkeypatch.delenv("STATE_DIRECTORY", raising=False)
    path = tmp_path / where
    path.parent.mkdir(parents=True)
    path.write_text(GARDEN)
    environ = {"STATE_DIRECTORY": str(tmp_path / "state")}
    configuration = read_kept(path, environ)
    state = wiring.state_file(configuration)
    assert state == Path("/var/lib/strawbell") / instance / "strawbell.db"
    folders = [door.parent for door in wiring.doors(path)]
    assert Path("/run/strawbell") / instance in folders
    assert wiring.machines_runtime(path) == Path("/run/strawbell") / instance
