"""Claims about when to begin soaking."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.frost_dates import (
    FreezeRisk,
    FrostSeason,
    RiskDay,
    RiskMethod,
    propose_start,
    warm_nights_from,
)

KALE, LETTUCE, BEAN, TOMATO = (CROPS[name] for name in ("kale", "lettuce", "bean", "tomato"))


def risk(
    season: FrostSeason, threshold_c: float, days: tuple[int | None, ...], **changes: bool
) -> FreezeRisk:
    """Return a season with given days of 50, 20 and 10 % risk."""
    return FreezeRisk(
        season=season,
        southern=changes.get("southern", False),
        threshold_c=threshold_c,
        method=RiskMethod.NORMAL,
        years=30,
        days={
            percent: RiskDay(day, changes.get("beyond", False))
            for percent, day in zip((50.0, 20.0, 10.0), days, strict=True)
        },
    )


# Light freeze: 50 % on day 110 (20 April), 20 % on 120, 10 % on 125 (5 May 2027). Sharp: 90, 100.
LIGHT = risk(FrostSeason.SPRING, 0.0, (110, 120, 125))
SHARP = risk(FrostSeason.SPRING, -2.0, (90, 100, 105))
# First light freeze of autumn at even odds on day 76: 15 October.
FALL = risk(FrostSeason.AUTUMN, 0.0, (76, 66, 60))
RISKS = (LIGHT, SHARP, FALL)


def test_very_tender_crops_wait_two_weeks_past_the_average_last_frost() -> None:
    """4 May 2027 by weeks, 6 May by the day after the 10 % date: the later stands."""
    found = propose_start(TOMATO, RISKS, 14, 2027)
    assert found.plant_on == date(2027, 5, 6)
    assert found.soak_on == date(2027, 4, 22)


def test_weeks_decide_where_they_are_the_later() -> None:
    """With a narrow spread the two weeks past the average last longer."""
    narrow = (risk(FrostSeason.SPRING, 0.0, (110, 112, 113)), SHARP, FALL)
    assert propose_start(TOMATO, narrow, 14, 2027).plant_on == date(2027, 5, 4)


def test_tender_seeds_wait_for_one_year_in_ten() -> None:
    """Beans go by the day after the 10 % date, not by the average."""
    assert propose_start(BEAN, RISKS, 12, 2027).plant_on == date(2027, 5, 6)


def test_half_hardy_crops_run_one_sharp_freeze_in_five() -> None:
    """Lettuce: two weeks before the average is 6 April; day 101, 11 April, is the later."""
    assert propose_start(LETTUCE, RISKS, 14, 2027).plant_on == date(2027, 4, 11)


def test_hardy_crops_go_out_before_the_average_last_frost() -> None:
    """Kale: four weeks before is 23 March, the day after even odds of -2 degC 1 April."""
    found = propose_start(KALE, RISKS, 14, 2027)
    assert found.plant_on == date(2027, 4, 1)
    assert found.soak_on == date(2027, 3, 18)


def test_a_longer_conditioning_begins_sooner_and_plants_on_the_same_day() -> None:
    """Counted back, at both ends of what is allowed."""
    short, long = (propose_start(TOMATO, RISKS, days, 2027) for days in (0, 120))
    assert short.plant_on == long.plant_on == short.soak_on
    assert long.soak_on == short.soak_on - timedelta(days=120)


def test_it_is_said_whether_a_tender_crop_ripens_before_autumn() -> None:
    """Tomato by 25 July against 15 October; a crop of 200 days does not."""
    found = propose_start(TOMATO, RISKS, 14, 2027)
    assert (found.ripe_by, found.ripens) == (date(2027, 7, 25), True)
    slow = replace(TOMATO, days_to_maturity=(150, 200))
    assert propose_start(slow, RISKS, 14, 2027).ripens is False


@pytest.mark.parametrize(("days", "ripens"), [(161, True), (162, False)])
def test_what_is_ripe_on_the_day_of_the_freeze_is_too_late(days: int, ripens: bool) -> None:
    """From 6 May 161 days are 14 October, the day before even odds of a freeze."""
    crop = replace(TOMATO, days_to_maturity=(days, days))
    assert propose_start(crop, RISKS, 14, 2027).ripens is ripens


def test_autumn_is_of_no_matter_to_hardy_crops_nor_where_it_never_freezes() -> None:
    """None, not yes."""
    assert propose_start(KALE, RISKS, 14, 2027).ripens is None
    mild = risk(FrostSeason.AUTUMN, 0.0, (None, None, None))
    assert propose_start(TOMATO, (LIGHT, SHARP, mild), 14, 2027).ripens is None


def test_where_it_never_freezes_planting_is_open_from_the_first_of_spring() -> None:
    """1 January in the north, 1 July in the south."""
    never = (None, None, None)
    north = (
        risk(FrostSeason.SPRING, 0.0, never),
        risk(FrostSeason.SPRING, -2.0, never),
        risk(FrostSeason.AUTUMN, 0.0, never),
    )
    south = tuple(replace(each, southern=True) for each in north)
    assert propose_start(TOMATO, north, 14, 2027).plant_on == date(2027, 1, 1)
    assert propose_start(TOMATO, south, 14, 2027).plant_on == date(2027, 7, 1)


def test_southern_dates_lie_in_the_southern_spring_and_its_autumn_follows() -> None:
    """Day 80 of a window from July is 18 September; autumn day 70 is 10 April of leap year 2028."""
    south = (
        risk(FrostSeason.SPRING, 0.0, (80, 90, 95), southern=True),
        risk(FrostSeason.SPRING, -2.0, (60, 70, 75), southern=True),
        risk(FrostSeason.AUTUMN, 0.0, (70, 60, 50), southern=True),
    )
    found = propose_start(TOMATO, south, 14, 2027)
    assert found.plant_on == date(2027, 10, 4)
    assert found.ripens is True
    slow = replace(TOMATO, days_to_maturity=(189, 189))
    assert propose_start(slow, south, 14, 2027).ripens is False


def test_a_date_from_too_short_a_record_says_so() -> None:
    """The 10 % date of a few years is the worst of them."""
    short = (risk(FrostSeason.SPRING, 0.0, (110, 120, 125), beyond=True), SHARP, FALL)
    assert propose_start(TOMATO, short, 14, 2027).uncertain
    assert not propose_start(TOMATO, RISKS, 14, 2027).uncertain


def test_a_crop_without_weeks_of_its_own_goes_by_its_class() -> None:
    """A grower's own very tender crop: two weeks."""
    own = replace(TOMATO, set_out_weeks=None)
    assert propose_start(own, RISKS, 14, 2027) == propose_start(TOMATO, RISKS, 14, 2027)


def test_very_tender_crops_wait_for_warm_nights_where_frost_ends_long_before() -> None:
    """Day 150 is 30 May; beans, merely tender, do not wait for it."""
    found = propose_start(TOMATO, RISKS, 14, 2027, warm_nights_day=150)
    assert found.plant_on == date(2027, 5, 30)
    bean = propose_start(BEAN, RISKS, 14, 2027, warm_nights_day=150)
    assert bean.plant_on == date(2027, 5, 6)


def test_warm_nights_before_the_last_frost_change_nothing() -> None:
    """Day 60 lies before every frost date."""
    warm = propose_start(TOMATO, RISKS, 14, 2027, warm_nights_day=60)
    assert warm.plant_on == propose_start(TOMATO, RISKS, 14, 2027).plant_on


def test_a_crop_that_is_sown_in_place_ripens_by_its_days_from_seed() -> None:
    """Bean has no age as a transplant: 60 days from sowing."""
    sown = propose_start(BEAN, RISKS, 14, 2027)
    assert sown.ripe_by - sown.plant_on == timedelta(days=60)


def nights(cold_c: float, warm_c: float, warm_day: int, years: int = 3) -> dict[date, float | None]:
    """Return minima that step up on a day of the year, and stay there until December."""
    return {
        date(2001 + year, 1, 1) + timedelta(days=day - 1): warm_c if day >= warm_day else cold_c
        for year in range(years)
        for day in range(1, 366)
    }


def test_nights_are_warm_from_the_day_their_fortnight_is() -> None:
    """A step from 9 to 11 degC on day 130: of 15 nights 8 are warm on day 130, 7 the day before."""
    record = nights(9.0, 11.0, 130)
    assert warm_nights_from(record, southern=False) == 130
    assert warm_nights_from(nights(9.0, 10.0, 130), southern=False) == 137
    assert warm_nights_from(nights(10.0, 11.0, 130), southern=False) == 1


def test_a_warm_spell_that_passes_does_not_count() -> None:
    """Nights must stay warm to the end of July."""
    record = nights(9.0, 11.0, 130)
    spell = {on: 15.0 for on in record if on.month == 2}
    assert warm_nights_from({**record, **spell}, southern=False) == 130


def test_nights_that_never_are_warm_have_no_day() -> None:
    """Nor has a record that is not there."""
    assert warm_nights_from(nights(5.0, 9.9, 130), southern=False) is None
    assert warm_nights_from({}, southern=False) is None
    unknown: dict[date, float | None] = dict.fromkeys(nights(5.0, 15.0, 130))
    assert warm_nights_from(unknown, southern=False) is None


def test_southern_nights_are_warm_from_a_day_counted_from_july() -> None:
    """Minima over 10 degC from 1 November on: day 124 of the window."""
    record: dict[date, float | None] = {
        date(2001, 1, 1) + timedelta(days=day): (
            11.0 if (date(2001, 1, 1) + timedelta(days=day)).month in (11, 12, 1, 2) else 9.0
        )
        for day in range(365 * 4)
    }
    assert warm_nights_from(record, southern=True) == 124
