"""Claims about where the sun stands."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from math import pi, sin

import pytest

from strawbell.agronomy.evaporation import solar_angle, solar_day, sun_height_sine
from support.sunlight import extraterrestrial

HOUR = timedelta(hours=1)
NEW_YEAR = datetime(2027, 1, 1, tzinfo=UTC)


def above_in_a_day(latitude: float, day_of_year: int) -> float:
    """Return FAO-56, equation 21, written out: the radiation of a whole day [MJ/m2]."""
    sun = solar_day(latitude, day_of_year)
    angles = sun.sunset_rad * sun.sine_part + sun.cosine_part * sin(sun.sunset_rad)
    return 24.0 * 60.0 / pi * 0.0820 * sun.distance * angles


def sum_of_hours(latitude: float, longitude: float, on: datetime) -> float:
    """Return the 24 hours of the sundial's day, from its midnight."""
    midnight = on - timedelta(hours=longitude / 15.0)
    return sum(extraterrestrial(latitude, longitude, midnight + HOUR * hour) for hour in range(24))


@pytest.mark.parametrize("latitude", [-66.0, -33.9, 0.0, 47.05, 64.0, 66.0, 69.6])
@pytest.mark.parametrize("longitude", [-157.8, 0.0, 8.31, 151.2])
@pytest.mark.parametrize("month", [1, 3, 6, 9, 12])
def test_the_hours_of_a_day_add_up_to_the_day(
    latitude: float, longitude: float, month: int
) -> None:
    """Hourly and daily integrals are one, in either hemisphere and past the polar circles."""
    on = datetime(2027, month, 21, tzinfo=UTC)
    day = on.timetuple().tm_yday
    # At the edge of the sundial's day an hour belongs to a neighbour with another declination.
    assert sum_of_hours(latitude, longitude, on) == pytest.approx(
        above_in_a_day(latitude, day), rel=0.01, abs=0.05
    )


def test_the_polar_night_has_no_sun_and_the_polar_day_no_night() -> None:
    """Beyond the polar circle the sunset angle is held at 0 and at half a turn."""
    assert solar_day(70.0, 355).sunset_rad == 0.0
    assert solar_day(70.0, 172).sunset_rad == pi
    assert all(
        extraterrestrial(70.0, 20.0, datetime(2027, 12, 21, hour, tzinfo=UTC)) == 0.0
        and extraterrestrial(70.0, 20.0, datetime(2027, 6, 21, hour, tzinfo=UTC)) > 0.0
        for hour in range(24)
    )


def test_the_poles_are_no_exception() -> None:
    """At 90 degrees the tangent has no end, the result has."""
    assert solar_day(90.0, 172).sunset_rad == pi
    assert solar_day(-90.0, 172).sunset_rad == 0.0


def test_the_seasons_are_turned_round_in_the_south() -> None:
    """December is summer at 35 degrees south."""
    noon = datetime(2027, 12, 21, 12, tzinfo=UTC)
    assert extraterrestrial(-35.0, 0.0, noon) > 1.8 * extraterrestrial(35.0, 0.0, noon)


def test_the_zone_of_the_clock_does_not_matter() -> None:
    """The same moment gives the same sun, whatever offset it is written with."""
    utc = datetime(2027, 7, 1, 3, tzinfo=UTC)
    local = utc.astimezone(timezone(timedelta(hours=-9)))
    assert extraterrestrial(61.2, -149.9, utc) == extraterrestrial(61.2, -149.9, local)


def test_the_sun_stands_highest_at_noon_of_the_sundial() -> None:
    """At 0 degrees in mid-April clock and sundial agree to a minute."""
    sun = solar_day(50.0, 105)
    noon = solar_angle(datetime(2027, 4, 15, 11, 30, tzinfo=UTC), 0.0, sun)
    assert noon == pytest.approx(0.0, abs=0.01)
    assert sun_height_sine(sun, noon) > sun_height_sine(sun, noon + 0.3)


@pytest.mark.parametrize(
    ("named", "call"),
    [
        ("latitude_deg", lambda: solar_day(90.1, 1)),
        ("day_of_year", lambda: solar_day(0.0, 0)),
        ("day_of_year", lambda: solar_day(0.0, 367)),
    ],
)  # fmt: skip
def test_what_lies_outside_is_refused_by_name(named: str, call: Callable[[], object]) -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match=named):
        call()
