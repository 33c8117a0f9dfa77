"""Frost dates against a public record and against published definitions."""

from __future__ import annotations

import csv
import math
from datetime import date, timedelta
from importlib import resources

import pytest

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.frost_dates import (
    FrostSeason,
    RiskMethod,
    freeze_risk,
    freeze_table,
    propose_start,
    warm_nights_from,
    window_of,
)

SPRING, AUTUMN = FrostSeason.SPRING, FrostSeason.AUTUMN


@pytest.fixture(scope="module")
def seattle() -> dict[date, float | None]:
    """Daily minima of Seattle 2012 to 2015 [degC]: NOAA, as vega_datasets 0.9 carries them."""
    source = resources.files("vega_datasets") / "_data" / "seattle-weather.csv"
    rows = csv.DictReader(source.read_text(encoding="utf-8").splitlines())
    return {
        date.fromisoformat(row["date"].replace("/", "-")): float(row["temp_min"]) for row in rows
    }


# Read from the record by eye: last day at or under 0 degC from January to July, first from August.
LAST_OF_SPRING = [date(2012, 3, 19), date(2013, 3, 4), date(2014, 2, 9), date(2015, 3, 4)]
FIRST_OF_AUTUMN = [date(2012, 11, 10), date(2013, 11, 21), date(2014, 11, 12), date(2015, 11, 23)]


@pytest.mark.parametrize(("season", "dates"), [(SPRING, LAST_OF_SPRING), (AUTUMN, FIRST_OF_AUTUMN)])
def test_the_freezes_of_each_year_are_those_of_the_record(
    seattle: dict[date, float | None], season: FrostSeason, dates: list[date]
) -> None:
    """Last of spring and first of autumn, all four years used; a year alone is its own median."""
    assert freeze_risk(seattle, season, 0.0, southern=False).years == 4
    for on in dates:
        year = {each: low for each, low in seattle.items() if each.year == on.year}
        found = freeze_risk(year, season, 0.0, southern=False)
        assert found.on(50.0, on.year) == on


def test_the_normal_method_gives_the_dates_worked_out_by_hand(
    seattle: dict[date, float | None],
) -> None:
    """By hand from days 79, 63, 40, 63, each in five years: mean 61.25, deviation 14.26.

    50 % day 61; 10 % at 61.25 + 1.2816 * 14.26 = 79.5, day 80.
    """
    days = [(on - date(on.year, 1, 1)).days + 1 for on in LAST_OF_SPRING]
    assert days == [79, 63, 40, 63]
    found = freeze_risk(record_of([*days] * 5), SPRING, 0.0, southern=False)
    assert found.method is RiskMethod.NORMAL
    assert found.on(50.0, 2027) == date(2027, 3, 2)
    assert found.on(10.0, 2027) == date(2027, 3, 21)


def test_four_years_are_too_few_for_one_in_ten_and_this_is_said(
    seattle: dict[date, float | None],
) -> None:
    """By hand, i/(n + 1) on 79, 63, 63, 40: 50 % at rank 2.5 is day 63, 20 % at rank 1 day 79."""
    found = freeze_risk(seattle, SPRING, 0.0, southern=False)
    assert found.method is RiskMethod.EMPIRICAL
    assert (found.days[50.0].day, found.days[20.0].day) == (63, 79)
    assert found.days[10.0].day == 79
    assert found.days[10.0].beyond_record
    assert not found.days[20.0].beyond_record


def test_a_cool_coast_waits_for_warm_nights_long_after_its_last_freeze(
    seattle: dict[date, float | None],
) -> None:
    """Local advice sets tomatoes out in mid-May (from memory); the last freeze is in March."""
    risks = freeze_table(seattle, 47.6)
    warm = warm_nights_from(seattle, southern=False)
    found = propose_start(CROPS["tomato"], risks, 14, 2027, warm_nights_day=warm)
    assert date(2027, 5, 10) <= found.plant_on <= date(2027, 5, 31)
    assert found.soak_on == found.plant_on - timedelta(days=14)
    assert found.uncertain


# Quantiles of the standard normal as tables print them: 50 % 0, 20 % 0.8416, 10 % 1.2816.
QUANTILES = [(50.0, 0.0), (20.0, 0.8416), (10.0, 1.2816)]


def record_of(days: list[int | None]) -> dict[date, float | None]:
    """Return complete springs from 1991 on that last freeze on the given days of the year."""
    minima: dict[date, float | None] = {}
    for number, freeze in enumerate(days):
        first, last = window_of(SPRING, 1991 + number, southern=False)
        for day in range(1, (last - first).days + 2):
            minima[date.fromordinal(first.toordinal() + day - 1)] = -1.0 if day == freeze else 5.0
    return minima


THIRTY = [100 + (7 * number) % 31 for number in range(30)]


@pytest.mark.parametrize(("risk", "quantile"), QUANTILES)
def test_dates_of_a_long_record_lie_at_the_printed_quantiles(risk: float, quantile: float) -> None:
    """NOAA's meaning: a level of 10 % is the date after which it freezes in one year of ten."""
    found = freeze_risk(record_of(THIRTY), SPRING, 0.0, southern=False)
    assert found.method is RiskMethod.NORMAL
    mean = math.fsum(THIRTY) / 30
    deviation = math.sqrt(math.fsum((day - mean) ** 2 for day in THIRTY) / 29)
    assert found.days[risk].day == pytest.approx(mean + quantile * deviation, abs=0.5001)


def test_a_level_of_ten_percent_means_one_year_of_ten_freezes_later() -> None:
    """NOAA, last freeze probability: 10 % on a date, one year of ten as cold or colder later."""
    day = freeze_risk(record_of(THIRTY), SPRING, 0.0, southern=False).days[10.0].day
    assert day is not None
    assert sum(each > day for each in THIRTY) == pytest.approx(3, abs=1)


def test_years_without_a_freeze_lower_the_risk_by_their_share() -> None:
    """Thom (1959): q * (1 - Phi). With q = 0.4, 20 % risk lies at the mean of the freeze years."""
    days: list[int | None] = [*THIRTY[:12], *([None] * 18)]
    found = freeze_risk(record_of(days), SPRING, 0.0, southern=False)
    assert found.days[50.0].day is None
    assert found.days[20.0].day == pytest.approx(math.fsum(THIRTY[:12]) / 12, abs=0.5)
