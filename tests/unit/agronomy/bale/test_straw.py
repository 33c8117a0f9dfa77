"""Straw: dry matter, carbon, nitrogen and the water it takes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from strawbell.agronomy.bale.size_and_mass import BALES
from strawbell.agronomy.bale.straw import (
    COMPOSITION,
    Span,
    carbon_g,
    carbon_to_nitrogen,
    dry_matter_kg,
    moisture_with,
    nitrogen_g,
    water_held_l,
    water_to_reach,
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


@pytest.mark.parametrize("straw", Straw)
def test_every_straw_has_too_little_nitrogen_to_rot_by_itself(straw: Straw) -> None:
    """Its ratio lies above the 40:1 that is ideal at most."""
    ratio = carbon_to_nitrogen(replace(BALE, straw=straw))
    assert 40 < ratio.low < ratio.value < ratio.high


def test_the_amounts_in_a_bale_of_wheat_straw() -> None:
    """48 % and 0.5 % of 17.6 kg."""
    assert carbon_g(BALE).value == pytest.approx(8448.0)
    assert nitrogen_g(BALE) == Span(pytest.approx(88.0), pytest.approx(52.8), pytest.approx(105.6))
    assert water_held_l(BALE).value == pytest.approx(44.0)


def test_a_moist_bale_needs_no_water() -> None:
    """Never a negative amount."""
    assert water_to_reach(BALE, 0.6, 0.6) == 0.0
    assert water_to_reach(BALE, 0.7, 0.6) == 0.0


@pytest.mark.parametrize("moisture", [0.12, 0.3, 0.6, 0.9])
def test_water_to_a_moisture_gives_that_moisture(moisture: float) -> None:
    """There and back."""
    assert moisture_with(BALE, water_to_reach(BALE, 0.12, moisture)) == pytest.approx(moisture)


@pytest.mark.parametrize("bad", [-0.01, 0.951, float("nan")])
def test_moistures_that_straw_cannot_have_are_refused_by_name(bad: float) -> None:
    """A percentage written for a share is caught."""
    with pytest.raises(ValueError, match="moisture_from"):
        water_to_reach(BALE, bad, 0.6)
    with pytest.raises(ValueError, match="moisture_to"):
        water_to_reach(BALE, 0.12, bad)
    with pytest.raises(ValueError, match="moisture "):
        dry_matter_kg(BALE, bad)


@pytest.mark.parametrize("bad", [-1.0, 5001.0, float("inf")])
def test_water_that_cannot_be_is_refused_by_name(bad: float) -> None:
    """A negative soaking is a slip."""
    with pytest.raises(ValueError, match="water_l"):
        moisture_with(BALE, bad)


def test_a_bale_of_no_mass_is_refused_by_name() -> None:
    """Nothing is computed of nothing."""
    with pytest.raises(ValueError, match="dry_mass_kg"):
        water_held_l(replace(BALE, dry_mass_kg=0.0))
