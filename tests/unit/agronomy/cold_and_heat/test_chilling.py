"""What is too cold for a crop long before it freezes."""

from __future__ import annotations

import pytest

from strawbell.agronomy.cold_and_heat import nights_from_c, too_cold_for_seed
from strawbell.agronomy.crop_table import CROPS

TENDER = ("pepper", "eggplant", "basil", "okra", "bean", "cucumber", "summer squash")


@pytest.mark.parametrize("name", TENDER)
def test_tender_crops_want_nights_of_50_f(name: str) -> None:
    """50 F is 10 degC."""
    assert nights_from_c(CROPS[name]) == pytest.approx(10.0)


@pytest.mark.parametrize("name", ["tomato", "cherry tomato"])
def test_tomatoes_stand_cooler_ones(name: str) -> None:
    """Ontario Ministry of Agriculture: chilled by prolonged 0 to 5 C, peppers by 0 to 10 C."""
    assert nights_from_c(CROPS[name]) == 5.0


@pytest.mark.parametrize("name", ["pea", "kale", "lettuce", "potato", "garlic"])
def test_hardy_crops_want_none(name: str) -> None:
    """Cool nights do them no harm."""
    if name in CROPS:
        assert nights_from_c(CROPS[name]) is None


@pytest.mark.parametrize(("bed_c", "cold"), [(15.5, True), (15.56, False), (15.6, False)])
def test_beans_want_a_bed_of_60_f(bed_c: float, cold: bool) -> None:
    """Harrington's least temperature, 60 F; tested below, at and above."""
    assert too_cold_for_seed(CROPS["bean"], bed_c) is cold


@pytest.mark.parametrize("bed_c", [-90.1, 60.1, float("nan")])
def test_a_bed_is_as_warm_as_air_can_be(bed_c: float) -> None:
    """The argument is named."""
    with pytest.raises(ValueError, match="bed_c"):
        too_cold_for_seed(CROPS["bean"], bed_c)
