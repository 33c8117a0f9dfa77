"""Claims about walking the top of a bale through the hours."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.bale.drying import SurfaceHour, Watering, dry_down
from strawbell.agronomy.bale.surface import SurfaceLayer, SurfaceState, step

START = datetime(2027, 7, 5, 6, tzinfo=UTC)
HOUR = timedelta(hours=1)
LAYER = SurfaceLayer(total_mm=10.0, ready_mm=4.0, dry_share=0.0)
FULL = SurfaceState(START, 0.0)


def hours(count: int, et_mm: float = 0.5, rain_mm: float = 0.0) -> list[SurfaceHour]:
    return [SurfaceHour(START + HOUR * index, et_mm, rain_mm) for index in range(count)]


def test_the_first_stage_ends_when_its_water_is_used_up() -> None:
    """0.6 mm an hour: 4 mm are gone after six hours and forty minutes."""
    walked = dry_down(hours(24), LAYER, FULL)
    assert walked.dry_at is not None
    assert (walked.dry_at - START) / HOUR == pytest.approx(4.0 / 0.6, abs=1e-6)


def test_the_walk_is_the_step_repeated() -> None:
    """Hour by hour the same depletion."""
    state = FULL
    for taken in hours(30):
        assert taken.et_mm is not None
        state = step(LAYER, state, taken.et_mm).state
    assert dry_down(hours(30), LAYER, FULL).depletion_mm == pytest.approx(state.depletion_mm)


def test_reaching_the_dry_point_is_not_yet_dry() -> None:
    """Just at 4 mm the top is still moist; a hair more and it is dry."""
    exactly = dry_down(hours(4, et_mm=1.0 / 1.2), LAYER, FULL, largest=1.2)
    assert exactly.depletion_mm == pytest.approx(4.0)
    assert dry_down(hours(1, et_mm=0.01), LAYER, SurfaceState(START, 3.9)).dry_at is None
    assert dry_down(hours(1, et_mm=0.01), LAYER, SurfaceState(START, 3.995)).dry_at is not None


def test_rain_puts_off_the_drying() -> None:
    """Three millimetres in the third hour."""
    showers = hours(24)
    showers[2] = replace(showers[2], rain_mm=3.0)
    dry, wet = dry_down(hours(24), LAYER, FULL), dry_down(showers, LAYER, FULL)
    assert dry.dry_at is not None
    assert wet.dry_at is not None
    assert wet.dry_at > dry.dry_at
    # Only what there was room for stays: 1.2 mm had gone.
    assert wet.gained_mm == pytest.approx(1.2)


def test_a_recorded_watering_counts_and_an_unknown_amount_fills() -> None:
    """The hour it was given in; one before the start is over and done."""
    some = dry_down(hours(6), LAYER, FULL, [Watering(START + 3 * HOUR, 1.0)])
    full = dry_down(hours(6), LAYER, FULL, [Watering(START + 3 * HOUR)])
    early = dry_down(hours(6), LAYER, FULL, [Watering(START - HOUR)])
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
    walked = dry_down(holed, LAYER, FULL)
    assert walked.known_until == START + 3 * HOUR
    assert walked.dry_at is None


def test_a_start_before_the_first_hour_knows_nothing() -> None:
    """The hours between are absent."""
    walked = dry_down(hours(24), LAYER, SurfaceState(START - HOUR, 0.0))
    assert walked.known_until == START - HOUR
    assert walked.depletion_mm == 0.0


def test_the_walk_begins_and_ends_within_an_hour() -> None:
    """Half an hour at either end counts half."""
    start = SurfaceState(START + HOUR / 2, 0.0)
    walked = dry_down(hours(24), LAYER, start, until=START + 3 * HOUR + HOUR / 2)
    assert walked.known_until == START + 3 * HOUR + HOUR / 2
    assert walked.depletion_mm == pytest.approx(3 * 0.6)


def test_a_top_that_is_already_dry_is_dry_now() -> None:
    """Not at the end of the hour."""
    assert dry_down(hours(2), LAYER, SurfaceState(START, 6.0)).dry_at == START


def test_a_tended_top_is_filled_each_time_it_dries() -> None:
    """Each filling puts back what has gone."""
    walked = dry_down(hours(24), LAYER, FULL, refill_until=START + 24 * HOUR)
    assert walked.refills == 3
    assert walked.lost_mm == pytest.approx(walked.refilled_mm + walked.depletion_mm)


def test_filling_ends_when_it_is_told_to() -> None:
    """It dries after 6:40 h, and again 6:40 h after the hour it was filled at the end of."""
    walked = dry_down(hours(24), LAYER, FULL, refill_until=START + 13 * HOUR)
    assert walked.refills == 1
    assert walked.depletion_mm > LAYER.dry_at_mm


@pytest.mark.parametrize(
    ("named", "start", "waterings", "largest"),
    [
        ("depletion_mm", SurfaceState(START, 10.1), [], 1.2),
        ("mm", FULL, [Watering(START, -0.1)], 1.2),
        ("largest", FULL, [], 2.1),
    ],
)
def test_what_lies_outside_is_refused_by_name(
    named: str, start: SurfaceState, waterings: list[Watering], largest: float
) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        dry_down(hours(2), LAYER, start, waterings, largest)


def test_an_end_on_the_hour_stops_there() -> None:
    """The hour that begins at the end is not begun."""
    walked = dry_down(hours(24), LAYER, FULL, until=START + 3 * HOUR)
    assert walked.known_until == START + 3 * HOUR
    assert walked.depletion_mm == pytest.approx(3 * 0.6)


def test_an_hour_takes_no_more_than_is_left() -> None:
    """A thin layer is used up within the hour and then gives nothing."""
    walked = dry_down(hours(3, et_mm=30.0), LAYER, FULL)
    assert walked.depletion_mm == walked.lost_mm == LAYER.total_mm
