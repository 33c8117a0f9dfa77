"""Claims about degree days."""

from __future__ import annotations

import pytest

from strawbell.agronomy.growing import degree_days


def test_a_day_at_the_base_brings_nothing_and_a_bit_over_it_a_bit() -> None:
    """At the base, just over, and a night under it that takes nothing from the day."""
    assert degree_days(10.0, 10.0, 10.0) == 0.0
    assert degree_days(10.2, 10.0, 10.0) == pytest.approx(0.1)
    assert degree_days(10.2, -5.0, 10.0) == pytest.approx(0.1)


def test_heat_over_the_ceiling_counts_no_more() -> None:
    """At 30 degC the most of a day is reached."""
    assert degree_days(29.9, 29.9, 10.0) == pytest.approx(19.9)
    assert degree_days(30.0, 30.0, 10.0) == 20.0
    assert degree_days(45.0, 31.0, 10.0) == 20.0


def test_a_base_over_the_ceiling_brings_nothing_and_takes_nothing() -> None:
    """A grower may have written one down."""
    assert degree_days(45.0, 31.0, 40.0) == 0.0
