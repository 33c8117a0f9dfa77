"""Claims about reckoning frost dates."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from strawbell.agronomy.frost_dates import (
    FrostSeason,
    RiskMethod,
    freeze_risk,
    freeze_table,
    window_of,
)

SPRING, AUTUMN = FrostSeason.SPRING, FrostSeason.AUTUMN
Minima = dict[date, float | None]


def season(season: FrostSeason, year: int, freezes: list[int], *, southern: bool = False) -> Minima:
    """Return a complete season that freezes to -1 degC on the given days of the window."""
    first, last = window_of(season, year, southern=southern)
    return {
        first + timedelta(days=day - 1): (-1.0 if day in freezes else 5.0)
        for day in range(1, (last - first).days + 2)
    }


def seasons(kind: FrostSeason, days: list[list[int]], *, southern: bool = False) -> Minima:
    minima: Minima = {}
    for number, freezes in enumerate(days):
        minima |= season(kind, 2000 + number, freezes, southern=southern)
    return minima


def spread(years: int) -> list[list[int]]:
    return [[100 + number] for number in range(years)]


def test_the_last_freeze_of_spring_and_the_first_of_autumn_count() -> None:
    """Out of several in one year."""
    spring = freeze_risk(seasons(SPRING, [[10, 90, 60]]), SPRING, 0.0, southern=False)
    autumn = freeze_risk(seasons(AUTUMN, [[90, 60, 120]]), AUTUMN, 0.0, southern=False)
    assert (spring.days[50.0].day, autumn.days[50.0].day) == (90, 60)


@pytest.mark.parametrize(("threshold_c", "day"), [(-0.99, 100), (-1.0, 100), (-1.01, None)])
def test_a_minimum_at_the_threshold_counts_as_a_freeze(threshold_c: float, day: int | None) -> None:
    """The record's freeze is at -1 degC."""
    found = freeze_risk(seasons(SPRING, [[100]]), SPRING, threshold_c, southern=False)
    assert found.days[50.0].day == day


@pytest.mark.parametrize(("years", "method"), [(19, RiskMethod.EMPIRICAL), (20, RiskMethod.NORMAL)])
def test_twenty_years_are_enough_for_a_distribution(years: int, method: RiskMethod) -> None:
    """Nineteen are not, and the result says which it is."""
    found = freeze_risk(seasons(SPRING, spread(years)), SPRING, 0.0, southern=False)
    assert (found.method, found.years) == (method, years)


def test_a_distribution_is_not_fitted_to_equal_days() -> None:
    """However long the record, they have no deviation."""
    found = freeze_risk(seasons(SPRING, [[100]] * 25), SPRING, 0.0, southern=False)
    assert found.method is RiskMethod.EMPIRICAL
    assert found.days[50.0].day == 100


@pytest.mark.parametrize(("missing", "kept"), [(9, 1), (10, 0)])
def test_a_season_with_ten_days_missing_is_left_out(missing: int, kept: int) -> None:
    """Nine are borne; the next year keeps the record alive."""
    minima = season(SPRING, 2001, [100])
    for day in range(missing):
        minima[date(2001, 5, 1) + timedelta(days=day)] = None
    minima |= season(SPRING, 2002, [100])
    found = freeze_risk(minima, SPRING, 0.0, southern=False)
    assert found.years == 1 + kept


def test_a_record_without_one_complete_season_is_refused() -> None:
    """With the number of days that may miss."""
    with pytest.raises(ValueError, match=r"minima must hold a spring .* 10 days"):
        freeze_risk({date(2001, 1, 1): 1.0}, SPRING, 0.0, southern=False)
    with pytest.raises(ValueError, match="minima"):
        freeze_risk({}, SPRING, 0.0, southern=False)


def test_a_place_that_never_freezes_has_no_dates() -> None:
    """Every risk is out of reach, not on some made-up day."""
    found = freeze_risk(seasons(SPRING, [[]] * 25), SPRING, 0.0, southern=False)
    assert [found.on(risk, 2027) for risk in (50.0, 20.0, 10.0)] == [None, None, None]


def test_southern_springs_run_from_july_and_their_autumns_from_february() -> None:
    """Day 40 of the southern spring is 9 August, day 80 of the autumn 21 April."""
    spring = freeze_risk(seasons(SPRING, [[40]] * 3, southern=True), SPRING, 0.0, southern=True)
    autumn = freeze_risk(seasons(AUTUMN, [[80]] * 3, southern=True), AUTUMN, 0.0, southern=True)
    assert spring.on(50.0, 2027) == date(2027, 8, 9)
    assert autumn.on(50.0, 2027) == date(2027, 4, 21)
    assert window_of(SPRING, 2027, southern=True)[1] == date(2028, 1, 31)


def test_the_table_takes_the_hemisphere_from_the_latitude() -> None:
    """Both seasons at both thresholds; south of the equator the other windows."""
    start = date(2000, 1, 1)
    record: Minima = {start + timedelta(days=day): 5.0 for day in range(1500)}
    north, south = freeze_table(record, 47.0), freeze_table(record, -35.0)
    assert [(each.season, each.threshold_c) for each in north] == [
        (SPRING, 0.0), (SPRING, -2.0), (AUTUMN, 0.0), (AUTUMN, -2.0),
    ]  # fmt: skip
    assert not any(each.southern for each in north)
    assert all(each.southern for each in south)


def test_part_days_of_a_short_record_are_rounded_to_the_careful_side() -> None:
    """Median of days 100 and 103 is 101.5: 102 in spring, 101 in autumn."""
    spring = freeze_risk(seasons(SPRING, [[100], [103]]), SPRING, 0.0, southern=False)
    autumn = freeze_risk(seasons(AUTUMN, [[100], [103]]), AUTUMN, 0.0, southern=False)
    assert (spring.days[50.0].day, autumn.days[50.0].day) == (102, 101)


def test_nine_years_just_show_one_in_ten() -> None:
    """i/(n + 1) with n = 9; eight years do not, and the most extreme stands."""
    nine = freeze_risk(seasons(SPRING, spread(9)), SPRING, 0.0, southern=False).days[10.0]
    eight = freeze_risk(seasons(SPRING, spread(8)), SPRING, 0.0, southern=False).days[10.0]
    assert (nine.day, nine.beyond_record) == (108, False)
    assert (eight.day, eight.beyond_record) == (107, True)


def test_autumn_risks_come_sooner_the_smaller_they_are() -> None:
    """One year in ten freezes before the 10 % date."""
    found = freeze_risk(seasons(AUTUMN, spread(25)), AUTUMN, 0.0, southern=False)
    fifty, twenty, ten = (found.days[risk].day for risk in (50.0, 20.0, 10.0))
    assert fifty is not None
    assert twenty is not None
    assert ten is not None
    assert ten < twenty < fifty


def test_a_freeze_on_the_first_and_on_the_last_day_of_a_window_counts() -> None:
    """1 January and 31 July in the north: days 1 and 212 of 2001."""
    for day in (212, 1):
        found = freeze_risk(season(SPRING, 2001, [day]), SPRING, 0.0, southern=False)
        assert found.days[50.0].day == day


def test_the_equator_counts_as_north() -> None:
    """Only under 0 degrees the southern windows hold."""
    record: Minima = {date(2000, 1, 1) + timedelta(days=day): 5.0 for day in range(1500)}
    assert not freeze_table(record, 0.0)[0].southern
    assert freeze_table(record, -0.1)[0].southern


def test_three_freeze_years_of_twenty_are_enough_for_a_distribution() -> None:
    """Two are not."""
    three = seasons(SPRING, [[100], [110], [130], *([[]] * 17)])
    two = seasons(SPRING, [[100], [110], *([[]] * 18)])
    assert freeze_risk(three, SPRING, 0.0, southern=False).method is RiskMethod.NORMAL
    assert freeze_risk(two, SPRING, 0.0, southern=False).method is RiskMethod.EMPIRICAL


def test_the_mildest_freeze_of_a_short_record_stands_at_its_own_rank() -> None:
    """Two freezes in three years: rank 2 of 4 is 50 %; with one freeze 50 % is out of reach."""
    two = freeze_risk(seasons(SPRING, [[100], [110], []]), SPRING, 0.0, southern=False)
    one = freeze_risk(seasons(SPRING, [[100], [], []]), SPRING, 0.0, southern=False)
    assert two.days[50.0].day == 100
    assert one.days[50.0].day is None
