"""Gardens in files of their own beside the configuration."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from strawbell.cli.reach import read_kept
from strawbell.config.load import Loaded, load
from strawbell.errors import GrowerError

TODAY = date(2027, 4, 1)


def garden(name: str, latitude: str = "47.05", start: str = "2027-04-05") -> str:
    return f"""
[[gardens]]
name = "{name}"
latitude = {latitude}
longitude = 8.31
time_zone = "Europe/Zurich"

[[gardens.batches]]
name = "Row A"
bales = 6
start_on = {start}
"""


def club(folder: Path, main: str, **files: str) -> Path:
    """Write a configuration and its files of gardens."""
    (folder / "gardens.d").mkdir()
    for name, text in files.items():
        (folder / "gardens.d" / f"{name}.toml").write_text(text)
    path = folder / "config.toml"
    path.write_text(main)
    return path


def loaded(path: Path) -> Loaded:
    return load(path, {}, today=TODAY)


def test_gardens_of_the_folder_stand_behind_those_of_the_configuration(tmp_path: Path) -> None:
    path = club(tmp_path, garden("Hill"), b=garden("Mill") + garden("Weir"), a=garden("Ford"))
    (tmp_path / "gardens.d" / "notes.txt").write_text("not a garden")
    assert [each.name for each in loaded(path).gardens] == ["Hill", "Ford", "Mill", "Weir"]


def test_a_configuration_may_have_all_its_gardens_in_the_folder(tmp_path: Path) -> None:
    path = club(tmp_path, 'units = "metric"\n', a=garden("Ford"))
    assert [each.name for each in loaded(path).gardens] == ["Ford"]


def problems(path: Path) -> list[tuple[str, str]]:
    with pytest.raises(GrowerError) as error:
        loaded(path)
    return [(each.where, each.what) for each in error.value.problems]


def test_a_mistake_names_the_file_and_the_line_it_is_in(tmp_path: Path) -> None:
    path = club(tmp_path, garden("Hill"), a=garden("Ford"), b=garden("Mill", latitude="470.5"))
    ((where, _),) = problems(path)
    assert where.startswith('gardens.d/b.toml, line 4: [[gardens]] "Mill"')


def test_a_slip_of_syntax_names_its_file_and_costs_no_other_its_judgement(tmp_path: Path) -> None:
    path = club(
        tmp_path, garden("Hill", latitude="95"), a="[[gardens]]\nname = Ford\n", b=garden("Mill")
    )
    found = problems(path)
    assert any(where.startswith("gardens.d/a.toml, line 2") for where, _ in found)
    assert any(where.startswith("config.toml, line 4") for where, _ in found)


def test_two_files_cannot_tell_of_gardens_of_one_name(tmp_path: Path) -> None:
    path = club(tmp_path, garden("Hill"), a=garden("Ford"), b=garden("ford"))
    ((where, what),) = problems(path)
    assert where.startswith("gardens.d/b.toml, line 3")
    assert what == "another garden has this name"


def test_what_is_no_garden_has_no_place_in_the_folder(tmp_path: Path) -> None:
    path = club(tmp_path, garden("Hill"), a='units = "us"\n' + garden("Ford"))
    ((where, what),) = problems(path)
    assert (where, what) == (
        "gardens.d/a.toml, line 1",
        "'units' has no place in a file of gardens",
    )


def test_each_file_may_be_as_large_as_a_configuration(tmp_path: Path) -> None:
    path = club(tmp_path, garden("Hill"), a=garden("Ford") + "#" * 1_048_576)
    ((where, what),) = problems(path)
    assert where.endswith("a.toml")
    assert "too large" in what


def test_a_garden_changed_in_the_folder_is_not_taken_from_what_was_kept(tmp_path: Path) -> None:
    environ = {"HOME": str(tmp_path), "XDG_STATE_HOME": str(tmp_path / "state")}
    path = club(tmp_path, garden("Hill"), a=garden("Ford"))
    assert [each.name for each in read_kept(path, environ, TODAY).gardens] == ["Hill", "Ford"]
    (tmp_path / "gardens.d" / "a.toml").write_text(garden("Weir"))
    assert [each.name for each in read_kept(path, environ, TODAY).gardens] == ["Hill", "Weir"]
