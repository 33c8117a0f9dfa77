"""Reading a forecast is to cost little more than reading its JSON."""

from __future__ import annotations

from pathlib import Path

import pytest

from support.cost import cost_of_round
from support.speed import figure

PROGRAM = Path(__file__).parents[1] / "support" / "forecast_rounds.py"
OF_JSON = {"open-meteo": 4.0, "met-norway": 4.0, "nws": 7.0}
"""What checking and keeping a week may cost with it, in times the plain reading of its JSON."""
GOAL = "4, **missed**: each value comes with an interval of its own, a text that has to be read"

pytestmark = pytest.mark.benchmark


@pytest.mark.parametrize("service", OF_JSON)
def test_a_week_of_forecast_is_checked_for_little_more_than_its_json_costs(service: str) -> None:
    plain, checked = (cost_of_round(PROGRAM, service, work) for work in ("loads", "parse"))
    figure(
        f"a week of forecast checked: {service}",
        checked / plain,
        "of its `json.loads`",
        most=OF_JSON[service],
        goal=GOAL if service == "nws" else "",
    )
