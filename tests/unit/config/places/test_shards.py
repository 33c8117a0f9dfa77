"""A garden that stands in two shards by mistake is found."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from strawbell.config.places import twice


def garden(name: str, latitude: float = 47.05, key: str = "") -> str:
    known = f'id = "{key}"\n' if key else ""
    return f'[[gardens]]\nname = "{name}"\n{known}latitude = {latitude}\nlongitude = 8.31\n'


def shard(club: Path, name: str, text: str, **files: str) -> Path:
    """Write the configuration of a shard and its files of gardens."""
    folder = club / name / "gardens.d"
    folder.mkdir(parents=True)
    for stem, gardens in files.items():
        (folder / f"{stem}.toml").write_text(gardens)
    path = club / name / "config.toml"
    path.write_text(text)
    return path


@pytest.fixture
def club(tmp_path: Path) -> Path:
    return tmp_path / "strawbell"


@pytest.mark.parametrize(
    ("here", "there"),
    [
        pytest.param(garden("Mill"), garden("Mill", 47.0502), id="same name and place"),
        pytest.param(garden("Mill", key="m"), garden("Weir", 48.0, key="m"), id="same id"),
    ],
)
def test_a_garden_of_two_shards_is_named_with_both_files(club: Path, here: str, there: str) -> None:
    north = shard(club, "north", garden("Hill"), mill=here)
    south = shard(club, "south", 'units = "metric"\n', ford=garden("Ford"), other=there)
    files = [str(club / "north/gardens.d/mill.toml"), str(club / "south/gardens.d/other.toml")]
    for path in (north, south):
        (note,) = twice(path)
        assert 'the garden "' in note.what
        assert note.where in files
        assert note.found.removeprefix("it in ").removesuffix(" too") in {*files} - {note.where}


def test_gardens_of_one_name_in_two_places_are_two(club: Path) -> None:
    north = shard(club, "north", garden("Mill") + garden("Hill", key="a"))
    shard(club, "south", garden("Mill", 48.0) + garden("Hill", 48.0, key="b"))
    assert twice(north) == ()


def test_only_shards_are_looked_at(tmp_path: Path) -> None:
    """The folders beside a grower's own configuration are other programs'."""
    own = shard(tmp_path, "strawbell", garden("Mill"))
    shard(tmp_path, "other", garden("Mill"))
    assert twice(own) == ()


def test_a_shard_that_cannot_be_read_hides_no_other(club: Path) -> None:
    north = shard(club, "north", garden("Mill"))
    shard(club, "broken", "gardens = [")
    shard(club, "odd", "gardens = [1]")
    (club / "waits").mkdir()
    os.mkfifo(club / "waits" / "config.toml")
    shard(club, "south", garden("Mill"))
    (note,) = twice(north)
    assert note.found == f"it in {club / 'south' / 'config.toml'} too"
