"""`strawbell start-when` as a grower runs it, on daily lows of their own."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest

from strawbell.cli.main import DONE, TO_MEND, run

DAYS = 4 * 365
PLAN = """
[[gardens]]
name = "Corner"
latitude = {latitude}
longitude = 8.31
time_zone = "Etc/UTC"
  [[gardens.batches]]
  name = "Row A"
  bales = 2
  start_on = 2026-04-01
  feed = "Urea"
  plantings = [{{ crop = "radish", plants = 20, method = "seed" }}]
"""
StartWhen = Callable[..., int]


@pytest.fixture
def start_when(tmp_path: Path) -> StartWhen:
    """Run the command for a latitude, with lows that are coldest in mid January or mid July."""

    def command(
        latitude: float, coldest_month: int, swing_c: float, *more: str, days: int = DAYS
    ) -> int:
        plan, record = tmp_path / "plan.toml", tmp_path / "lows.csv"
        plan.write_text(PLAN.format(latitude=latitude), encoding="utf-8")
        coldest = date(2020, coldest_month, 15)
        lines = ["date,low_c"]
        for number in range(days):
            on = date(2020, 1, 1) + timedelta(days=number)
            turn = 2 * math.pi * (on - coldest).days / 365.25
            lines.append(f"{on},{8 - swing_c * math.cos(turn):.1f}")
        record.write_text("\n".join(lines) + "\n", encoding="utf-8")
        options = ["--minima", str(record), "--at", "2026-01-10T08:00", *more]
        return run(["--config", str(plan), "start-when", *options])

    return command


@pytest.mark.parametrize(
    ("latitude", "coldest_month", "months"),
    [(-33.9, 1, "November to April"), (47.05, 7, "May to October")],
)
def test_lows_of_the_other_hemisphere_are_warned_of(
    start_when: StartWhen,
    capsys: pytest.CaptureFixture[str],
    latitude: float,
    coldest_month: int,
    months: str,
) -> None:
    """A forgotten minus would move every date by half a year; the answer comes all the same."""
    assert start_when(latitude, coldest_month, 12.0) == DONE
    printed = capsys.readouterr()
    assert f"coldest from {months}" in " ".join(printed.err.split())
    assert f"latitude is {latitude}" in " ".join(printed.err.split())
    assert "First soaking" in printed.out
    assert start_when(latitude, coldest_month, 12.0, "--json") == DONE
    printed = capsys.readouterr()
    assert json.loads(printed.out)["garden"] == "Corner"
    assert months in " ".join(printed.err.split())


@pytest.mark.parametrize(
    ("latitude", "coldest_month", "swing_c"),
    [(-33.9, 7, 12.0), (47.05, 1, 12.0), (0.0, 1, 12.0), (0.0, 7, 12.0), (-2.0, 1, 1.0)],
)
def test_lows_of_the_own_hemisphere_are_passed_in_silence(
    start_when: StartWhen,
    capsys: pytest.CaptureFixture[str],
    latitude: float,
    coldest_month: int,
    swing_c: float,
) -> None:
    """So are those of the equator, and of a place where the halves of the year are alike."""
    assert start_when(latitude, coldest_month, swing_c) == DONE
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("days", [1, 60, 300])
def test_a_record_that_is_too_short_is_said_to_the_grower(
    start_when: StartWhen, capsys: pytest.CaptureFixture[str], days: int
) -> None:
    """From New Year on there is no whole autumn: what, where, what is allowed, what to do."""
    assert start_when(47.05, 1, 12.0, days=days) == TO_MEND
    said = " ".join(capsys.readouterr().err.split())
    assert "lows.csv: Corner: too few nights on record to tell when it freezes" in said
    assert f"{days} night{'s' * (days > 1)} known, 2020-01-01 to" in said
    assert "at least one whole spring and one whole autumn" in said
    assert "--minima" in said


def test_a_year_is_enough(start_when: StartWhen) -> None:
    """Its spring and its autumn."""
    assert start_when(47.05, 1, 12.0, days=366) == DONE
