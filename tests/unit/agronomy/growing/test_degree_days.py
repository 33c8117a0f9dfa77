"""Claims about degree days."""

from __future__ import annotations

import math

import pytest

from strawbell.agronomy.growing import (
    capped_degree_days,
    simple_degree_days,
)


def test_a_day_at_the_base_brings_nothing_and_a_bit_over_it_a_bit() -> None:
    """Just under, at, just over."""
    assert simple_degree_days(14.8, 5.0, 10.0) == 0.0
    assert simple_degree_days(15.0, 5.0, 10.0) == 0.0
    assert simple_degree_days(15.2, 5.0, 10.0) == pytest.approx(0.1)


def test_heat_over_the_ceiling_counts_no_more() -> None:
    """At 30 degC the most of a day is reached."""
    assert capped_degree_days(29.9, 29.9) == pytest.approx(19.9)
    assert capped_degree_days(30.0, 30.0) == 20.0
    assert capped_degree_days(45.0, 31.0) == 20.0


@pytest.mark.parametrize("wrong", [math.nan, math.inf, -90.1, 60.1])
def test_what_is_no_air_temperature_is_refused_by_name(wrong: float) -> None:
    """Each argument is named."""
    with pytest.raises(ValueError, match="high_c"):
        simple_degree_days(wrong, -70.0, 10.0)
    with pytest.raises(ValueError, match="low_c"):
        capped_degree_days(20.0, wrong)
    with pytest.raises(ValueError, match="base_c"):
        simple_degree_days(20.0, 10.0, wrong)


def test_a_low_over_the_high_is_refused() -> None:
    """A swapped pair is a slip."""
    with pytest.raises(ValueError, match="low_c must not lie over high_c"):
        simple_degree_days(10.0, 10.1, 5.0)


def test_a_base_at_the_ceiling_is_refused() -> None:
    """There would be nothing to gain."""
    with pytest.raises(ValueError, match="base_c must lie under ceiling_c"):
        capped_degree_days(20.0, 10.0, 30.0, 30.0)
