"""`python -m tests.value.scoreboard` as a maker runs it."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

import pytest

from tests.value.scoreboard import DONE, TO_MEND, main

FIRST = date(2024, 3, 28)


@pytest.fixture
def record(tmp_path: Path) -> str:
    """Write a record of 75 days with a downpour on 3 April."""
    lines = ["date,low_c,high_c,rain_mm"]
    for number in range(75):
        on = FIRST + timedelta(days=number)
        lines.append(f"{on},8,18,{40 if on == date(2024, 4, 3) else 0}")
    path = tmp_path / "hill.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return str(path)


def test_it_says_what_the_advice_was_worth(record: str, capsys: pytest.CaptureFixture[str]) -> None:
    """One season with a downpour that was known: all of it was gained."""
    options = ["--feed", "Urea", "--starts", "2024-04-01", "--forecast", "perfect"]
    assert main(["--weather", record, *options]) == DONE
    said = capsys.readouterr().out
    (row,) = [line for line in said.splitlines() if "feedings before heavy rain" in line]
    assert row.split()[-6:] == ["1.00", "0.00", "0.00", "1.00", "1", "0"]
    assert "Hit rate 1.00" in said
    (ready,) = [line for line in said.splitlines() if "days to ready" in line]
    assert " - " in ready


def test_json_holds_every_season_and_the_curve(
    record: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each start in the record, by file."""
    options = ["--feed", "Urea", "--every", "10", "--json", "--forecast", "perfect"]
    assert main(["--weather", record, *options]) == DONE
    found = json.loads(capsys.readouterr().out)
    assert [each["start"] for each in found["seasons"]] == ["2024-03-31", "2024-04-10"]
    assert set(found["places"]) == {"hill"}
    assert len(found["all"]["holds"]["value_by_cost_loss"]) == 19
    assert found["all"]["measures"]["days_to_ready"]["value"] is None


def test_a_record_without_a_whole_season_is_the_growers_to_mend(
    record: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """It says what it holds and what is wanted."""
    assert main(["--weather", record, "--starts", "2024-06-01"]) == TO_MEND
    assert "hill: 2024-03-28 to 2024-06-10" in capsys.readouterr().err


def test_two_files_of_one_name_are_told_apart(
    record: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Otherwise one of them would be passed over without a word."""
    other = tmp_path / "other"
    other.mkdir()
    (other / "hill.csv").write_text(Path(record).read_text(encoding="utf-8"), encoding="utf-8")
    options = [str(other / "hill.csv"), "--starts", "2024-04-01"]
    assert main(["--weather", record, *options]) == TO_MEND
    assert "hill" in capsys.readouterr().err


def test_every_seed_plays_the_season_again(record: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Twice with other errors of the forecasts."""
    options = ["--feed", "Urea", "--starts", "2024-04-01", "--seeds", "2", "--json"]
    assert main(["--weather", record, *options]) == DONE
    found = json.loads(capsys.readouterr().out)
    assert [each["start"] for each in found["seasons"]] == ["2024-04-01"] * 2
