"""The cold half of the year tells the side of the equator, where the year has one."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from strawbell.agronomy.frost_dates import southern_winter

DAYS = 365


def lows(
    may_to_october_c: float | None, november_to_april_c: float | None
) -> dict[date, float | None]:
    """Return a year with one low in each half."""
    dates = (date(2023, 1, 1) + timedelta(days=number) for number in range(DAYS))
    return {on: may_to_october_c if 5 <= on.month <= 10 else november_to_april_c for on in dates}


@pytest.mark.parametrize(
    ("may_to_october_c", "november_to_april_c", "southern"),
    [
        (4.0, 14.0, True),
        (14.0, 4.0, False),
        (10.0, 13.0, True),
        (10.0, 12.9, None),
        (13.0, 10.0, False),
        (12.9, 10.0, None),
        (20.0, 20.0, None),
    ],
)
def test_the_colder_half_counts_from_three_degrees_on(
    may_to_october_c: float, november_to_april_c: float, southern: bool | None
) -> None:
    """Nearer the equator the halves are alike, and nothing is said."""
    assert southern_winter(lows(may_to_october_c, november_to_april_c)) is southern


def test_a_year_with_an_unknown_month_is_not_judged() -> None:
    """One night of it is enough; half a year of lows is cold or warm beside nothing."""
    year = lows(4.0, 14.0)
    unknown = {on: None if on.month == 7 else low for on, low in year.items()}
    assert southern_winter(unknown) is None
    assert southern_winter({**unknown, date(2023, 7, 1): 4.0}) is True
    assert southern_winter({on: low for on, low in year.items() if on.month < 10}) is None
    assert southern_winter({}) is None


def test_months_with_many_nights_do_not_outweigh_the_others() -> None:
    """Ten more Januaries of frost leave the winter in the south."""
    januaries = {date(2000 + number, 1, each): -20.0 for number in range(10) for each in (1, 2, 3)}
    year = lows(4.0, 14.0)
    assert southern_winter({**year, **januaries}) is True
