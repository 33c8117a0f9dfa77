"""A morning's decision and its words cost little, beside plain additions in the same run."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from support.cost import cost_of_round
from support.speed import figure

PROGRAM = Path(__file__).parents[1] / "support" / "work_rounds.py"
ROUNDS = 10
MOST = {
    "a bale for a day and its week ahead, steps of six hours": ("bale", 0.5),
    "a brief in conditioning, from the index that the daemon keeps": ("kept-5", 0.8),
    "a brief with a planted batch, from the same index": ("kept-30", 0.8),
    "a brief on day 5, its journal indexed and its bales walked anew": ("anew-5", 1.0),
    "a brief on day 30, its journal indexed and its bales walked anew": ("anew-30", 1.4),
    "text and HTML of a brief": ("words", 0.35),
    "a brief as the journal keeps it": ("json", 0.1),
}
"""What each may cost, in a hundred thousand additions of plain Python: a third more than it was
found to."""

pytestmark = pytest.mark.benchmark


@cache
def additions() -> float:
    """Return what the yardstick costs in this run."""
    return cost_of_round(PROGRAM, "additions", rounds=ROUNDS)


@pytest.mark.parametrize("what", MOST)
def test_a_part_of_a_morning_costs_little_beside_the_yardstick(what: str) -> None:
    work, most = MOST[what]
    cost = cost_of_round(PROGRAM, work, rounds=ROUNDS)
    figure(what, cost / additions(), "of 100,000 additions", most=most)
