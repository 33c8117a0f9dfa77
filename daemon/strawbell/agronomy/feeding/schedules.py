"""Conditioning schedules as data, and the check of a grower's own.

References:
[1] University of California ANR Publication 8559, "Gardening with straw bales" (2016), Table 1
    (feed on alternate days) and Table 2 (water on days 1 to 3, then feed).
[2] Washington State University Extension, Fact Sheet FS109E, "Straw bale gardening", as restated
    by K-State Research and Extension, Rawlins County: full rate on days 4 to 6, half rate on days
    7 to 9, nothing on day 10, planting from day 11 at or under 99 F; 1/2 US cup of 46-0-0 or
    1 US cup of 21-0-0 per bale and full dose.

Decided 2026-11-25: The last day of soak-first is of water only, as UC and WSU have it; Georgia and
South Carolina give a balanced feed there.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

from strawbell.model.schedule import Schedule, ScheduleDay, Work

FULL = 1.0
HALF = 0.5


def _water(*days: int) -> tuple[ScheduleDay, ...]:
    return tuple(ScheduleDay(day, Work.WATER) for day in days)


def _feed(rate: float, *days: int) -> tuple[ScheduleDay, ...]:
    return tuple(ScheduleDay(day, Work.FEED, rate) for day in days)


def _in_order(*groups: tuple[ScheduleDay, ...]) -> tuple[ScheduleDay, ...]:
    return tuple(sorted((day for group in groups for day in group), key=lambda day: day.day))


ALTERNATE_DAYS = Schedule(
    name="alternate-days",
    summary="Feed on every other day from the first, water between, a balanced feed at the end.",
    days=_in_order(
        _feed(FULL, 1, 3, 5),
        _feed(HALF, 7, 8, 9),
        (ScheduleDay(10, Work.FINISH, FULL),),
        _water(2, 4, 6, 11),
    ),
    plant_from_day=12,
    sources=(
        "UC ANR Publication 8559 (2016), Table 1, for the alternation on days 1 to 7",
        "common practice for days 8 to 12",
    ),
)
SOAK_FIRST = Schedule(
    name="soak-first",
    summary="Water for three days, then feed daily, full for three days and half for three.",
    days=_in_order(
        _water(1, 2, 3, 10),
        _feed(FULL, 4, 5, 6),
        _feed(HALF, 7, 8, 9),
    ),
    plant_from_day=11,
    sources=(
        "UC ANR Publication 8559 (2016), Table 2; day 10 is water only",
        "WSU Extension FS109E, as restated by K-State Research and Extension",
    ),
)

SCHEDULES: Mapping[str, Schedule] = {each.name: each for each in (ALTERNATE_DAYS, SOAK_FIRST)}
"""The built-in schedules by name.

Sources disagree about day 10 of the soak-first sequence: UC and WSU give water only, Georgia and
South Carolina a balanced feed. The two that describe the whole table are followed; a grower who
wants the balanced feed writes a schedule of their own.
"""

LONGEST_DAYS = 60
"""Longest schedule taken from a grower [days]: Montana State counts six weeks in the cold."""


def validate_schedule(schedule: Schedule) -> tuple[str, ...]:
    """Return what is wrong with a grower's own schedule, one sentence each.

    Args:
        schedule: Days from 1 without gaps, each with a rate [share of a full dose, 0 to 1], and the
            day of planting.

    Returns:
        Empty when the schedule can be used.

    Source: common practice; see the module for what is published.
    """
    return tuple(complaint for check in _CHECKS for complaint in check(schedule))


def _check_days(schedule: Schedule) -> list[str]:
    numbers = [day.day for day in schedule.days]
    if not numbers:
        return ["it has no days"]
    if len(numbers) > LONGEST_DAYS:
        return [f"it has {len(numbers)} days; {LONGEST_DAYS} is the most"]
    if numbers != list(range(1, len(numbers) + 1)):
        found = ", ".join(str(number) for number in numbers)
        return [f"its days must be 1 to {len(numbers)} in order and without gaps, found {found}"]
    return []


def _check_rates(schedule: Schedule) -> list[str]:
    complaints = []
    for day in schedule.days:
        if day.work is Work.WATER and day.rate != 0:
            complaints.append(f"day {day.day} is of water and has a rate of {day.rate:g}")
        elif day.work is not Work.WATER and not 0 < day.rate <= 1:
            complaints.append(
                f"the rate of day {day.day} must be over 0 and at most 1, found {day.rate:g}"
            )
    return complaints


def _check_feedings(schedule: Schedule) -> list[str]:
    feedings = [day.day for day in schedule.days if day.work is not Work.WATER]
    if not any(day.work is Work.FEED for day in schedule.days):
        return ["it has no day with a nitrogen feed"]
    if schedule.plant_from_day <= max(feedings):
        return [
            f"planting on day {schedule.plant_from_day} is not after the last feeding on day "
            f"{max(feedings)}"
        ]
    if schedule.plant_from_day <= len(schedule.days):
        return [
            f"planting on day {schedule.plant_from_day} comes before its last day "
            f"{len(schedule.days)}"
        ]
    return []


_CHECKS = (_check_days, _check_rates, _check_feedings)


def start_for(plant_on: date, schedule: Schedule) -> date:
    """Return the first day of soaking for a wanted planting date.

    Args:
        plant_on: Local date of planting.
        schedule: The sequence, with its day of planting.

    Returns:
        `plant_on` counted back by `plant_from_day - 1` days.
    """
    return plant_on - timedelta(days=schedule.plant_from_day - 1)
