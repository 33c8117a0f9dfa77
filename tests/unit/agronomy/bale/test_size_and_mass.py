"""The bale: size, bed, potting mix and weight."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.agronomy.bale.size_and_mass import (
    BALES,
    bed_area_m2,
    potting_mix_l,
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
