"""Claims about the drying surface and its parameters."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.surface import (
    SurfaceHour,
    SurfaceLayer,
    depletion_after,
    dry_down,
    potting_mix_layer,
    seed_bed_layer,
    total_evaporable_mm,
)

START = datetime(2027, 7, 5, 6, tzinfo=UTC)
LAYER = SurfaceLayer(total_mm=10.0, ready_mm=4.0, dry_share=0.25)
WALKED = SurfaceLayer(total_mm=10.0, ready_mm=4.0, dry_share=0.0)
HOUR = timedelta(hours=1)


def test_the_dry_point_lies_a_share_into_the_second_stage() -> None:
    """4 mm and a quarter of the other 6."""
    assert LAYER.dry_at_mm == 5.5


def test_a_wet_top_loses_a_fifth_more_than_the_reference() -> None:
    """Without mulch."""
    assert depletion_after(LAYER, 0.0, 0.5, 0.0) == pytest.approx(0.6)


@pytest.mark.parametrize(("mulched", "cut"), [(0.1, 0.95), (0.8, 0.6), (1.0, 0.5)])
def test_mulch_saves_five_percent_for_ten_covered(mulched: float, cut: float) -> None:
    """A full cover halves the loss."""
    covered = depletion_after(replace(LAYER, mulch_share=mulched), 0.0, 0.5, 0.0)
    assert covered == pytest.approx(cut * 0.6)


def test_water_comes_before_drying_and_the_rest_drains() -> None:
    """3 mm on 2 mm of want fill it; 1 mm goes on into the bale and is not there to dry."""
    assert depletion_after(LAYER, 2.0, 0.0, 3.0) == 0.0
    assert depletion_after(LAYER, 2.0, 0.5, 3.0) == pytest.approx(0.6)


def test_the_second_stage_loses_by_what_is_left() -> None:
    """At 7 of 10 mm, half way from 4 to 10, half of the full rate; at 4 the whole of it."""
    assert depletion_after(LAYER, 7.0, 0.5, 0.0) == pytest.approx(7.3)
    assert depletion_after(LAYER, 4.0, 0.5, 0.0) == pytest.approx(4.6)


def test_a_dry_top_gives_nothing_more() -> None:
    """At the end of stage 2 the loss is nothing, and never more than what is left."""
    assert depletion_after(LAYER, 10.0, 1.0, 0.0) == 10.0
    assert depletion_after(LAYER, 0.0, 30.0, 0.0) == 10.0


@pytest.mark.parametrize(
    ("capacity", "wilting", "depth_m", "named"),
    [(0.2, 0.21, 0.1, "wilting"), (1.1, 0.2, 0.1, "capacity"), (0.5, 0.2, 0.6, "depth_m")],
)
def test_what_lies_outside_is_refused_by_name(
    capacity: float, wilting: float, depth_m: float, named: str
) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        total_evaporable_mm(capacity, wilting, depth_m)


def hours(count: int, et_mm: float = 0.5, rain_mm: float = 0.0) -> list[SurfaceHour]:
    return [SurfaceHour(START + HOUR * index, et_mm, rain_mm) for index in range(count)]


def test_the_first_stage_ends_when_its_water_is_used_up() -> None:
    """0.6 mm an hour: 4 mm are gone after six hours and forty minutes."""
    walked = dry_down(hours(24), WALKED, START, 0.0)
    assert walked.dry_at is not None
    assert (walked.dry_at - START) / HOUR == pytest.approx(4.0 / 0.6, abs=1e-6)


def test_the_walk_is_the_step_repeated() -> None:
    """Hour by hour the same depletion."""
    depletion_mm = 0.0
    for _ in range(30):
        depletion_mm = depletion_after(WALKED, depletion_mm, 0.5, 0.0)
    assert dry_down(hours(30), WALKED, START, 0.0).depletion_mm == pytest.approx(depletion_mm)


def test_reaching_the_dry_point_is_not_yet_dry() -> None:
    """Just at 4 mm the top is still moist; a hair more and it is dry."""
    exactly = dry_down(hours(4, et_mm=1.0 / 1.2), WALKED, START, 0.0)
    assert exactly.depletion_mm == pytest.approx(4.0)
    assert dry_down(hours(1, et_mm=0.01), WALKED, START, 3.9).dry_at is None
    assert dry_down(hours(1, et_mm=0.01), WALKED, START, 3.995).dry_at is not None


def test_rain_puts_off_the_drying() -> None:
    """Three millimetres in the third hour."""
    showers = hours(24)
    showers[2] = replace(showers[2], rain_mm=3.0)
    dry, wet = dry_down(hours(24), WALKED, START, 0.0), dry_down(showers, WALKED, START, 0.0)
    assert dry.dry_at is not None
    assert wet.dry_at is not None
    assert wet.dry_at > dry.dry_at
    # Only what there was room for stays: 1.2 mm had gone.
    assert wet.depletion_mm == dry_down(hours(22), WALKED, START, 0.0).depletion_mm


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
    walked = dry_down(holed, WALKED, START, 0.0)
    assert walked.known_until == START + 3 * HOUR
    assert walked.dry_at is None


def test_a_start_before_the_first_hour_knows_nothing() -> None:
    """The hours between are absent."""
    walked = dry_down(hours(24), WALKED, START - HOUR, 0.0)
    assert walked.known_until == START - HOUR
    assert walked.depletion_mm == 0.0


def test_the_walk_begins_and_ends_within_an_hour() -> None:
    """Half an hour at either end counts half."""
    walked = dry_down(hours(24), WALKED, START + HOUR / 2, 0.0, until=START + 3 * HOUR + HOUR / 2)
    assert walked.known_until == START + 3 * HOUR + HOUR / 2
    assert walked.depletion_mm == pytest.approx(3 * 0.6)


def test_a_top_that_is_already_dry_is_dry_now() -> None:
    """Not at the end of the hour."""
    assert dry_down(hours(2), WALKED, START, 6.0).dry_at == START


def test_a_walk_that_ends_where_it_begins_finds_nothing() -> None:
    """Not even of a top that is dry there; what it lacked it lacks."""
    walked = dry_down(hours(2), WALKED, START, 6.0, until=START)
    assert (walked.dry_at, walked.known_until, walked.depletion_mm) == (None, START, 6.0)


def test_a_tended_top_is_filled_each_time_it_dries() -> None:
    """Each filling puts back what has gone."""
    walked = dry_down(hours(24), WALKED, START, 0.0, refill_until=START + 24 * HOUR)
    assert walked.refills == 3
    # Each time at the end of the seventh hour, 0.2 mm past dry.
    assert walked.refilled_mm == pytest.approx(3 * 4.2)


def test_filling_ends_when_it_is_told_to() -> None:
    """It dries after 6:40 h, and again 6:40 h after the hour it was filled at the end of."""
    walked = dry_down(hours(24), WALKED, START, 0.0, refill_until=START + 13 * HOUR)
    assert walked.refills == 1
    assert walked.depletion_mm > WALKED.dry_at_mm


def test_an_end_on_the_hour_stops_there() -> None:
    """The hour that begins at the end is not begun."""
    walked = dry_down(hours(24), WALKED, START, 0.0, until=START + 3 * HOUR)
    assert walked.known_until == START + 3 * HOUR
    assert walked.depletion_mm == pytest.approx(3 * 0.6)


def test_an_hour_takes_no_more_than_is_left() -> None:
    """A thin layer is used up within the hour and then gives nothing."""
    walked = dry_down(hours(3, et_mm=30.0), WALKED, START, 0.0)
    assert walked.depletion_mm == WALKED.total_mm


def test_a_deeper_layer_of_mix_holds_more() -> None:
    """In proportion to its depth: 19 mm in 4 cm."""
    assert potting_mix_layer(4.0).total_mm == pytest.approx(19.0)
    assert potting_mix_layer(5.0).total_mm == pytest.approx(5.0 / 4.0 * 19.0)
    assert potting_mix_layer(5.0).ready_mm == pytest.approx(10.0)


def test_a_seed_bed_is_dry_before_a_rooted_layer() -> None:
    """Its 2 cm count as dry at the end of the first stage."""
    assert seed_bed_layer().dry_at_mm == seed_bed_layer().ready_mm == pytest.approx(4.0)
    assert seed_bed_layer().dry_at_mm < potting_mix_layer(3.0).dry_at_mm


def test_a_layer_that_is_none_or_a_bed_dries_like_the_thinnest_and_the_thickest() -> None:
    """A grower may spread none at all, or 30 cm."""
    assert potting_mix_layer(0.0) == potting_mix_layer(1.0)
    assert potting_mix_layer(30.0) == potting_mix_layer(15.0)
    assert potting_mix_layer(1.0) != potting_mix_layer(1.1)


def test_mulch_is_handed_on() -> None:
    """To either layer."""
    assert potting_mix_layer(4.0, 0.8).mulch_share == 0.8
    assert seed_bed_layer(0.3).mulch_share == 0.3
