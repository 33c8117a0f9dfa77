"""What a spent bale leaves: strings, straw to spread, nitrogen."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.agronomy.bale.size_and_mass import BALES
from strawbell.agronomy.bale.spent_bale import spent_bales
from strawbell.model.garden import Bale, Straw

TWO, THREE = BALES["two-string"], BALES["three-string"]
OWN = Bale("own", 100.0, 50.0, 40.0, 20.0)
"""A bale of 200 L."""


@pytest.mark.parametrize(
    ("bale", "strings"),
    [
        (TWO, 2),  # common practice: named after its strings
        (THREE, 3),  # common practice
        (OWN, 2),  # common practice: small bales of other makes have two
    ],
)
def test_each_bale_has_the_strings_it_is_named_after(bale: Bale, strings: int) -> None:
    """All of them are to be taken away."""
    assert spent_bales(bale, 1, 0.0).strings == strings
    assert spent_bales(bale, 7, 0.0).strings == 7 * strings


@pytest.mark.parametrize(
    ("straw", "low_g", "high_g", "tolerance_g"),
    [
        # Nitrogen of straw [% of dry matter]; a bale of 20 kg as bought holds 88 % dry matter
        # (moisture 12 %: On-farm composting handbook, NRAES-54, Table A.1, 1992; from memory).
        # 0.3 to 0.5 %: NRAES-54, Table A.1 (from memory); 0.6 %: 48 % C over 80:1, USDA NRCS,
        # "Carbon to nitrogen ratios in cropping systems", Table 1.
        (Straw.WHEAT, 52.8, 105.6, 0.1),
        # 0.5 %: "How to calculate the carbon to nitrogen ratio of your compost mix"; 1.1 %:
        # NRAES-54, Table A.1 (from memory).
        (Straw.OAT, 88.0, 193.6, 0.1),
        # 0.3 to 1.1 %, straw in general: NRAES-54, Table A.1 (from memory).
        (Straw.BARLEY, 52.8, 193.6, 0.1),
        (Straw.RYE, 52.8, 193.6, 0.1),
    ],
)
def test_unfed_straw_carries_the_nitrogen_of_its_kind(
    straw: Straw, low_g: float, high_g: float, tolerance_g: float
) -> None:
    """From the least to the most that was published."""
    spent = spent_bales(replace(OWN, straw=straw), 1, 0.0)
    assert spent.nitrogen_low_g == pytest.approx(low_g, abs=tolerance_g)
    assert spent.nitrogen_high_g == pytest.approx(high_g, abs=tolerance_g)


@pytest.mark.parametrize(
    ("bale", "litres"),
    [
        # Sides as growers call them [in]: two-string about 39 x 18 x 14, three-string 48 x 24 x 18
        # (from memory); by geometry 161 and 340 L.
        (TWO, 161.0),
        (THREE, 340.0),
        (OWN, 200.0),  # by geometry
    ],
)
def test_it_covers_what_a_third_to_a_half_of_its_volume_makes_5_cm_deep(
    bale: Bale, litres: float
) -> None:
    """Common practice: a bale sinks to that in a season, and mulch lies 2 in deep."""
    spent = spent_bales(bale, 1, 0.0)
    assert spent.depth_cm == 5.0
    assert spent.area_low_m2 == pytest.approx(litres / 50.0 * 0.33, rel=0.02)
    assert spent.area_high_m2 == pytest.approx(litres / 50.0 * 0.5, rel=0.02)


def test_of_what_was_fed_a_fifth_to_three_quarters_is_left() -> None:
    """Design choice: no measurement in bales was found."""
    bare, fed = spent_bales(OWN, 1, 0.0), spent_bales(OWN, 1, 300.0)
    assert fed.nitrogen_low_g - bare.nitrogen_low_g == pytest.approx(60.0)
    assert fed.nitrogen_high_g - bare.nitrogen_high_g == pytest.approx(225.0)


def test_bales_add_up() -> None:
    """Six leave six times what one leaves."""
    one, six = spent_bales(TWO, 1, 100.0), spent_bales(TWO, 6, 100.0)
    for name in ("area_low_m2", "area_high_m2", "nitrogen_low_g", "nitrogen_high_g"):
        assert getattr(six, name) == pytest.approx(6 * getattr(one, name))


@pytest.mark.parametrize(
    ("bales", "fits"), [(0, False), (1, True), (10_000, True), (10_001, False)]
)
def test_a_batch_has_from_one_to_ten_thousand_bales(bales: int, fits: bool) -> None:
    """Else the count is a slip of the pen."""
    if fits:
        assert spent_bales(TWO, bales, 0.0).strings == 2 * bales
    else:
        with pytest.raises(ValueError, match="bales"):
            spent_bales(TWO, bales, 0.0)


@pytest.mark.parametrize(
    ("fed_g", "fits"), [(-0.1, False), (0.0, True), (5000.0, True), (5000.1, False)]
)
def test_nitrogen_fed_lies_between_nothing_and_five_kilograms(fed_g: float, fits: bool) -> None:
    """A bale of 20 kg is not fed more than that."""
    if fits:
        assert spent_bales(TWO, 1, fed_g).nitrogen_high_g > 0
    else:
        with pytest.raises(ValueError, match="fed_nitrogen_per_bale_g"):
            spent_bales(TWO, 1, fed_g)


@pytest.mark.parametrize("changes", [{"length_cm": 9.0}, {"dry_mass_kg": 0.5}])
def test_a_bale_that_is_none_is_refused(changes: dict[str, float]) -> None:
    """Sides and mass have their limits."""
    with pytest.raises(ValueError, match=next(iter(changes))):
        spent_bales(replace(OWN, **changes), 1, 0.0)  # type: ignore[arg-type]
