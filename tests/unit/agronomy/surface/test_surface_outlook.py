"""Claims about what the top of a bale needs in the coming day."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import cos, fsum, pi

import pytest
from msgspec.structs import replace

from strawbell.agronomy.evaporation import reference_et
from strawbell.agronomy.surface import (
    LAST_WATERED_AFTER,
    LAST_WATERING,
    OUTLOOK,
    SurfaceLayer,
    SurfaceOutlook,
    potting_mix_layer,
    seed_bed_layer,
    surface_hours,
    surface_outlook,
    watered_at,
)
from strawbell.model.forecast import Hour
from strawbell.model.garden import Place

PLACE = Place(47.05, 8.31, "Europe/Zurich", 450.0)
MIDNIGHT = datetime(2027, 7, 5, tzinfo=UTC)
NOW = MIDNIGHT + timedelta(hours=4, minutes=30)
HOUR = timedelta(hours=1)
BALE_TOP_M2 = 0.405


def forecast(mean_c: float = 22.0, count: int = 72, cloud_percent: float = 20.0) -> list[Hour]:
    hours = []
    for index in range(count):
        at = MIDNIGHT + index * HOUR
        swing = cos((at.hour - 14) / 12.0 * pi)
        hours.append(
            Hour(
                starts_at=at,
                temperature_c=mean_c + 7.0 * swing,
                rain_mm=0.0,
                dew_point_c=mean_c - 10.0,
                wind_m_s=2.5,
                cloud_percent=cloud_percent,
            )
        )
    return hours


def outlook(
    hours: list[Hour],
    layer: SurfaceLayer | None = None,
    filled_at: datetime | None = None,
) -> SurfaceOutlook | None:
    above = surface_hours(hours, PLACE, 10.0)
    return surface_outlook(above, layer or seed_bed_layer(), BALE_TOP_M2, NOW, filled_at)


def known(
    hours: list[Hour],
    layer: SurfaceLayer | None = None,
    filled_at: datetime | None = None,
) -> SurfaceOutlook:
    found = outlook(hours, layer, filled_at)
    assert found is not None
    return found


WET = NOW
"""Filled up just now."""


def test_a_seed_bed_dries_on_a_hot_afternoon_and_wants_water_three_times() -> None:
    """Watered at sunrise, dry between noon and evening; watered then, dry again in the night."""
    hot = known(forecast(mean_c=27.0), filled_at=WET)
    assert hot.dry_at is not None
    assert 9 <= hot.dry_at.hour <= 16
    assert hot.dry_at.date() == NOW.date()
    assert hot.times_a_day == 3
    assert 1.0 < hot.litres_per_bale < 3.0


def test_a_top_that_would_dry_in_the_night_is_watered_once_more_by_day() -> None:
    """On a cool day a seed bed lasts until the evening, and not until the next morning."""
    cool = known(forecast(mean_c=6.0, cloud_percent=60.0), filled_at=WET)
    assert cool.dry_at is not None
    assert NOW + LAST_WATERING < cool.dry_at < NOW + OUTLOOK
    assert cool.times_a_day == 2


def test_waterings_lie_evenly_between_the_first_and_the_last() -> None:
    """Once in the morning; the last of several in the middle of the afternoon."""
    assert watered_at(NOW, 1) == (NOW,)
    assert watered_at(NOW, 2) == (NOW, NOW + LAST_WATERED_AFTER)
    assert watered_at(NOW, 3) == (NOW, NOW + LAST_WATERED_AFTER / 2, NOW + LAST_WATERED_AFTER)


def test_a_cool_cloudy_day_leaves_rooted_plants_alone() -> None:
    """Not dry within the day; once is enough when water is given."""
    cool = known(forecast(mean_c=14.0, cloud_percent=95.0), potting_mix_layer(4.0), WET)
    assert cool.dry_at is None or cool.dry_at - NOW > timedelta(hours=24)
    assert cool.times_a_day == 1


def test_hotter_days_dry_sooner() -> None:
    """Every five degrees the top is dry earlier."""
    times = [known(forecast(mean_c=mean), filled_at=WET).dry_at for mean in (17.0, 22.0, 27.0)]
    assert None not in times
    assert sorted(times, reverse=True) == times  # type: ignore[type-var]


def test_never_more_than_three_times_a_day() -> None:
    """A thin layer in great heat would dry more often than anybody can water."""
    thin = SurfaceLayer(total_mm=1.5, ready_mm=0.5, dry_share=0.0)
    scorched = known(forecast(mean_c=35.0), thin, WET)
    assert scorched.times_a_day == 3
    assert scorched.litres_per_bale * 3 > BALE_TOP_M2 * 0.5 * 3


def test_the_days_water_is_the_days_loss() -> None:
    """Litres times times make good what the day takes, 1.2 times the reference over the top."""
    day = known(forecast(), seed_bed_layer(), WET)
    loss_l = BALE_TOP_M2 * 1.2 * day.et_mm_today
    assert day.litres_per_bale * day.times_a_day == pytest.approx(loss_l, rel=0.15)


def test_evapotranspiration_today_is_that_of_the_coming_day() -> None:
    """24 hours from now on, hours at the ends in part."""
    hours = forecast()
    demand = reference_et(hours, PLACE, 10.0)
    whole = fsum(mm or 0.0 for mm in demand[5:28])
    parts = ((demand[4] or 0.0) + (demand[28] or 0.0)) / 2.0
    assert known(hours, filled_at=WET).et_mm_today == pytest.approx(whole + parts)


STILL = [replace(hour, temperature_c=0.0, dew_point_c=0.0) for hour in forecast()]
"""Days that take little."""


def test_a_top_of_which_nobody_knows_is_filled_from_as_dry_as_it_may_get() -> None:
    deep = SurfaceLayer(total_mm=60.0, ready_mm=40.0)
    assert known(STILL, deep).litres_per_bale == pytest.approx(deep.dry_at_mm * BALE_TOP_M2)
    assert known(STILL, deep, WET).litres_per_bale < 0.2 * deep.dry_at_mm * BALE_TOP_M2


def test_a_watering_is_where_the_walk_begins() -> None:
    """It filled the layer."""
    watered = known(STILL, filled_at=MIDNIGHT + 2 * HOUR)
    assert watered.dry_at is not None
    assert watered.dry_at > known(STILL).dry_at  # type: ignore[operator]


def test_a_watering_before_the_hours_says_nothing() -> None:
    """Nobody knows what happened in between."""
    assert known(STILL, filled_at=MIDNIGHT - timedelta(days=2)) == known(STILL)


def test_a_dry_top_is_dry_now_and_wants_filling_up() -> None:
    """All that is lacking, at once."""
    thin = SurfaceLayer(total_mm=9.0, ready_mm=0.0, dry_share=0.0)
    scorched = known(forecast(mean_c=40.0), thin, MIDNIGHT)
    assert scorched.dry_at == NOW


def test_rain_to_come_spares_the_watering() -> None:
    """A wet morning moves the drying to another day and the litres down."""
    wet = [
        replace(hour, rain_mm=2.0) if 6 <= index < 12 else hour
        for index, hour in enumerate(forecast())
    ]
    rained, dry = known(wet, filled_at=WET), known(forecast(), filled_at=WET)
    assert rained.dry_at is not None
    assert dry.dry_at is not None
    assert rained.dry_at > dry.dry_at
    assert rained.litres_per_bale * rained.times_a_day < dry.litres_per_bale * dry.times_a_day


@pytest.mark.parametrize(("last_index", "thin"), [(21, True), (22, True), (23, False)])
def test_a_forecast_of_less_than_eighteen_hours_is_too_thin(last_index: int, thin: bool) -> None:
    """From half past four: until 22:00 is short of it, until 23:00 is not."""
    found = outlook(forecast()[:last_index], filled_at=WET)
    assert (found is None) is thin


@pytest.mark.parametrize("name", ["rain_mm", "temperature_c"])
def test_without_rain_or_temperature_there_is_no_outlook(name: str) -> None:
    """Unknown is never dry; then the simple thresholds have to do."""
    assert outlook([replace(hour, **{name: None}) for hour in forecast()], filled_at=WET) is None


@pytest.mark.parametrize(("length", "bridged"), [(1, True), (3, True), (4, False)])
def test_a_short_gap_in_temperature_is_bridged_but_not_one_in_rain(
    length: int, bridged: bool
) -> None:
    """Up to three hours the neighbours stand in; a shower may hide in one hour."""
    holed, rainless = forecast(), forecast()
    for index in range(10, 10 + length):
        holed[index] = replace(holed[index], temperature_c=None)
        rainless[index] = replace(rainless[index], rain_mm=None)
    assert (outlook(holed, filled_at=WET) is not None) is bridged
    assert outlook(rainless, filled_at=WET) is None


@pytest.mark.parametrize("rain_mm", [-1.0, float("nan"), 501.0])
def test_rain_that_cannot_have_fallen_is_unknown(rain_mm: float) -> None:
    """A faulty hour is not a dry one."""
    faulty = forecast()
    faulty[10] = replace(faulty[10], rain_mm=rain_mm)
    assert outlook(faulty, filled_at=WET) is None


def test_a_gap_beside_absent_hours_is_not_bridged() -> None:
    """Two hours absent and one without temperature: nobody knows what was between."""
    hours = forecast()
    hours[10] = replace(hours[10], temperature_c=None)
    del hours[11:13]
    assert outlook(hours, filled_at=WET) is None
