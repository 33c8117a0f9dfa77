"""Straw: dry matter, carbon, nitrogen and the water it takes."""

from __future__ import annotations

import pytest

from strawbell.agronomy.bale.size_and_mass import BALES
from strawbell.agronomy.bale.straw import (
    COMPOSITION,
    dry_matter_kg,
)
from strawbell.model.garden import Straw

BALE = BALES["two-string"]


def test_the_mass_of_a_bale_is_as_bought_and_an_eighth_of_it_is_water() -> None:
    """12 % of 20 kg."""
    assert dry_matter_kg(BALE) == pytest.approx(17.6)
    assert dry_matter_kg(BALE, 0.2) == pytest.approx(16.0)


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
