"""Claims about the tops that bales have."""

from __future__ import annotations

import pytest

from strawbell.agronomy.bale.surface_layers import (
    bare_bale_layer,
    potting_mix_layer,
    seed_bed_layer,
)


def test_a_deeper_layer_of_mix_holds_more() -> None:
    """In proportion to its depth: 19 mm in 4 cm."""
    assert potting_mix_layer(4.0).total_mm == pytest.approx(19.0)
    assert potting_mix_layer(5.0).total_mm == pytest.approx(5.0 / 4.0 * 19.0)
    assert potting_mix_layer(5.0).ready_mm == pytest.approx(10.0)


def test_a_seed_bed_is_dry_before_a_rooted_layer() -> None:
    """Its 2 cm count as dry at the end of the first stage."""
    assert seed_bed_layer().dry_at_mm == seed_bed_layer().ready_mm == pytest.approx(4.0)
    assert seed_bed_layer().dry_at_mm < potting_mix_layer(3.0).dry_at_mm


def test_bare_straw_holds_the_least() -> None:
    """Coarse as it is: between 2 and 4, between 6 and 12 mm."""
    straw = bare_bale_layer()
    assert 2.0 <= straw.ready_mm <= 4.0
    assert 6.0 <= straw.total_mm <= 12.0


@pytest.mark.parametrize("depth_cm", [0.99, 15.1])
def test_a_depth_outside_is_refused_by_name(depth_cm: float) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match="depth_cm"):
        potting_mix_layer(depth_cm)


@pytest.mark.parametrize("depth_cm", [1.0, 15.0])
def test_either_end_of_the_depth_is_allowed(depth_cm: float) -> None:
    """The range is closed."""
    assert potting_mix_layer(depth_cm).total_mm > 0.0


def test_mulch_is_handed_on() -> None:
    """And refused outside."""
    assert potting_mix_layer(4.0, 0.8).mulch_share == 0.8
    assert seed_bed_layer(0.3).mulch_share == 0.3
    with pytest.raises(ValueError, match="mulch_share"):
        seed_bed_layer(1.1)
