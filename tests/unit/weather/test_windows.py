"""Sums and extremes over a window, and what is known of it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from strawbell.model.forecast import Hour
from strawbell.weather.windows import (
    highest_chance,
    highest_temperature,
    lowest_temperature,
    rain_total,
    temperature_range,
)

START = datetime(2027, 4, 9, 4, tzinfo=UTC)
HOUR = timedelta(hours=1)


def hours(*rain: float | None, temperatures: tuple[float | None, ...] = ()) -> tuple[Hour, ...]:
    """Return hours from START on with the given rain and temperatures."""
    filled = temperatures or (10.0,) * len(rain)
    return tuple(
        Hour(START + HOUR * number, temperature_c=degrees, rain_mm=amount)
        for number, (amount, degrees) in enumerate(zip(rain, filled, strict=True))
    )


def test_rain_of_whole_hours_is_summed_exactly() -> None:
    """A hundred and twenty-seven times a tenth is 12.7, not a bit less."""
    many = hours(*[0.1] * 127)
    assert rain_total(many, START, START + HOUR * 127).value == 12.7


def test_an_hour_partly_inside_counts_with_its_share() -> None:
    """Half of the first and a quarter of the last hour."""
    begin, end = START + HOUR / 2, START + HOUR * 2.25
    total = rain_total(hours(4.0, 1.0, 8.0), begin, end)
    assert total.value == pytest.approx(2.0 + 1.0 + 2.0)
    assert total.complete


def test_a_window_inside_one_hour_takes_its_share_once() -> None:
    """A quarter of an hour of 4 mm is 1 mm."""
    quarter = rain_total(hours(4.0), START + HOUR / 4, START + HOUR / 2)
    assert quarter.value == pytest.approx(1.0)


def test_rain_that_is_unknown_is_not_dry() -> None:
    """The known part is given and marked incomplete; nothing known gives no figure."""
    partly = rain_total(hours(1.0, None, 2.0), START, START + HOUR * 3)
    assert (partly.value, partly.complete) == (3.0, False)
    assert rain_total(hours(None, None), START, START + HOUR * 2).value is None
    assert not rain_total((), START, START + HOUR).complete


def test_an_absent_hour_is_unknown_too() -> None:
    """A gap in the series makes the window incomplete."""
    series = hours(1.0, 1.0, 1.0)
    assert not rain_total((series[0], series[2]), START, START + HOUR * 3).complete


def test_a_temperature_before_the_moment_is_over() -> None:
    """The frost of the last full hour is past; that of the next one counts."""
    series = hours(0.0, 0.0, 0.0, temperatures=(-2.0, 1.0, 3.0))
    low = lowest_temperature(series, START + HOUR / 2, START + HOUR * 3)
    assert (low.value, low.at, low.complete) == (1.0, START + HOUR, True)


def test_the_end_of_a_window_is_not_in_it() -> None:
    """The instant at the end belongs to the next window."""
    series = hours(0.0, 0.0, 0.0, temperatures=(5.0, 4.0, -3.0))
    assert lowest_temperature(series, START, START + HOUR * 2).value == 4.0


def test_the_highest_temperature_says_when() -> None:
    """The hour of the extreme is given."""
    series = hours(0.0, 0.0, temperatures=(20.0, 31.0))
    high = highest_temperature(series, START, START + HOUR * 2)
    assert (high.value, high.at) == (31.0, START + HOUR)


@pytest.mark.parametrize("begins_h", [-2.0, 0.0, 0.5, 1.0, 1.75, 9.0])
@pytest.mark.parametrize("lasts_h", [0.0, 0.25, 1.0, 2.5, 2.5001, 9.0])
def test_the_range_of_a_window_is_its_lowest_and_its_highest(
    begins_h: float, lasts_h: float
) -> None:
    """Of the full hours inside, whether or not one is unknown or missing."""
    row = hours(0.0, 0.0, 0.0, 0.0, temperatures=(4.0, None, 9.0, -1.0))
    begin = START + HOUR * begins_h
    end = begin + HOUR * lasts_h
    known = [
        (hour.temperature_c, hour.starts_at)
        for hour in row
        if hour.temperature_c is not None and begin <= hour.starts_at < end
    ]
    found = temperature_range(row, begin, end)
    assert found == (lowest_temperature(row, begin, end), highest_temperature(row, begin, end))
    wanted = [min(known), max(known)] if known else [(None, None)] * 2
    assert [(figure.value, figure.at) for figure in found] == wanted
    instants = [number for number in range(-9, 30) if begin <= START + HOUR * number < end]
    assert found[0].complete == (len(instants) == len(known))


@pytest.mark.parametrize(
    ("begins_h", "ends_h", "highest"),
    [(0.0, 3.0, 80.0), (1.99, 3.0, 80.0), (2.0, 3.0, 50.0), (0.0, 1.0, 20.0), (3.0, 9.0, None)],
)
def test_the_highest_chance_is_that_of_the_known_hours_a_window_touches(
    begins_h: float, ends_h: float, highest: float | None
) -> None:
    """Unknown is not unlikely: where no hour has a chance there is none."""
    known = tuple(
        Hour(START + HOUR * number, rain_chance_percent=chance)
        for number, chance in enumerate((20.0, 80.0, 50.0, None))
    )
    window = (START + HOUR * begins_h, START + HOUR * ends_h)
    assert highest_chance(known, *window) == highest
