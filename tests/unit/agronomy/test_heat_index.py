"""Claims about the heat for the person in the garden."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from strawbell.agronomy.heat_index import (
    HeatAdvice,
    heat_advice,
    heat_index_c,
    heat_of_day,
)
from strawbell.model.forecast import Hour

MORNING = datetime(2027, 7, 5, 6, tzinfo=UTC)
HOUR = timedelta(hours=1)


def celsius(degrees_f: float) -> float:
    return (degrees_f - 32.0) / 1.8


@pytest.mark.parametrize(
    ("index_f", "expected"),
    [
        (90.9, HeatAdvice.NONE),
        (91.0, HeatAdvice.WORK_EARLY),
        (102.9, HeatAdvice.WORK_EARLY),
        (103.0, HeatAdvice.REST),
    ],
)
def test_work_moves_to_the_morning_from_91_and_rests_from_103(
    index_f: float, expected: HeatAdvice
) -> None:
    """Just below and at each limit."""
    assert heat_advice(celsius(index_f)) is expected


def hot_day() -> list[Hour]:
    temperatures = (22.0, 26.0, 30.0, 34.0, 36.0, 34.0, 30.0, 25.0)
    return [
        Hour(MORNING + index * HOUR, temperature_c=warm, relative_humidity_percent=50.0)
        for index, warm in enumerate(temperatures)
    ]


def test_the_hottest_hour_and_the_hours_to_leave_are_named() -> None:
    """36 degC at half humidity is dangerous; work is done before the first hot hour."""
    heat = heat_of_day(hot_day())
    assert heat is not None
    assert heat.at == MORNING + 4 * HOUR
    assert heat.advice is HeatAdvice.REST
    assert heat.from_hour == MORNING + 3 * HOUR
    assert heat.to_hour == MORNING + 6 * HOUR
    assert heat.complete


def test_a_mild_day_asks_for_nothing() -> None:
    """Hours colder than the formula's range count as no heat."""
    heat = heat_of_day(
        [Hour(MORNING, temperature_c=-5.0), Hour(MORNING + HOUR, 15.0, 0.0, None, 60.0)]
    )
    assert heat is not None
    assert heat.advice is HeatAdvice.NONE
    assert heat.from_hour is None
    assert heat.complete


def test_the_dew_point_stands_in_for_the_relative_humidity() -> None:
    """34 degC with a dew point of 22 degC is 50 percent."""
    by_dew = heat_of_day([Hour(MORNING, temperature_c=34.0, dew_point_c=22.1)])
    by_humidity = heat_of_day([Hour(MORNING, temperature_c=34.0, relative_humidity_percent=50.0)])
    assert by_dew is not None
    assert by_humidity is not None
    assert by_dew.highest_c == pytest.approx(by_humidity.highest_c, abs=0.1)


def test_hours_that_cannot_be_judged_are_left_out_and_said() -> None:
    """No temperature, no humidity, an impossible value."""
    broken = [
        Hour(MORNING),
        Hour(MORNING + HOUR, temperature_c=30.0),
        Hour(MORNING + 2 * HOUR, temperature_c=70.0, relative_humidity_percent=50.0),
        Hour(MORNING + 3 * HOUR, temperature_c=-99.0, relative_humidity_percent=50.0),
    ]
    assert heat_of_day(broken) is None
    heat = heat_of_day([*broken, Hour(MORNING + 4 * HOUR, 30.0, relative_humidity_percent=50.0)])
    assert heat is not None
    assert not heat.complete
    assert heat_of_day([]) is None


@pytest.mark.parametrize(
    ("named", "temperature_c", "humidity"),
    [
        ("temperature_c", 9.9, 50.0),
        ("temperature_c", 50.1, 10.0),
        ("temperature_c", float("nan"), 50.0),
        ("relative_humidity_percent", 30.0, -0.1),
        ("relative_humidity_percent", 30.0, 100.1),
        ("relative_humidity_percent", 45.0, 90.0),
    ],
)
def test_air_outside_the_equation_is_refused_by_name(
    named: str, temperature_c: float, humidity: float
) -> None:
    """More humid than any air measured is refused too: the equation runs away there."""
    with pytest.raises(ValueError, match=named):
        heat_index_c(temperature_c, humidity)


@pytest.mark.parametrize(("temperature_c", "humidity"), [(10.0, 0.0), (50.0, 0.0), (35.0, 100.0)])
def test_either_end_of_the_range_is_answered(temperature_c: float, humidity: float) -> None:
    """The range is closed."""
    assert 0.0 < heat_index_c(temperature_c, humidity) < 90.0


def test_an_index_that_is_none_is_refused_by_name() -> None:
    """The refusal names the argument."""
    with pytest.raises(ValueError, match="index_c"):
        heat_advice(101.0)
    with pytest.raises(ValueError, match="index_c"):
        heat_advice(float("nan"))


def test_very_dry_and_very_humid_air_have_their_corrections() -> None:
    """Across the limits of 13 and 85 percent the index goes on without a jump, but bends."""
    dry = [heat_index_c(35.0, humidity) for humidity in (5.0, 12.99, 13.0)]
    humid = [heat_index_c(29.0, humidity) for humidity in (85.0, 85.01, 95.0)]
    assert dry[1] == pytest.approx(dry[2], abs=0.02)
    assert dry[0] < dry[1]
    assert humid[0] == pytest.approx(humid[1], abs=0.02)
    assert humid[2] - humid[1] > 2.0
