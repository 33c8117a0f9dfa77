"""Water is told by what a bale lacks, and never beyond what it holds."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from strawbell.agronomy.balance import body_of
from strawbell.agronomy.watering import (
    RAIN_WASHES_IN_MM,
    REFILL_FROM_L_PER_KG,
    Lack,
    first_soak_l,
    refill,
    room_l,
    wash_in,
)
from strawbell.model.garden import Bale, Straw

TWO = Bale("two-string", 100.0, 45.0, 36.0, 20.0)
THREE = Bale("three-string", 122.0, 61.0, 46.0, 36.0)
BODY = body_of(TWO)
LEAST_L = REFILL_FROM_L_PER_KG * TWO.dry_mass_kg


def test_barley_straw_keeps_more_than_wheat() -> None:
    barley = replace(TWO, straw=Straw.BARLEY)
    assert body_of(barley).holds_l > 1.2 * BODY.holds_l
    assert first_soak_l(barley) == first_soak_l(TWO)


def test_a_first_soak_is_about_thirty_litres_and_follows_the_mass() -> None:
    assert first_soak_l(TWO) == pytest.approx(30.0, abs=2.0)
    assert first_soak_l(THREE) == pytest.approx(first_soak_l(TWO) * 36.0 / 20.0)


@pytest.mark.parametrize(
    ("missing_l", "why"),
    [(LEAST_L - 0.01, Lack.ENOUGH), (LEAST_L, Lack.LACKING), (LEAST_L + 0.01, Lack.LACKING)],
)
def test_a_bale_is_refilled_from_three_litres_missing_on(missing_l: float, why: Lack) -> None:
    told = refill(TWO, BODY.works_l - missing_l, 0.0)
    assert told.why is why
    assert (told.litres > 0.0) is (why is Lack.LACKING)


def test_a_refill_brings_the_bale_to_its_working_moisture() -> None:
    told = refill(TWO, 15.0, 0.0)
    assert 15.0 + told.litres * (1.0 - BODY.bypass_wet) == pytest.approx(BODY.works_l)


def test_rain_that_brings_what_is_missing_is_left_to_do_it() -> None:
    held = BODY.works_l - 6.0
    assert refill(TWO, held, 8.0).why is Lack.RAIN
    assert refill(TWO, held, 8.0).litres == 0.0
    assert refill(TWO, held, 4.0).litres == pytest.approx(
        (6.0 - 4.0 * 0.45) / (1.0 - BODY.bypass_wet)
    )


@pytest.mark.parametrize("over_l", [0.0, 0.01, 5.0])
def test_a_full_bale_is_never_watered(over_l: float) -> None:
    assert refill(TWO, BODY.holds_l + over_l, 0.0) == refill(TWO, BODY.holds_l, 0.0)
    assert refill(TWO, BODY.holds_l + over_l, 0.0).litres == 0.0
    assert wash_in(TWO, BODY.holds_l + over_l, 0.0).litres == 0.0
    assert wash_in(TWO, BODY.holds_l + over_l, 0.0).why is Lack.FULL


def test_a_feed_is_washed_in_with_seven_to_nine_millimetres() -> None:
    assert 7.0 * 0.45 <= wash_in(TWO, 26.0, 0.0).litres <= 9.0 * 0.45
    assert 7.0 * 0.744 <= wash_in(THREE, 40.0, 0.0).litres <= 9.0 * 0.745


@pytest.mark.parametrize(
    ("rain_mm", "washed"),
    [
        (RAIN_WASHES_IN_MM - 0.1, True),
        (RAIN_WASHES_IN_MM, False),
        (RAIN_WASHES_IN_MM + 0.1, False),
    ],
)
def test_a_feed_is_left_to_rain_of_five_millimetres(rain_mm: float, washed: bool) -> None:
    assert (wash_in(TWO, 26.0, rain_mm).litres > 0.0) is washed


def test_a_wash_in_never_exceeds_the_room_of_the_bale() -> None:
    assert wash_in(TWO, BODY.holds_l - 1.0, 0.0).litres == pytest.approx(1.0)


@pytest.mark.parametrize(("over_l", "room"), [(-3.0, 3.0), (0.0, 0.0), (9.0, 0.0)])
def test_a_full_bale_has_no_room(over_l: float, room: float) -> None:
    """Nor one that still drains."""
    assert room_l(TWO, BODY.holds_l + over_l) == pytest.approx(room)
