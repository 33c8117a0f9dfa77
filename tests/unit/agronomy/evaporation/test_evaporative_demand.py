"""Claims about reading evapotranspiration off a forecast."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import cos, exp, fsum, pi

import pytest
from msgspec.structs import replace

from strawbell.agronomy.evaporation import daily_extraterrestrial, hargreaves_et, reference_et
from strawbell.model.forecast import Hour
from strawbell.model.garden import Place
from support.sunlight import extraterrestrial

PLACE = Place(47.05, 8.31, "Europe/Zurich", 450.0)
MIDNIGHT = datetime(2027, 7, 5, tzinfo=UTC)
NOON, NIGHT = 12, 24
CLEAR_SHARE = 0.7


def summer_hours(count: int = 72) -> list[Hour]:
    """Return fair summer days with everything a service can give."""
    hours = []
    for index in range(count):
        at = MIDNIGHT + timedelta(hours=index)
        swing = cos((at.hour - 14) / 12.0 * pi)
        above = extraterrestrial(PLACE.latitude, PLACE.longitude, at)
        hours.append(
            Hour(
                starts_at=at,
                temperature_c=22.0 + 7.0 * swing,
                rain_mm=0.0,
                relative_humidity_percent=55.0 - 20.0 * swing,
                dew_point_c=13.0,
                wind_m_s=2.5 + swing,
                radiation_w_m2=CLEAR_SHARE * above / 0.0036,
                cloud_percent=20.0,
            )
        )
    return hours


def without(*names: str) -> list[Hour]:
    return [replace(hour, **dict.fromkeys(names)) for hour in summer_hours()]


def total(amounts: list[float | None]) -> float:
    return fsum(mm for mm in amounts if mm is not None)


def test_a_full_forecast_is_computed_from_its_radiation() -> None:
    """Every hour known, none negative, about 5 to 7 mm a fair July day at 47 degrees."""
    items = reference_et(summer_hours(), PLACE, 10.0)
    assert all(mm is not None and mm >= 0.0 for mm in items)
    assert 5.0 < total(items) / 3.0 < 7.0


def test_a_place_of_unknown_height_has_the_air_of_sea_level() -> None:
    """101.3 kPa (FAO-56, equation 7), which hardly matters low down."""
    hours = summer_hours(24)
    unknown = reference_et(hours, replace(PLACE, elevation_m=None), 10.0)
    assert unknown == reference_et(hours, replace(PLACE, elevation_m=0.0), 10.0)
    assert total(unknown) == pytest.approx(total(reference_et(hours, PLACE, 10.0)), rel=0.02)


def test_clouds_stand_in_for_missing_radiation() -> None:
    """A fifth of cloud is a nearly clear sky."""
    items = reference_et(without("radiation_w_m2"), PLACE, 10.0)
    assert total(items) == pytest.approx(total(reference_et(summer_hours(), PLACE, 10.0)), rel=0.1)


def test_the_swing_of_the_day_stands_in_for_missing_clouds() -> None:
    """Fourteen degrees of swing is a fair day."""
    items = reference_et(without("radiation_w_m2", "cloud_percent"), PLACE, 10.0)
    assert total(items) == pytest.approx(total(reference_et(summer_hours(), PLACE, 10.0)), rel=0.2)


def test_relative_humidity_says_the_same_as_the_dew_point_that_goes_with_it() -> None:
    """FAO-56, equations 11 and 14: 100 percent times e0 of the dew point over that of the air."""

    def e0(temperature_c: float) -> float:
        return 0.6108 * exp(17.27 * temperature_c / (temperature_c + 237.3))

    moist = [
        replace(
            hour,
            dew_point_c=None,
            relative_humidity_percent=100.0 * e0(13.0) / e0(hour.temperature_c or 0.0),
        )
        for hour in summer_hours()
    ]
    by_share, by_dew = (reference_et(each, PLACE, 10.0) for each in (moist, summer_hours()))
    assert by_share == pytest.approx(by_dew, rel=1e-3)


@pytest.mark.parametrize("swing_c", [4.0, 9.0, 14.0])
def test_the_swing_of_a_day_gives_the_share_of_the_sun_by_its_root(swing_c: float) -> None:
    """FAO-56, equation 50: 0.16 times it inland, at most a clear sky's (equation 37)."""
    swung = [
        replace(hour, temperature_c=22.0 + (hour.temperature_c - 22.0) * swing_c / 14.0)
        for hour in without("radiation_w_m2", "cloud_percent")
        if hour.temperature_c is not None
    ]
    share = min(0.16 * swing_c**0.5, 0.75 + 2e-5 * PLACE.elevation_m)
    given = [
        replace(hour, radiation_w_m2=share * above / 0.0036)
        for hour in swung
        for above in (extraterrestrial(PLACE.latitude, PLACE.longitude, hour.starts_at),)
    ]
    by_swing, by_sun = (total(reference_et(each, PLACE, 10.0)) for each in (swung, given))
    assert by_swing == pytest.approx(by_sun, rel=0.01)


def test_temperatures_alone_leave_hargreaves() -> None:
    """The last resort comes within a quarter, needs no wind and no humidity."""
    bare = without(
        "radiation_w_m2",
        "cloud_percent",
        "dew_point_c",
        "relative_humidity_percent",
        "wind_m_s",
    )
    items = reference_et(bare, PLACE, 10.0)
    # By the sundial, which lies 33 minutes before UTC here, the second day is whole.
    day_mm = hargreaves_et(15.0, 29.0, daily_extraterrestrial(PLACE.latitude, 187))
    assert total(items[23:47]) == pytest.approx(day_mm, rel=0.03)
    assert total(items) == pytest.approx(total(reference_et(summer_hours(), PLACE, 10.0)), rel=0.25)


def test_the_night_low_stands_in_for_missing_humidity() -> None:
    """Equation 48: as air whose dew point is the day's lowest temperature, 15 degC."""
    moist = [replace(hour, dew_point_c=15.0) for hour in summer_hours()]
    dry = without("dew_point_c", "relative_humidity_percent")
    assert reference_et(dry, PLACE, 10.0) == pytest.approx(reference_et(moist, PLACE, 10.0))


def test_a_missing_wind_is_assumed() -> None:
    """2 m/s at 2 m, whatever height the service gives wind for."""
    items = reference_et(without("wind_m_s"), PLACE, 10.0)
    two = [replace(hour, wind_m_s=2.0) for hour in summer_hours()]
    assert total(items) == pytest.approx(total(reference_et(two, PLACE, 2.0)), rel=0.001)


def test_calm_air_is_stirred_a_little() -> None:
    """No wind counts as half a metre a second."""
    calm = [replace(hour, wind_m_s=0.0) for hour in summer_hours()]
    half = [replace(hour, wind_m_s=0.5) for hour in summer_hours()]
    assert total(reference_et(calm, PLACE, 2.0)) == pytest.approx(
        total(reference_et(half, PLACE, 2.0)), rel=0.001
    )


def test_an_hour_without_temperature_is_unknown_not_zero() -> None:
    """The others stay known."""
    hours = summer_hours()
    hours[NOON] = replace(hours[NOON], temperature_c=None)
    items = reference_et(hours, PLACE, 10.0)
    assert items[NOON] is None
    assert sum(mm is None for mm in items) == 1


@pytest.mark.parametrize(
    "changes",
    [
        {"wind_m_s": 468.7},
        {"temperature_c": 200.0},
        {"radiation_w_m2": -5.0},
        {"radiation_w_m2": float("nan")},
        {"dew_point_c": 99.0},
        {"cloud_percent": 120.0, "radiation_w_m2": None},
    ],
)
def test_what_no_instrument_can_show_counts_as_missing(changes: dict[str, float | None]) -> None:
    """A faulty value is left aside, and the hour is computed without it or not at all."""
    hours = summer_hours()
    missing = summer_hours()
    hours[NOON] = replace(hours[NOON], **changes)
    missing[NOON] = replace(missing[NOON], **dict.fromkeys(changes))
    assert reference_et(hours, PLACE, 10.0)[NOON] == reference_et(missing, PLACE, 10.0)[NOON]


def test_too_few_hours_for_a_swing_leave_it_unknown() -> None:
    """Seventeen known hours are no day, eighteen are."""
    thin = without("radiation_w_m2", "cloud_percent")
    assert all(mm is None for mm in reference_et(thin[6:23], PLACE, 10.0))
    assert all(mm is not None for mm in reference_et(thin[5:23], PLACE, 10.0))


def test_a_part_of_a_day_takes_the_swing_of_the_nearest_whole_one() -> None:
    """A forecast that begins in the afternoon still has a swing for the rest of that day."""
    late = without("radiation_w_m2", "cloud_percent")[16:]
    whole = reference_et(without("radiation_w_m2", "cloud_percent"), PLACE, 10.0)
    assert reference_et(late, PLACE, 10.0) == pytest.approx(whole[16:])


def test_no_humidity_and_no_day_is_unknown() -> None:
    """Radiation alone does not say how dry the air is."""
    dry = without("dew_point_c", "relative_humidity_percent")[10:14]
    assert reference_et(dry, PLACE, 10.0) == [None] * 4


def test_the_night_carries_the_clearness_of_the_afternoon() -> None:
    """A dull afternoon is followed by a night that loses less warmth."""
    humid = without("cloud_percent")
    humid = [replace(hour, dew_point_c=5.0) for hour in humid]
    dull = [
        replace(hour, radiation_w_m2=(hour.radiation_w_m2 or 0.0) * 0.4) for hour in humid
    ]  # fmt: skip
    clear_night = reference_et(humid, PLACE, 10.0)[NIGHT]
    dull_night = reference_et(dull, PLACE, 10.0)[NIGHT]
    assert clear_night is not None
    assert dull_night is not None
    assert dull_night > clear_night


def test_a_night_by_itself_assumes_a_clearness() -> None:
    """No sun in the list and no clouds: between humid and arid."""
    night = without("cloud_percent")[21:24]
    assert all(mm is not None for mm in reference_et(night, PLACE, 10.0))


@pytest.mark.parametrize("latitude", [-66.0, -33.9, 0.0, 66.0, 80.0])
@pytest.mark.parametrize("month", [6, 12])
def test_every_latitude_and_season_has_an_answer(latitude: float, month: int) -> None:
    """Polar day, polar night and the southern summer are computed alike."""
    start = datetime(2027, month, 20, tzinfo=UTC)
    hours = [
        Hour(start + timedelta(hours=index), 5.0 + (index % 24) / 4.0, dew_point_c=2.0)
        for index in range(48)
    ]
    items = reference_et(hours, Place(latitude, 20.0, "UTC"), 10.0)
    assert all(mm is not None and 0.0 <= mm < 1.5 for mm in items)


def test_gaps_and_nothing_at_all_are_allowed() -> None:
    """Every given hour has its amount, as if the others were there."""
    hours = summer_hours()
    gappy = [*hours[:10], *hours[30:]]
    whole = reference_et(hours, PLACE, 10.0)
    assert reference_et(gappy, PLACE, 10.0) == [*whole[:10], *whole[30:]]
    assert reference_et([], PLACE, 10.0) == []


@pytest.mark.parametrize(
    ("named", "place", "wind_height_m"),
    [
        ("latitude", Place(91.0, 8.0, "UTC"), 10.0),
        ("longitude", Place(47.0, 181.0, "UTC"), 10.0),
        ("elevation_m", Place(47.0, 8.0, "UTC", 9999.0), 10.0),
        ("height_m", PLACE, 0.1),
    ],
)
def test_a_place_outside_is_refused_by_name(named: str, place: Place, wind_height_m: float) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        reference_et(summer_hours(), place, wind_height_m)


def test_an_hour_without_its_offset_is_refused() -> None:
    """A bare clock time has no sun."""
    naive = [Hour(datetime(2027, 7, 5, 12), temperature_c=20.0)]
    with pytest.raises(ValueError, match="hours"):
        reference_et(naive, PLACE, 10.0)
