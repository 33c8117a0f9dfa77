"""How good the holds were, on a table whose scores are published."""

from __future__ import annotations

import pytest

from tests.value.verification import COST_LOSS, Contingency, counted

FINLEY = Contingency(hits=28, false_alarms=72, misses=23, rightly_given=2680)
"""Finley's tornado forecasts of 1884 (Australian Bureau of Meteorology, verification pages)."""


def test_the_scores_of_finleys_table_are_those_published() -> None:
    """Hit rate 0.549, false alarm ratio 0.72, false alarm rate 0.0262."""
    assert FINLEY.hit_rate == pytest.approx(0.549, abs=5e-4)
    assert FINLEY.false_alarm_ratio == pytest.approx(0.72, abs=5e-3)
    assert FINLEY.false_alarm_rate == pytest.approx(0.0262, abs=5e-5)


def test_the_value_at_the_base_rate_is_hit_rate_less_false_alarm_rate() -> None:
    """Richardson (2000): there it has its maximum, 0.523 in Finley's table."""
    base = FINLEY.base_rate
    assert base is not None
    assert FINLEY.value(base) == pytest.approx(0.523, abs=5e-4)
    assert FINLEY.value(base) >= max(value or 0.0 for _, value in FINLEY.curve())


@pytest.mark.parametrize(("ratio", "value"), [(0.05, 0.4747), (0.10, 0.3922), (0.20, 0.1961)])
def test_the_value_falls_on_either_side(ratio: float, value: float) -> None:
    """Worked by hand from the formula with a = C/L, s = 51/2803."""
    assert FINLEY.value(ratio) == pytest.approx(value, abs=5e-5)


def test_perfect_holds_are_worth_everything_at_any_cost() -> None:
    """And holding at random, at most nothing."""
    perfect = Contingency(hits=5, rightly_given=15)
    assert {value for _, value in perfect.curve()} == {1.0}
    blind = Contingency(hits=5, false_alarms=15, misses=5, rightly_given=15)
    assert all(value is not None and value <= 1e-12 for _, value in blind.curve())


@pytest.mark.parametrize(
    "table", [Contingency(), Contingency(misses=3), Contingency(false_alarms=2, rightly_given=9)]
)
def test_where_it_never_or_always_happened_there_is_no_value(table: Contingency) -> None:
    """Never nought: nothing was to be known."""
    assert {value for _, value in table.curve()} == {None}


def test_what_has_no_denominator_is_unknown() -> None:
    """Without an event no hit rate, without a hold no false alarm ratio."""
    assert Contingency(rightly_given=4).hit_rate is None
    assert Contingency(misses=4).false_alarm_ratio is None
    assert Contingency(hits=4).false_alarm_rate is None


@pytest.mark.parametrize("ratio", [0.0, 1.0, -0.1])
def test_a_ratio_outside_is_refused(ratio: float) -> None:
    """At 0 one always holds, at 1 never."""
    with pytest.raises(ValueError, match="cost_loss"):
        FINLEY.value(ratio)


def test_days_are_counted_and_unknown_ones_kept_apart() -> None:
    """They neither help nor harm."""
    days = [(True, True), (True, False), (False, True), (False, False), (True, None), (False, None)]
    table = counted(days)
    assert table == Contingency(1, 1, 1, 1, unknown=2)
    assert table.days == 4


def test_the_curve_runs_from_a_twentieth_to_nineteen() -> None:
    """The ratios are those stated."""
    assert (COST_LOSS[0], COST_LOSS[-1], len(COST_LOSS)) == (0.05, 0.95, 19)
