"""Conditioning schedules: what is built in, and what a grower may write."""

from __future__ import annotations

from datetime import date

import pytest
from msgspec.structs import replace

from strawbell.agronomy.schedules import (
    ALTERNATE_DAYS,
    LONGEST_DAYS,
    SCHEDULES,
    SOAK_FIRST,
    Fault,
    ScheduleFault,
    start_for,
    validate_schedule,
)
from strawbell.model.garden import Schedule, ScheduleDay, Work

NAN = float("nan")
FEED_DAY = ScheduleDay(1, Work.FEED, 1.0)


def own(*days: ScheduleDay, plant: int | None = None) -> Schedule:
    return Schedule("own", "", days, plant or len(days) + 1, ())


def watered(count: int) -> tuple[ScheduleDay, ...]:
    return (FEED_DAY, *(ScheduleDay(day, Work.WATER) for day in range(2, count + 1)))


@pytest.mark.parametrize("schedule", SCHEDULES.values(), ids=SCHEDULES)
def test_the_built_in_schedules_pass_their_own_check(schedule: Schedule) -> None:
    """They carry sources and are found by name."""
    assert validate_schedule(schedule) == ()
    assert schedule.sources
    assert SCHEDULES[schedule.name] is schedule


def test_alternate_days_feeds_full_on_one_three_five_and_half_on_seven_to_nine() -> None:
    """Balanced on 10, water between and on 11, planting from 12."""
    told = [(day.work, day.rate) for day in ALTERNATE_DAYS.days]
    water, full, half = (Work.WATER, 0.0), (Work.FEED, 1.0), (Work.FEED, 0.5)
    assert told == [
        full, water, full, water, full, water, half, half, half, (Work.FINISH, 1.0), water,
    ]  # fmt: skip
    assert ALTERNATE_DAYS.plant_from_day == 12


def test_soak_first_waters_three_days_then_feeds_six() -> None:
    """Full on 4 to 6, half on 7 to 9, water on 10, planting from 11."""
    told = [day.rate for day in SOAK_FIRST.days]
    assert told == [0, 0, 0, 1, 1, 1, 0.5, 0.5, 0.5, 0]
    assert Work.FINISH not in {day.work for day in SOAK_FIRST.days}
    assert SOAK_FIRST.plant_from_day == 11


def test_the_start_is_counted_back_from_planting() -> None:
    """Planting on day 12 means eleven days before."""
    assert start_for(date(2027, 5, 15), ALTERNATE_DAYS) == date(2027, 5, 4)
    assert start_for(date(2027, 3, 1), SOAK_FIRST) == date(2027, 2, 19)


@pytest.mark.parametrize(
    ("schedule", "fault"),
    [
        (own(plant=1), ScheduleFault(Fault.NO_DAYS)),
        (own(*watered(LONGEST_DAYS + 1)), ScheduleFault(Fault.TOO_LONG)),
        (own(FEED_DAY, ScheduleDay(3, Work.WATER)), ScheduleFault(Fault.GAPS)),
        (own(FEED_DAY, FEED_DAY), ScheduleFault(Fault.GAPS)),
        (own(ScheduleDay(2, Work.WATER), FEED_DAY), ScheduleFault(Fault.GAPS)),
        (
            own(FEED_DAY, ScheduleDay(2, Work.WATER, 0.5)),
            ScheduleFault(Fault.RATE_OF_WATER, 2, 0.5),
        ),
        (own(replace(FEED_DAY, rate=0.0)), ScheduleFault(Fault.RATE, 1, 0.0)),
        (own(replace(FEED_DAY, rate=1.1)), ScheduleFault(Fault.RATE, 1, 1.1)),
        (own(replace(FEED_DAY, rate=NAN)), ScheduleFault(Fault.RATE, 1, NAN)),
        (own(ScheduleDay(1, Work.WATER)), ScheduleFault(Fault.NO_NITROGEN)),
        (own(ScheduleDay(1, Work.FINISH, 1.0)), ScheduleFault(Fault.NO_NITROGEN)),
        (own(FEED_DAY, plant=1), ScheduleFault(Fault.PLANTED_WHILE_FED, 1)),
        (own(*watered(5), plant=5), ScheduleFault(Fault.PLANTED_WITHIN, 5)),
    ],
)
def test_a_slip_in_a_growers_own_schedule_is_told(schedule: Schedule, fault: ScheduleFault) -> None:
    """Each names the day and the figure."""
    assert repr(fault) in map(repr, validate_schedule(schedule))


@pytest.mark.parametrize(
    "schedule",
    [own(FEED_DAY), own(*watered(LONGEST_DAYS))],
)
def test_schedules_at_the_limits_are_taken(schedule: Schedule) -> None:
    """One day, sixty days, the largest dose."""
    assert validate_schedule(schedule) == ()


def test_all_faults_come_in_one_run() -> None:
    """A grower mends everything at once."""
    bad = own(ScheduleDay(1, Work.WATER, 0.5))
    assert len(validate_schedule(bad)) == 2
