"""Claims about the drying surface and its parameters."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.bale.surface import (
    SurfaceLayer,
    SurfaceState,
    canopy_cover,
    exposed_share,
    largest_coefficient,
    reduction,
    step,
    total_evaporable_mm,
)

NOON = datetime(2027, 7, 5, 12, tzinfo=UTC)
LAYER = SurfaceLayer(total_mm=10.0, ready_mm=4.0, dry_share=0.25)
FULL = SurfaceState(NOON, 0.0)


@pytest.mark.parametrize(
    ("depletion", "share"), [(0.0, 1.0), (3.99, 1.0), (4.0, 1.0), (7.0, 0.5), (10.0, 0.0)]
)
def test_evaporation_falls_off_after_the_first_stage(depletion: float, share: float) -> None:
    """Full up to the readily evaporable water, half in the middle, none at the end."""
    assert reduction(depletion, 10.0, 4.0) == pytest.approx(share)


def test_the_dry_point_lies_a_share_into_the_second_stage() -> None:
    """4 mm and a quarter of the other 6."""
    assert LAYER.dry_at_mm == 5.5


def test_a_wet_top_loses_a_fifth_more_than_the_reference() -> None:
    """Without plants and mulch."""
    taken = step(LAYER, FULL, 0.5)
    assert taken.evaporation_mm == pytest.approx(0.6)
    assert taken.state == SurfaceState(NOON + timedelta(hours=1), taken.evaporation_mm)


@pytest.mark.parametrize(("mulched", "cut"), [(0.1, 0.95), (0.8, 0.6), (1.0, 0.5)])
def test_mulch_saves_five_percent_for_ten_covered(mulched: float, cut: float) -> None:
    """A full cover halves the loss."""
    bare = step(LAYER, FULL, 0.5).evaporation_mm
    covered = step(replace(LAYER, mulch_share=mulched), FULL, 0.5).evaporation_mm
    assert covered == pytest.approx(cut * bare)


def test_rain_comes_before_drying_and_the_rest_drains() -> None:
    """3 mm on 2 mm of want: 1 mm goes on into the bale."""
    taken = step(LAYER, SurfaceState(NOON, 2.0), 0.0, rain_mm=1.0, watering_mm=2.0)
    assert taken.drained_mm == 1.0
    assert taken.state.depletion_mm == 0.0


def test_a_dry_top_gives_nothing_more() -> None:
    """At the end of stage 2 the loss is nothing, and never more than what is left."""
    assert step(LAYER, SurfaceState(NOON, 10.0), 1.0).evaporation_mm == 0.0
    assert step(LAYER, FULL, 30.0).state.depletion_mm == 10.0


def test_leaves_leave_less_to_the_surface() -> None:
    """With Kcb 0.9 and half the ground shaded the limit of equation 71 holds."""
    leafy = replace(LAYER, basal_coefficient=0.9, exposed_share=0.5)
    assert step(leafy, FULL, 0.5).evaporation_coefficient == pytest.approx(0.3)


def test_a_top_without_plants_needs_no_weather() -> None:
    """At no height the largest coefficient is 1.2, wind or not."""
    assert largest_coefficient(6.0, 20.0, 0.0) == 1.2
    assert largest_coefficient(2.0, 45.0, 1.0, 1.3) == pytest.approx(1.35)


def test_ground_without_plants_has_no_cover() -> None:
    """And the exposed share is the smaller of wetted and unshaded."""
    assert canopy_cover(0.1, 0.15, 1.2, 0.3) == 0.0
    assert exposed_share(0.3, 0.4) == 0.4
    assert exposed_share(0.7, 0.4) == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("named", "call"),
    [
        ("total_mm", lambda: SurfaceLayer(0.0, 0.0)),
        ("ready_mm", lambda: SurfaceLayer(10.0, 10.0)),
        ("exposed_share", lambda: SurfaceLayer(10.0, 4.0, exposed_share=0.0)),
        ("mulch_share", lambda: SurfaceLayer(10.0, 4.0, mulch_share=1.1)),
        ("basal_coefficient", lambda: SurfaceLayer(10.0, 4.0, basal_coefficient=1.5)),
        ("crop_height_m", lambda: SurfaceLayer(10.0, 4.0, crop_height_m=-1.0)),
        ("dry_share", lambda: SurfaceLayer(10.0, 4.0, dry_share=1.0)),
        ("depletion_mm", lambda: step(LAYER, SurfaceState(NOON, 10.1), 0.5)),
        ("depletion_mm", lambda: step(LAYER, SurfaceState(NOON, -0.1), 0.5)),
        ("et_mm", lambda: step(LAYER, FULL, -0.1)),
        ("rain_mm", lambda: step(LAYER, FULL, 0.5, rain_mm=-0.1)),
        ("watering_mm", lambda: step(LAYER, FULL, 0.5, watering_mm=-0.1)),
        ("largest", lambda: step(LAYER, FULL, 0.5, largest=0.04)),
        ("depletion_mm", lambda: reduction(10.1, 10.0, 4.0)),
        ("wilting", lambda: total_evaporable_mm(0.2, 0.21, 0.1)),
        ("capacity", lambda: total_evaporable_mm(1.1, 0.2, 0.1)),
        ("depth_m", lambda: total_evaporable_mm(0.5, 0.2, 0.6)),
        ("wind_2m_m_s", lambda: largest_coefficient(20.1, 45.0, 0.3)),
        ("lowest_humidity_percent", lambda: largest_coefficient(2.0, 100.1, 0.3)),
        ("height_m", lambda: largest_coefficient(2.0, 45.0, 10.1)),
        ("largest", lambda: canopy_cover(0.5, 0.15, 0.15, 0.3)),
        ("cover", lambda: exposed_share(1.0, 1.0)),
        ("wetted_share", lambda: exposed_share(0.5, 0.0)),
    ],
)
def test_what_lies_outside_is_refused_by_name(named: str, call: Callable[[], object]) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        call()
