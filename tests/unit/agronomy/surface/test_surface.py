"""Claims about the drying surface and its parameters."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.surface import (
    SurfaceHour,
    SurfaceLayer,
    SurfaceState,
    Watering,
    dry_down,
    largest_coefficient,
    potting_mix_layer,
    seed_bed_layer,
    step,
    total_evaporable_mm,
)

START = datetime(2027, 7, 5, 6, tzinfo=UTC)
LAYER = SurfaceLayer(total_mm=10.0, ready_mm=4.0, dry_share=0.25)
FULL = SurfaceState(START, 0.0)
WALKED = SurfaceLayer(total_mm=10.0, ready_mm=4.0, dry_share=0.0)
HOUR = timedelta(hours=1)


def test_the_dry_point_lies_a_share_into_the_second_stage() -> None:
    """4 mm and a quarter of the other 6."""
    assert LAYER.dry_at_mm == 5.5


def test_a_wet_top_loses_a_fifth_more_than_the_reference() -> None:
    """Without plants and mulch."""
    taken = step(LAYER, FULL, 0.5)
    assert taken.evaporation_mm == pytest.approx(0.6)
    assert taken.state == SurfaceState(START + timedelta(hours=1), taken.evaporation_mm)


@pytest.mark.parametrize(("mulched", "cut"), [(0.1, 0.95), (0.8, 0.6), (1.0, 0.5)])
def test_mulch_saves_five_percent_for_ten_covered(mulched: float, cut: float) -> None:
    """A full cover halves the loss."""
    bare = step(LAYER, FULL, 0.5).evaporation_mm
    covered = step(replace(LAYER, mulch_share=mulched), FULL, 0.5).evaporation_mm
    assert covered == pytest.approx(cut * bare)


def test_rain_comes_before_drying_and_the_rest_drains() -> None:
    """3 mm on 2 mm of want: 1 mm goes on into the bale."""
    taken = step(LAYER, SurfaceState(START, 2.0), 0.0, rain_mm=1.0, watering_mm=2.0)
    assert taken.drained_mm == 1.0
    assert taken.state.depletion_mm == 0.0


def test_a_dry_top_gives_nothing_more() -> None:
    """At the end of stage 2 the loss is nothing, and never more than what is left."""
    assert step(LAYER, SurfaceState(START, 10.0), 1.0).evaporation_mm == 0.0
    assert step(LAYER, FULL, 30.0).state.depletion_mm == 10.0


def test_leaves_leave_less_to_the_surface() -> None:
    """With Kcb 0.9 and half the ground shaded the limit of equation 71 holds."""
    leafy = replace(LAYER, basal_coefficient=0.9, exposed_share=0.5)
    assert step(leafy, FULL, 0.5).evaporation_coefficient == pytest.approx(0.3)


def test_a_top_without_plants_needs_no_weather() -> None:
    """At no height the largest coefficient is 1.2, wind or not."""
    assert largest_coefficient(6.0, 20.0, 0.0) == 1.2
    assert largest_coefficient(2.0, 45.0, 1.0, 1.3) == pytest.approx(1.35)


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
        ("depletion_mm", lambda: step(LAYER, SurfaceState(START, 10.1), 0.5)),
        ("depletion_mm", lambda: step(LAYER, SurfaceState(START, -0.1), 0.5)),
        ("et_mm", lambda: step(LAYER, FULL, -0.1)),
        ("rain_mm", lambda: step(LAYER, FULL, 0.5, rain_mm=-0.1)),
        ("watering_mm", lambda: step(LAYER, FULL, 0.5, watering_mm=-0.1)),
        ("largest", lambda: step(LAYER, FULL, 0.5, largest=0.04)),
        ("wilting", lambda: total_evaporable_mm(0.2, 0.21, 0.1)),
        ("capacity", lambda: total_evaporable_mm(1.1, 0.2, 0.1)),
        ("depth_m", lambda: total_evaporable_mm(0.5, 0.2, 0.6)),
        ("wind_2m_m_s", lambda: largest_coefficient(20.1, 45.0, 0.3)),
        ("lowest_humidity_percent", lambda: largest_coefficient(2.0, 100.1, 0.3)),
        ("height_m", lambda: largest_coefficient(2.0, 45.0, 10.1)),
    ],
)
def test_what_lies_outside_is_refused_by_name(named: str, call: Callable[[], object]) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        call()


def hours(count: int, et_mm: float = 0.5, rain_mm: float = 0.0) -> list[SurfaceHour]:
    return [SurfaceHour(START + HOUR * index, et_mm, rain_mm) for index in range(count)]


def test_the_first_stage_ends_when_its_water_is_used_up() -> None:
    """0.6 mm an hour: 4 mm are gone after six hours and forty minutes."""
    walked = dry_down(hours(24), WALKED, FULL)
    assert walked.dry_at is not None
    assert (walked.dry_at - START) / HOUR == pytest.approx(4.0 / 0.6, abs=1e-6)


def test_the_walk_is_the_step_repeated() -> None:
    """Hour by hour the same depletion."""
    state = FULL
    for taken in hours(30):
        assert taken.et_mm is not None
        state = step(WALKED, state, taken.et_mm).state
    assert dry_down(hours(30), WALKED, FULL).depletion_mm == pytest.approx(state.depletion_mm)


def test_reaching_the_dry_point_is_not_yet_dry() -> None:
    """Just at 4 mm the top is still moist; a hair more and it is dry."""
    exactly = dry_down(hours(4, et_mm=1.0 / 1.2), WALKED, FULL, largest=1.2)
    assert exactly.depletion_mm == pytest.approx(4.0)
    assert dry_down(hours(1, et_mm=0.01), WALKED, SurfaceState(START, 3.9)).dry_at is None
    assert dry_down(hours(1, et_mm=0.01), WALKED, SurfaceState(START, 3.995)).dry_at is not None


def test_rain_puts_off_the_drying() -> None:
    """Three millimetres in the third hour."""
    showers = hours(24)
    showers[2] = replace(showers[2], rain_mm=3.0)
    dry, wet = dry_down(hours(24), WALKED, FULL), dry_down(showers, WALKED, FULL)
    assert dry.dry_at is not None
    assert wet.dry_at is not None
    assert wet.dry_at > dry.dry_at
    # Only what there was room for stays: 1.2 mm had gone.
    assert wet.gained_mm == pytest.approx(1.2)


def test_a_recorded_watering_counts_and_an_unknown_amount_fills() -> None:
    """The hour it was given in; one before the start is over and done."""
    some = dry_down(hours(6), WALKED, FULL, [Watering(START + 3 * HOUR, 1.0)])
    full = dry_down(hours(6), WALKED, FULL, [Watering(START + 3 * HOUR)])
    early = dry_down(hours(6), WALKED, FULL, [Watering(START - HOUR)])
    assert some.depletion_mm == pytest.approx(6 * 0.6 - 1.0)
    assert full.depletion_mm == pytest.approx(3 * 0.6)
    assert early.depletion_mm == pytest.approx(6 * 0.6)


@pytest.mark.parametrize(
    "hole",
    [
        SurfaceHour(START + 3 * HOUR, None, 0.0),
        SurfaceHour(START + 3 * HOUR, 0.5, None),
        None,
    ],
)
def test_the_unknown_ends_the_walk(hole: SurfaceHour | None) -> None:
    """An hour without evapotranspiration, without rain, or absent: neither dry nor wet."""
    holed = hours(24)
    holed[3:4] = [] if hole is None else [hole]
    walked = dry_down(holed, WALKED, FULL)
    assert walked.known_until == START + 3 * HOUR
    assert walked.dry_at is None


def test_a_start_before_the_first_hour_knows_nothing() -> None:
    """The hours between are absent."""
    walked = dry_down(hours(24), WALKED, SurfaceState(START - HOUR, 0.0))
    assert walked.known_until == START - HOUR
    assert walked.depletion_mm == 0.0


def test_the_walk_begins_and_ends_within_an_hour() -> None:
    """Half an hour at either end counts half."""
    start = SurfaceState(START + HOUR / 2, 0.0)
    walked = dry_down(hours(24), WALKED, start, until=START + 3 * HOUR + HOUR / 2)
    assert walked.known_until == START + 3 * HOUR + HOUR / 2
    assert walked.depletion_mm == pytest.approx(3 * 0.6)


def test_a_top_that_is_already_dry_is_dry_now() -> None:
    """Not at the end of the hour."""
    assert dry_down(hours(2), WALKED, SurfaceState(START, 6.0)).dry_at == START


def test_a_tended_top_is_filled_each_time_it_dries() -> None:
    """Each filling puts back what has gone."""
    walked = dry_down(hours(24), WALKED, FULL, refill_until=START + 24 * HOUR)
    assert walked.refills == 3
    assert walked.lost_mm == pytest.approx(walked.refilled_mm + walked.depletion_mm)


def test_filling_ends_when_it_is_told_to() -> None:
    """It dries after 6:40 h, and again 6:40 h after the hour it was filled at the end of."""
    walked = dry_down(hours(24), WALKED, FULL, refill_until=START + 13 * HOUR)
    assert walked.refills == 1
    assert walked.depletion_mm > WALKED.dry_at_mm


@pytest.mark.parametrize(
    ("named", "start", "waterings", "largest"),
    [
        ("depletion_mm", SurfaceState(START, 10.1), [], 1.2),
        ("mm", FULL, [Watering(START, -0.1)], 1.2),
        ("largest", FULL, [], 2.1),
    ],
)
def test_a_walk_that_cannot_be_is_refused_by_name(
    named: str, start: SurfaceState, waterings: list[Watering], largest: float
) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        dry_down(hours(2), WALKED, start, waterings, largest)


def test_an_end_on_the_hour_stops_there() -> None:
    """The hour that begins at the end is not begun."""
    walked = dry_down(hours(24), WALKED, FULL, until=START + 3 * HOUR)
    assert walked.known_until == START + 3 * HOUR
    assert walked.depletion_mm == pytest.approx(3 * 0.6)


def test_an_hour_takes_no_more_than_is_left() -> None:
    """A thin layer is used up within the hour and then gives nothing."""
    walked = dry_down(hours(3, et_mm=30.0), WALKED, FULL)
    assert walked.depletion_mm == walked.lost_mm == WALKED.total_mm


def test_a_deeper_layer_of_mix_holds_more() -> None:
    """In proportion to its depth: 19 mm in 4 cm."""
    assert potting_mix_layer(4.0).total_mm == pytest.approx(19.0)
    assert potting_mix_layer(5.0).total_mm == pytest.approx(5.0 / 4.0 * 19.0)
    assert potting_mix_layer(5.0).ready_mm == pytest.approx(10.0)


def test_a_seed_bed_is_dry_before_a_rooted_layer() -> None:
    """Its 2 cm count as dry at the end of the first stage."""
    assert seed_bed_layer().dry_at_mm == seed_bed_layer().ready_mm == pytest.approx(4.0)
    assert seed_bed_layer().dry_at_mm < potting_mix_layer(3.0).dry_at_mm


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
