"""Claims about refusing what lies outside a range."""

from __future__ import annotations

import math

import pytest

from strawbell.agronomy.figures import within


@pytest.mark.parametrize("value", [1.0, 2.0, 3.0])
def test_both_ends_of_the_range_are_allowed(value: float) -> None:
    """A value at or between the ends comes back unchanged."""
    assert within("depth_cm", value, 1.0, 3.0, "cm") == value


@pytest.mark.parametrize("value", [0.999, 3.001, math.nan, math.inf, -math.inf])
def test_the_refusal_names_the_argument_and_what_is_allowed(value: float) -> None:
    """The grower's message says which value, and from where to where."""
    with pytest.raises(ValueError, match="depth_cm must lie between 1 and 3 cm, got"):
        within("depth_cm", value, 1.0, 3.0, "cm")
