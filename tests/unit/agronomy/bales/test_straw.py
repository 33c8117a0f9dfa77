"""Straw: dry matter, carbon, nitrogen and the water it takes."""

from __future__ import annotations

import pytest

from strawbell.agronomy.bales import (
    BALES,
    COMPOSITION,
    dry_matter_kg,
)
from strawbell.model.garden import Straw

BALE = BALES["two-string"]


def test_the_mass_of_a_bale_is_as_bought_and_an_eighth_of_it_is_water() -> None:
    """12 % of 20 kg."""
    assert dry_matter_kg(BALE) == pytest.approx(17.6)


@pytest.mark.parametrize("straw", Straw)
def test_every_straw_has_figures_with_low_under_high(straw: Straw) -> None:
    """Ranges, not false digits."""
    composition = COMPOSITION[straw]
    for span in (
        composition.carbon_percent,
        composition.nitrogen_percent,
        composition.water_kept_kg_per_kg,
    ):
        assert 0 < span.low <= span.value <= span.high
    assert composition.nitrogen_percent.low < composition.nitrogen_percent.high


@pytest.mark.parametrize(
    ("straw", "nitrogen", "water"),
    [
        (Straw.WHEAT, (0.5, 0.3, 0.6), (2.2, 2.2, 3.6)),
        (Straw.OAT, (0.7, 0.5, 1.1), (2.28, 2.2, 3.6)),
        (Straw.BARLEY, (0.6, 0.3, 1.1), (2.85, 2.2, 3.6)),
        (Straw.RYE, (0.59, 0.3, 1.1), (2.2, 2.2, 3.6)),
    ],
)
def test_straws_have_the_nitrogen_and_keep_the_water_that_is_published(
    straw: Straw, nitrogen: tuple[float, ...], water: tuple[float, ...]
) -> None:
    """NRCS and NRAES-54, Table A.1, for nitrogen; Whisenand (1918) and Spiehs (2013) for water."""
    found = COMPOSITION[straw]
    spans = (found.carbon_percent, found.nitrogen_percent, found.water_kept_kg_per_kg)
    told = [(each.value, each.low, each.high) for each in spans]
    assert told == [(48.0, 45.0, 50.0), nitrogen, water]
