"""What has to happen before the first soaking is told once, in time."""

from __future__ import annotations

from datetime import date, timedelta

from strawbell.decision.brief import brief, suppose_told
from strawbell.model.brief import Preparation, Step
from strawbell.model.garden import Garden
from strawbell.model.journal import Journal
from strawbell.season.conditioning import preparing
from strawbell.season.journal_index import JournalIndex
from support.gardens import START, at, batch, forecast, garden, tell_whole

FIRST = (Step.STRAW, Step.BEAN_TEST, Step.PLACE)
LATER = (Step.GROUND, Step.SET_OUT)


def before(days: int) -> date:
    """Return the date so many days before the first soaking."""
    return START - timedelta(days=days)


def only(garden_: Garden, on: date, journal: Journal = ()) -> Preparation:
    """Return the one preparation of a date."""
    (found,) = preparing(garden_, JournalIndex.of(journal).prepared, on)
    return found


def told_from(plan: Garden, first: date, until: date) -> dict[date, tuple[Step, ...]]:
    """Return the steps that each morning tells, by dates that tell any."""
    journal: Journal = ()
    steps: dict[date, tuple[Step, ...]] = {}
    on = first
    while on < until:
        moment = at(on)
        told = brief(plan, journal, forecast(moment), moment)
        found = tuple(step for each in told.preparing for step in each.steps)
        steps |= {on: found} if found else {}
        journal = tell_whole(journal, plan, forecast(moment), moment)
        on += timedelta(days=1)
    return steps


def test_nothing_is_told_22_days_ahead_and_straw_beans_and_place_are_21_days_ahead() -> None:
    early = only(garden(), before(22))
    assert (early.steps, early.next_on, early.next_steps) == ((), before(21), FIRST)
    assert only(garden(), before(21)).steps == FIRST


def test_every_step_is_told_on_one_morning_alone() -> None:
    assert told_from(garden(), before(25), START) == {
        before(21): FIRST,
        before(7): LATER,
        before(2): (Step.READ_BEANS,),
    }


def test_a_plan_written_late_is_told_everything_that_is_overdue_at_once() -> None:
    assert told_from(garden(), before(5), START) == {before(5): (*FIRST, *LATER)}


def test_beans_sown_16_days_ahead_are_read_in_time_and_15_days_ahead_are_not() -> None:
    assert before(2) in told_from(garden(), before(16), START)
    assert before(2) not in told_from(garden(), before(15), START)


def test_bales_added_to_a_garden_that_is_told_every_morning_are_told_too() -> None:
    plan, moment = garden(), at(before(10))
    journal = tell_whole((), plan, forecast(moment), moment)
    added = garden(batch(), batch(name="Row B"))
    (found,) = preparing(added, JournalIndex.of(journal).prepared, before(9))
    assert found.batches == ("Row A", "Row B")
    assert found.steps == FIRST


def test_bales_that_begin_together_are_one_preparation() -> None:
    found = only(garden(batch(), batch(name="Row B", bales=4)), before(21))
    assert (found.bales, found.dry_kg) == (10, 200.0)
    assert round(found.bed_m2, 1) == 4.5


def test_what_was_told_for_the_bales_of_last_year_is_told_again() -> None:
    moment = at(before(21))
    journal = tell_whole((), garden(), forecast(moment), moment)
    later = START + timedelta(days=365)
    plan = garden(batch(start_on=later))
    assert only(plan, later - timedelta(days=21), journal).steps == FIRST


def test_bales_that_have_begun_are_not_prepared() -> None:
    assert preparing(garden(), {}, START) == ()


def test_looking_at_a_day_to_come_takes_the_days_between_as_told() -> None:
    now, then = at(before(21)), at(before(10))
    journal = suppose_told(garden(), (), forecast(now), now, then)
    assert only(garden(), before(10), journal).steps == ()


def test_a_brief_looked_at_again_the_same_day_still_says_it() -> None:
    moment = at(before(21))
    journal = tell_whole((), garden(), forecast(moment), moment)
    assert only(garden(), before(21), journal).steps == FIRST
