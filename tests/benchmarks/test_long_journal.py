"""A journal of years costs a morning hardly more than one of days."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from support.cost import cost_of, cost_of_round
from support.speed import curve, figure

PROGRAM = Path(__file__).parents[1] / "support" / "long_journal.py"
SHORT_D, SEASON_D, YEAR_D, LONG_D = 10, 120, 375, 1106
"""All but the second are the tenth day of a season; the long one is that of the fourth."""
OF_SHORT = 2.0

pytestmark = pytest.mark.benchmark


def test_a_morning_after_a_thousand_days_costs_at_most_twice_one_after_ten(tmp_path: Path) -> None:
    """From the store as it lies there at a start: read, indexed and decided."""
    cost = {}
    bare = cost_of((sys.executable, "-c", "pass"))
    for days in (SHORT_D, SEASON_D, YEAR_D, LONG_D):
        store = tmp_path / f"{days}.db"
        subprocess.run([sys.executable, PROGRAM, "build", str(days), store], check=True)
        cost[days] = cost_of_round(PROGRAM, "morning", str(days), str(store), rounds=10)
    shown = {days: each / bare for days, each in cost.items()}
    curve("a morning by the days of its journal", "starts of a bare interpreter", shown)
    what = "a morning from the store after 1,106 days, beside one after 10"
    figure(what, cost[LONG_D] / cost[SHORT_D], "times", most=OF_SHORT)
