"""A journal of years costs a morning hardly more than one of days."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from support.cost import UNIT, cost_of_round

PROGRAM = Path(__file__).parents[1] / "support" / "long_journal.py"
SHORT_D, LONG_D = 10, 1106
"""Both are the tenth day of a season; the long one is that of the fourth."""
OF_SHORT = 2.0

pytestmark = pytest.mark.benchmark


def test_a_morning_after_a_thousand_days_costs_at_most_twice_one_after_ten(tmp_path: Path) -> None:
    """From the store as it lies there at a start: read, indexed and decided."""
    cost = {}
    for days in (SHORT_D, LONG_D):
        store = tmp_path / f"{days}.db"
        subprocess.run([sys.executable, PROGRAM, "build", str(days), store], check=True)
        cost[days] = cost_of_round(PROGRAM, "morning", str(days), str(store), rounds=10)
    ratio = cost[LONG_D] / cost[SHORT_D]
    print(
        f"\nday {SHORT_D} {cost[SHORT_D]:.3g}, day {LONG_D} {cost[LONG_D]:.3g} {UNIT} ({ratio:.2f})"
    )
    assert ratio <= OF_SHORT
