"""Leaching and washing in, against published equations and thresholds."""

from __future__ import annotations

import pytest

from strawbell.agronomy.ammonia import WASHES_IN_MM
from strawbell.agronomy.leaching import displaced_share, mixed_share

BURNS = [
    # drained cm, held % of volume, depth cm, f; I. G. Burns, J. Agric. Sci. 85:443 (1975). The
    # form of the exponent is from memory; the values are calculated from it, and the exponential
    # form of Scotter et al. (1993) gives .3012, .1054 and .3247 beside them.
    (5.0, 30.0, 20.0, 0.3118, 0.0001),
    (5.0, 25.0, 45.0, 0.1113, 0.0001),
    (10.0, 25.0, 45.0, 0.3292, 0.0001),
    (5.0, 30.0, 11.9, 0.50, 0.005),
]
SWAT = [
    # water mm, layer at saturation mm, excluded share, lost share; SWAT+ documentation, nitrate
    # movement; the equation is from memory, the values are calculated from it.
    (25.0, 138.0, 0.0, 0.166, 0.001),
    (25.0, 138.0, 0.5, 0.304, 0.001),
]


@pytest.mark.parametrize(("drained", "held", "depth", "share", "tolerance"), BURNS)
def test_burns(drained: float, held: float, depth: float, share: float, tolerance: float) -> None:
    """The share pushed below a depth."""
    assert displaced_share(drained, held, depth) == pytest.approx(share, abs=tolerance)


@pytest.mark.parametrize(("water", "layer", "excluded", "share", "tolerance"), SWAT)
def test_mixed_layer(
    water: float, layer: float, excluded: float, share: float, tolerance: float
) -> None:
    """The share carried out of a mixed layer."""
    assert mixed_share(water, layer, excluded) == pytest.approx(share, abs=tolerance)


def test_half_an_inch_washes_urea_in() -> None:
    """Montana State University, urea volatilization: at least 0.5 in in one event."""
    assert pytest.approx(0.5 * 25.4, abs=0.05) == WASHES_IN_MM
