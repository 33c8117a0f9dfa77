"""What rain carries out, between two ways water can run through a bale."""

from __future__ import annotations

import pytest

from strawbell.agronomy.bale.leaching import bale_water, displaced_share, leached_share, mixed_share
from strawbell.agronomy.bale.size_and_mass import BALES

WATER = bale_water(BALES["two-string"])


def test_no_rain_carries_nothing() -> None:
    """Both models agree on that."""
    assert leached_share(WATER, 0.0, 0.0).high == 0.0


@pytest.mark.parametrize("rain_mm", [1.0, 12.7, 25.4, 100.0, 500.0])
def test_the_least_is_never_above_the_most(rain_mm: float) -> None:
    """And both are shares."""
    share = leached_share(WATER, rain_mm, rain_mm)
    assert 0.0 <= share.low <= share.high <= 1.0


def test_an_inch_takes_little_by_displacement_and_some_by_mixing() -> None:
    """The two bracket widely: that is why a range is told, not a figure."""
    share = leached_share(WATER, 25.4, 25.4)
    assert share.low < 0.01
    assert 0.1 < share.high < 0.5


def test_more_rain_never_carries_less() -> None:
    """Monotone in rain."""
    shares = [leached_share(WATER, mm, mm).high for mm in (0.0, 5.0, 12.7, 25.4, 50.0)]
    assert shares == sorted(shares)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: displaced_share(-1.0, 30.0, 20.0), "drained_cm"),
        (lambda: displaced_share(5.0, 0.0, 20.0), "held_percent"),
        (lambda: displaced_share(5.0, 30.0, 500.0), "depth_cm"),
        (lambda: mixed_share(-1.0, 138.0, 0.0), "drained_mm"),
        (lambda: mixed_share(25.0, 0.0, 0.0), "held_mm"),
        (lambda: mixed_share(25.0, 138.0, 1.0), "excluded_share"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call: object, name: str) -> None:
    """The argument is named."""
    with pytest.raises(ValueError, match=name):
        call()  # type: ignore[operator]


def test_the_least_pushes_what_is_left_after_the_bale_has_filled_through_its_height() -> None:
    """100 mm beyond the room are 10 cm of water through 36 cm of straw."""
    share = leached_share(WATER, WATER.room_mm + 100.0, WATER.room_mm + 100.0)
    assert share.low == pytest.approx(displaced_share(10.0, WATER.held_percent, WATER.depth_cm))
    assert 0.1 < share.low < 0.9


def test_a_two_string_bale_holds_44_litres_and_has_room_for_20() -> None:
    """20 kg of wheat straw at 60 % moisture, over a top of 0.45 m2."""
    assert pytest.approx(44.0 / 0.45) == WATER.held_mm
    assert pytest.approx(20.0 / 0.45, abs=0.01) == WATER.room_mm
    assert pytest.approx(44.0 / 162.0 * 100) == WATER.held_percent
