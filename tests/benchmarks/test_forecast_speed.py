"""Reading a forecast is to cost little more than reading its JSON."""

from __future__ import annotations

from pathlib import Path

import pytest

from support.cost import UNIT, cost_of_round

PROGRAM = Path(__file__).parents[1] / "support" / "forecast_rounds.py"
OF_JSON = 4.0
"""What checking and keeping a week may cost with it: four times the plain reading of its JSON."""

pytestmark = pytest.mark.benchmark


def test_a_week_of_forecast_is_checked_for_little_more_than_its_json_costs() -> None:
    plain, checked = cost_of_round(PROGRAM, "loads"), cost_of_round(PROGRAM, "parse")
    print(f"\njson {plain:.3g}, forecast {checked:.3g} {UNIT} ({checked / plain:.2f})")
    assert checked / plain <= OF_JSON
