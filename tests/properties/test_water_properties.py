"""Whatever weather and garden: no water is negative or lost, physics is monotone, all is finite."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from strawbell.agronomy.evaporation import (
    FAO_56_HOURLY,
    hargreaves_et,
    hourly_reference_et,
    psychrometric_constant,
    reference_et,
    saturation,
)
from strawbell.agronomy.heat_index import heat_index_c
from strawbell.agronomy.surface import (
    SurfaceHour,
    SurfaceLayer,
    depletion_after,
    dry_down,
    surface_hours,
    surface_outlook,
)
from strawbell.model.forecast import Hour
from strawbell.model.garden import Place
from support.sunlight import extraterrestrial

START = datetime(2027, 7, 5, 6, tzinfo=UTC)
HOUR = timedelta(hours=1)
CLOSED = 1e-9

air_c = st.floats(-90.0, 60.0)
growing_air_c = st.floats(0.0, 45.0)
wind = st.floats(0.0, 75.0)
moving_air = st.floats(0.5, 75.0)
share = st.floats(0.0, 1.0)
latitude = st.floats(-90.0, 90.0)
longitude = st.floats(-180.0, 180.0)
elevation = st.floats(-430.0, 9000.0)
clearness = st.floats(0.3, 1.0)
vapour = st.floats(0.0, 20.0)
moments = st.datetimes(
    datetime(2020, 1, 1), datetime(2040, 1, 1), timezones=st.just(UTC)
)  # fmt: skip
rain_mm = st.floats(0.0, 60.0)
et_mm = st.floats(0.0, 2.0)


@st.composite
def layers(draw: st.DrawFn) -> SurfaceLayer:
    total = draw(st.floats(0.5, 60.0))
    return SurfaceLayer(
        total_mm=total,
        ready_mm=total * draw(st.floats(0.0, 0.95)),
        mulch_share=draw(share),
        dry_share=draw(st.floats(0.0, 0.9)),
    )


@st.composite
def days(draw: st.DrawFn) -> dict[str, float]:
    low, high = sorted((draw(air_c), draw(air_c)))
    return {"low_c": low, "high_c": high}


top_hours = st.lists(st.tuples(et_mm, rain_mm | st.just(0.0)), min_size=1, max_size=60).map(
    lambda pairs: [
        SurfaceHour(START + HOUR * index, et, rain) for index, (et, rain) in enumerate(pairs)
    ]
)


def or_missing(values: st.SearchStrategy[float]) -> st.SearchStrategy[float | None]:
    return st.none() | values | st.sampled_from([math.nan, math.inf, -1e9, 1e9])


forecast_hours = st.lists(
    st.builds(
        Hour,
        starts_at=st.just(START),
        temperature_c=or_missing(air_c),
        rain_mm=or_missing(rain_mm),
        relative_humidity_percent=or_missing(st.floats(0.0, 100.0)),
        dew_point_c=or_missing(air_c),
        wind_m_s=or_missing(wind),
        radiation_w_m2=or_missing(st.floats(0.0, 1500.0)),
        cloud_percent=or_missing(st.floats(0.0, 100.0)),
    ),
    max_size=40,
).map(
    lambda hours: [
        Hour(
            START + HOUR * index,
            hour.temperature_c,
            hour.rain_mm,
            None,
            hour.relative_humidity_percent,
            hour.dew_point_c,
            hour.wind_m_s,
            hour.radiation_w_m2,
            hour.cloud_percent,
        )
        for index, hour in enumerate(hours)
    ]
)


def an_hour(
    warm: float, vapour_kpa: float, wind_m_s: float, radiation: float, clear: float, height: float
) -> float:
    gamma = psychrometric_constant(height)
    return hourly_reference_et(warm, vapour_kpa, wind_m_s, radiation, clear, gamma, FAO_56_HOURLY)


@given(air_c, vapour, wind, st.floats(0.0, 5.5), clearness, elevation)
def test_an_hour_in_range_has_a_finite_answer(
    warm: float, vapour_kpa: float, wind_m_s: float, radiation: float, clear: float, height: float
) -> None:
    """At any height."""
    assert math.isfinite(an_hour(warm, vapour_kpa, wind_m_s, radiation, clear, height))


@given(growing_air_c, share, share, moving_air, st.floats(0.0, 4.0), clearness)
def test_drier_air_never_takes_less(
    warm: float, one: float, other: float, wind_m_s: float, radiation: float, clear: float
) -> None:
    """In moving air under a grey sky; a clear one may take more than the deficit gives."""
    saturated = saturation(warm)
    damp, dry = max(one, other) * saturated, min(one, other) * saturated
    assume(damp - dry > 0.05 * saturated)
    by_damp = an_hour(warm, damp, wind_m_s, radiation, 0.3, 0.0)
    by_dry = an_hour(warm, dry, wind_m_s, radiation, 0.3, 0.0)
    assert by_dry >= by_damp - CLOSED
    assert math.isfinite(an_hour(warm, dry, wind_m_s, radiation, clear, 0.0))


@given(growing_air_c, st.floats(0.0, 10.0), st.floats(0.2, 0.95), moving_air, st.floats(1.0, 4.0))
def test_hotter_air_over_the_same_vapour_never_takes_less(
    warm: float, rise: float, humid: float, wind_m_s: float, radiation: float
) -> None:
    """In the sun and in moving air, with the vapour as it was.

    Without wind and in faint sun the warmth that hot ground sends to the sky outweighs it.
    """
    vapour_kpa = humid * saturation(warm)
    cooler = an_hour(warm, vapour_kpa, wind_m_s, radiation, 0.9, 0.0)
    hotter = an_hour(warm + rise, vapour_kpa, wind_m_s, radiation, 0.9, 0.0)
    assert hotter >= cooler - CLOSED


@given(st.floats(20.0, 45.0), st.floats(0.0, 10.0), st.floats(0.0, 10.0), st.floats(0.0, 2.5))
def test_more_wind_in_dry_air_never_takes_less(
    warm: float, calm: float, more: float, radiation: float
) -> None:
    """At 30 percent humidity; in damp air wind may cool the leaf more than it dries it."""
    vapour_kpa = 0.3 * saturation(warm)
    still = an_hour(warm, vapour_kpa, calm, radiation, 0.9, 0.0)
    windy = an_hour(warm, vapour_kpa, calm + more, radiation, 0.9, 0.0)
    assert windy >= still - CLOSED


@given(
    growing_air_c, st.floats(0.0, 1.0), wind, st.floats(0.0, 4.0), st.floats(0.0, 1.5), elevation
)
def test_more_sun_never_takes_less(
    warm: float, humid: float, wind_m_s: float, radiation: float, more: float, height: float
) -> None:
    """At the same clearness."""
    vapour_kpa = humid * saturation(warm)
    dull = an_hour(warm, vapour_kpa, wind_m_s, radiation, 0.7, height)
    bright = an_hour(warm, vapour_kpa, wind_m_s, radiation + more, 0.7, height)
    assert bright >= dull - CLOSED


@given(days(), st.floats(0.0, 50.0))
def test_hargreaves_is_finite_and_never_negative(day: dict[str, float], above: float) -> None:
    """Whatever the day."""
    assert 0.0 <= hargreaves_et(**day, extraterrestrial_mj_m2=above) < 50.0


@given(latitude, longitude, moments)
def test_the_sun_never_takes_away(at: float, east: float, moment: datetime) -> None:
    """No hour has less than none, none more than the sun gives."""
    assert 0.0 <= extraterrestrial(at, east, moment) <= 5.2


@given(forecast_hours, latitude, longitude, st.none() | elevation)
def test_any_forecast_has_an_amount_for_every_hour(
    hours: list[Hour], at: float, east: float, height: float | None
) -> None:
    """Known and finite and not negative, or unknown; never anything else."""
    amounts = reference_et(hours, Place(at, east, "UTC", height), 10.0)
    assert len(amounts) == len(hours)
    assert all(mm is None or (math.isfinite(mm) and mm >= 0.0) for mm in amounts)


@given(layers(), share, et_mm, rain_mm)
def test_one_step_leaves_no_more_than_full_and_no_less_than_empty(
    layer: SurfaceLayer, emptied: float, et: float, water: float
) -> None:
    """Water never leaves it drier, nor the air wetter."""
    before = emptied * layer.total_mm
    after = depletion_after(layer, before, et, water)
    assert 0.0 <= after <= layer.total_mm
    assert depletion_after(layer, before, et, 0.0) >= before
    assert depletion_after(layer, before, 0.0, water) == max(0.0, before - water)


@given(layers(), share, top_hours, st.floats(0.0, 60.0))
def test_a_walk_ends_within_its_layer_and_its_time(
    layer: SurfaceLayer, emptied: float, hours: list[SurfaceHour], tended_h: float
) -> None:
    """However often it is filled up, and each time with no more than it holds."""
    tended = START + HOUR * tended_h
    walked = dry_down(hours, layer, START, emptied * layer.total_mm, refill_until=tended)
    assert 0.0 <= walked.depletion_mm <= layer.total_mm
    assert 0.0 <= walked.refilled_mm <= walked.refills * layer.total_mm + CLOSED
    if walked.dry_at is not None:
        assert START <= walked.dry_at <= walked.known_until


@given(layers(), share, top_hours)
def test_a_walk_is_the_steps_one_by_one(
    layer: SurfaceLayer, emptied: float, hours: list[SurfaceHour]
) -> None:
    """To 1e-9."""
    depletion_mm = emptied * layer.total_mm
    walked = dry_down(hours, layer, START, depletion_mm)
    for hour in hours:
        assert hour.et_mm is not None
        assert hour.rain_mm is not None
        depletion_mm = depletion_after(layer, depletion_mm, hour.et_mm, hour.rain_mm)
    assert walked.depletion_mm == pytest.approx(depletion_mm, abs=CLOSED)


@given(layers(), share, top_hours, st.integers(0, 59), rain_mm)
def test_more_rain_never_dries_sooner(
    layer: SurfaceLayer, emptied: float, hours: list[SurfaceHour], index: int, more: float
) -> None:
    """A shower anywhere on the way leaves the top as wet or wetter at every later moment."""
    lacks = emptied * layer.total_mm
    index %= len(hours)
    old = hours[index]
    assert old.rain_mm is not None
    wetter = [*hours[:index], SurfaceHour(old.starts_at, old.et_mm, old.rain_mm + more),
              *hours[index + 1 :]]  # fmt: skip
    dry, wet = dry_down(hours, layer, START, lacks), dry_down(wetter, layer, START, lacks)
    # An explicit step of an hour may overshoot where a thin layer is used up within it.
    hourly_most = max(hour.et_mm or 0.0 for hour in hours) * 1.2
    assume(hourly_most <= layer.total_mm - layer.ready_mm)
    assert wet.depletion_mm <= dry.depletion_mm + CLOSED
    if wet.dry_at is not None:
        assert dry.dry_at is not None
        assert wet.dry_at >= dry.dry_at


@given(layers(), top_hours, st.floats(0.0, 1.0))
def test_mulch_never_dries_the_top_sooner(
    layer: SurfaceLayer, hours: list[SurfaceHour], emptied: float
) -> None:
    """The same weather under half a cover more."""
    hourly_most = max(hour.et_mm or 0.0 for hour in hours) * 1.2
    assume(hourly_most <= layer.total_mm - layer.ready_mm)
    lacks = emptied * layer.total_mm
    bare, mulched = (SurfaceLayer(layer.total_mm, layer.ready_mm, cover) for cover in (0.0, 0.8))
    assert dry_down(hours, mulched, START, lacks).depletion_mm <= (
        dry_down(hours, bare, START, lacks).depletion_mm + CLOSED
    )


@given(forecast_hours, layers(), st.booleans(), st.floats(0.05, 5.0))
def test_an_outlook_is_sound_or_absent(
    hours: list[Hour], layer: SurfaceLayer, filled: bool, area: float
) -> None:
    """From any forecast: none, or litres and times a grower can follow."""
    above = surface_hours(hours, Place(47.0, 8.0, "UTC"), 10.0)
    found = surface_outlook(above, layer, area, START, START if filled else None)
    if found is not None:
        assert 1 <= found.times_a_day <= 3
        assert 0.0 <= found.litres_per_bale < area * layer.total_mm * 24.0
        assert 0.0 <= found.et_mm_today < 60.0
        assert found.dry_at is None or found.dry_at >= START


@given(st.floats(10.0, 50.0), st.floats(0.0, 100.0))
def test_the_heat_index_is_finite_or_refused_by_name(warm: float, humid: float) -> None:
    """Never a number from where the equation runs away."""
    vapour_kpa = saturation(warm) * humid / 100.0
    if vapour_kpa > saturation(35.0):
        with pytest.raises(ValueError, match="relative_humidity_percent"):
            heat_index_c(warm, humid)
    else:
        assert 0.0 < heat_index_c(warm, humid) < 90.0


@given(st.floats(27.0, 43.0), st.floats(0.0, 2.0), st.floats(40.0, 60.0))
def test_hotter_air_never_feels_cooler(warm: float, rise: float, humid: float) -> None:
    """Within the printed chart, past the change of formula at 80 F."""
    assert heat_index_c(warm + rise, humid) >= heat_index_c(warm, humid) - CLOSED
