"""The bale: size, bed, potting mix and weight."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.agronomy.bales import (
    BALES,
    bed_area_m2,
    potting_mix_l,
    spread_area_m2,
    top_area_m2,
    volume_l,
)

TWO = BALES["two-string"]
THREE = BALES["three-string"]


@pytest.mark.parametrize(("layer_cm", "litres"), [(0, 0), (2.5, 67.5), (4, 108), (5, 135)])
def test_a_layer_of_mix_is_area_times_thickness(layer_cm: float, litres: float) -> None:
    """Six two-string bales are 2.7 m2."""
    assert potting_mix_l(TWO, 6, layer_cm) == pytest.approx(litres)


@pytest.mark.parametrize(
    ("name", "call"),
    [
        ("length_cm", lambda: top_area_m2(replace(TWO, length_cm=9.9))),
        ("width_cm", lambda: top_area_m2(replace(TWO, width_cm=400.1))),
        ("height_cm", lambda: volume_l(replace(TWO, height_cm=float("nan")))),
        ("bales", lambda: bed_area_m2(TWO, 0)),
        ("layer_cm", lambda: potting_mix_l(TWO, 1, 30.1)),
    ],
)
def test_what_cannot_be_is_refused_by_name(name: str, call: object) -> None:
    """Outside its range a figure is refused, never clipped."""
    with pytest.raises(ValueError, match=name):
        call()  # type: ignore[operator]


@pytest.mark.parametrize(("kind", "litres"), [("two-string", 161.0), ("three-string", 340.0)])
def test_spent_straw_covers_what_a_third_to_a_half_of_its_volume_makes_5_cm_deep(
    kind: str, litres: float
) -> None:
    """Common practice: a bale sinks to that in a season, and mulch lies 2 in deep."""
    least_m2, most_m2 = spread_area_m2(BALES[kind], 1)
    assert least_m2 == pytest.approx(litres / 50.0 * 0.33, rel=0.02)
    assert most_m2 == pytest.approx(litres / 50.0 * 0.5, rel=0.02)
    assert spread_area_m2(BALES[kind], 6) == pytest.approx((6 * least_m2, 6 * most_m2))


@pytest.mark.parametrize("bales", [0, 10_001])
def test_a_batch_has_from_one_to_ten_thousand_bales_to_spread(bales: int) -> None:
    with pytest.raises(ValueError, match="bales"):
        spread_area_m2(BALES["two-string"], bales)
