"""Claims about a day's air temperature."""

from __future__ import annotations

import math

import pytest

from strawbell.agronomy.air.constants import DayTemperature


def test_the_mean_is_the_middle() -> None:
    """Low and high count alike."""
    assert DayTemperature(4.0, 16.0).mean_c == 10.0


@pytest.mark.parametrize(
    ("low_c", "high_c", "named"),
    [
        (-90.1, 0.0, "low_c"),
        (math.nan, 0.0, "low_c"),
        (0.0, 60.1, "high_c"),
        (0.0, math.inf, "high_c"),
        (5.0, 4.9, "low_c"),
    ],
)
def test_what_no_thermometer_has_shown_is_refused(low_c: float, high_c: float, named: str) -> None:
    """The refusal names the value."""
    with pytest.raises(ValueError, match=named):
        DayTemperature(low_c, high_c)


def test_the_ends_of_the_range_are_accepted() -> None:
    """-90 and 60 degC, and a day without a swing."""
    assert DayTemperature(-90.0, 60.0).mean_c == -15.0
    assert DayTemperature(7.0, 7.0).mean_c == 7.0
