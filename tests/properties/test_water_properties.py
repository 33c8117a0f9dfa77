"""Whatever weather and garden: no water is negative or lost, physics is monotone, all is finite."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from strawbell.agronomy.evaporation import (
    FAO_56_HOURLY,
    RadiationFrom,
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
    SurfaceState,
    Watering,
    dry_down,
    step,
    surface_outlook,
    surface_weather,
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
        exposed_share=draw(st.floats(0.05, 1.0)),
        mulch_share=draw(share),
        basal_coefficient=draw(st.floats(0.0, 1.1)),
        dry_share=draw(st.floats(0.0, 0.9)),
    )


@st.composite
def days(draw: st.DrawFn) -> dict[str, float]:
    low, high = sorted((draw(air_c), draw(air_c)))
    return {"low_c": low, "high_c": high}


surface_hours = st.lists(st.tuples(et_mm, rain_mm | st.just(0.0)), min_size=1, max_size=60).map(
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
def test_any_forecast_has_an_item_for_every_hour(
    hours: list[Hour], at: float, east: float, height: float | None
) -> None:
    """Known and finite and not negative, or unknown; never anything else."""
    items = reference_et(hours, Place(at, east, "UTC", height), 10.0)
    assert [item.starts_at for item in items] == [hour.starts_at for hour in hours]
    for item in items:
        assert (item.mm is None) == (item.method is RadiationFrom.UNKNOWN)
        assert item.mm is None or (math.isfinite(item.mm) and item.mm >= 0.0)


@given(layers(), share, et_mm, rain_mm, rain_mm)
def test_one_step_neither_makes_nor_loses_water(
    layer: SurfaceLayer, emptied: float, et: float, rain: float, watering: float
) -> None:
    """depletion + rain + watering = before + lost + drained, to 1e-9, and nothing negative."""
    before = SurfaceState(START, emptied * layer.total_mm)
    taken = step(layer, before, et, rain, watering)
    after = taken.state.depletion_mm
    assert 0.0 <= after <= layer.total_mm
    assert taken.evaporation_mm >= 0.0
    assert taken.drained_mm >= 0.0
    assert 0.0 <= taken.reduction <= 1.0
    change = taken.evaporation_mm + taken.drained_mm - rain - watering
    assert after - before.depletion_mm == pytest.approx(change, abs=CLOSED)


@given(
    layers(),
    share,
    surface_hours,
    st.lists(st.tuples(st.floats(0.0, 70.0), st.none() | rain_mm), max_size=4),
    st.none() | st.floats(0.0, 60.0),
)
def test_a_walk_neither_makes_nor_loses_water(
    layer: SurfaceLayer,
    emptied: float,
    hours: list[SurfaceHour],
    given_water: list[tuple[float, float | None]],
    tended_h: float | None,
) -> None:
    """depletion = start + lost - gained - refilled, to 1e-9."""
    start = SurfaceState(START, emptied * layer.total_mm)
    waterings = [Watering(START + HOUR * at, mm) for at, mm in given_water]
    tended = None if tended_h is None else START + HOUR * tended_h
    walked = dry_down(hours, layer, start, waterings, refill_until=tended)
    assert 0.0 <= walked.depletion_mm <= layer.total_mm
    assert min(walked.lost_mm, walked.gained_mm, walked.refilled_mm) >= 0.0
    balance = start.depletion_mm + walked.lost_mm - walked.gained_mm - walked.refilled_mm
    assert walked.depletion_mm == pytest.approx(balance, abs=CLOSED)
    if walked.dry_at is not None:
        assert START <= walked.dry_at <= walked.known_until


@given(layers(), share, surface_hours)
def test_a_walk_is_the_steps_one_by_one(
    layer: SurfaceLayer, emptied: float, hours: list[SurfaceHour]
) -> None:
    """The quick loop and the plain step agree to 1e-9."""
    state = SurfaceState(START, emptied * layer.total_mm)
    walked = dry_down(hours, layer, state)
    for hour in hours:
        assert hour.et_mm is not None
        assert hour.rain_mm is not None
        state = step(layer, state, hour.et_mm, hour.rain_mm).state
    assert walked.depletion_mm == pytest.approx(state.depletion_mm, abs=CLOSED)


@given(layers(), share, surface_hours, st.integers(0, 59), rain_mm)
def test_more_rain_never_dries_sooner(
    layer: SurfaceLayer, emptied: float, hours: list[SurfaceHour], index: int, more: float
) -> None:
    """A shower anywhere on the way leaves the top as wet or wetter at every later moment."""
    start = SurfaceState(START, emptied * layer.total_mm)
    index %= len(hours)
    old = hours[index]
    assert old.rain_mm is not None
    wetter = [*hours[:index], SurfaceHour(old.starts_at, old.et_mm, old.rain_mm + more),
              *hours[index + 1 :]]  # fmt: skip
    dry, wet = dry_down(hours, layer, start), dry_down(wetter, layer, start)
    # An explicit step of an hour may overshoot where a thin layer is used up within it.
    hourly_most = max(hour.et_mm or 0.0 for hour in hours) * 1.2 / layer.exposed_share
    assume(hourly_most <= layer.total_mm - layer.ready_mm)
    assert wet.depletion_mm <= dry.depletion_mm + CLOSED
    if wet.dry_at is not None:
        assert dry.dry_at is not None
        assert wet.dry_at >= dry.dry_at


@given(layers(), surface_hours, st.floats(0.0, 1.0))
def test_mulch_never_dries_the_top_sooner(
    layer: SurfaceLayer, hours: list[SurfaceHour], emptied: float
) -> None:
    """The same weather under half a cover more."""
    hourly_most = max(hour.et_mm or 0.0 for hour in hours) * 1.2 / layer.exposed_share
    assume(hourly_most <= layer.total_mm - layer.ready_mm)
    start = SurfaceState(START, emptied * layer.total_mm)
    bare = SurfaceLayer(
        layer.total_mm, layer.ready_mm, layer.exposed_share, 0.0, layer.basal_coefficient
    )
    mulched = SurfaceLayer(
        layer.total_mm, layer.ready_mm, layer.exposed_share, 0.8, layer.basal_coefficient
    )
    assert dry_down(hours, mulched, start).depletion_mm <= (
        dry_down(hours, bare, start).depletion_mm + CLOSED
    )


@given(forecast_hours, layers(), st.booleans(), st.floats(0.05, 5.0))
def test_an_outlook_is_sound_or_absent(
    hours: list[Hour], layer: SurfaceLayer, filled: bool, area: float
) -> None:
    """From any forecast: none, or litres and times a grower can follow."""
    weather = surface_weather(hours, Place(47.0, 8.0, "UTC"), 10.0)
    waterings = (Watering(START),) if filled else ()
    found = surface_outlook(weather, layer, area, START, waterings)
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
