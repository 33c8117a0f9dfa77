"""The nitrogen of a batch, out of the journal, the plan and the balance of its bales."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.doses import ceiling_g
from strawbell.agronomy.feeds import FEEDS
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Batch, ScheduleDay, Work
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.bale_course import STORM_COUNTS, Ledger, ledger_of
from strawbell.season.conditioning import is_feeding, planned_steps, step_key
from strawbell.season.fold import course_at
from strawbell.season.journal_index import JournalIndex
from strawbell.season.stage import BatchState, Given, SequenceState, extra_key
from support.gardens import PLACE, START, at, batch, on_day

ROW = batch()
SALT = batch(feed=FEEDS["Urea"], nitrogen_per_full_dose_g=30.0)
STORM_MM = 12.7
SOAKING = (12.0, 12.0, 60.0, 60.0)
"""Rain of days 1 to 4, after which bales hold all they can."""


def after(own: Batch, day: int) -> BatchState:
    """Return the batch on the morning of a day of the sequence, all before it done as planned."""
    past = own.schedule.days[: day - 1]
    given = tuple(
        Given(on_day(step.day), step_key(own, step), step) for step in past if is_feeding(step)
    )
    return BatchState(SequenceState(position=day - 1, given=given, soaked=True))


def rain(*amounts: float | None, complete: bool = True) -> JournalIndex:
    """Return the index with the rain of the first days of the batch."""
    index = JournalIndex()
    for number, amount in enumerate(amounts):
        index.weather[START + timedelta(days=number)] = DayWeather(
            5.0, 15.0, amount, 50.0, complete
        )
    return index


def booked(
    day: int, index: JournalIndex | None = None, own: Batch = ROW, storm_mm: float = STORM_MM
) -> Ledger | None:
    """Return the ledger on the morning of a day of the sequence."""
    index, where, today = index or rain(*[0.0] * 12), after(own, day), on_day(day)
    course = course_at(own, where, index, today, PLACE)
    return ledger_of(own, where, index.day(own, today), storm_mm, course)


def ledger(day: int, index: JournalIndex | None = None, own: Batch = ROW) -> Ledger:
    """Return the ledger, which there is."""
    found = booked(day, index, own)
    assert found is not None
    return found


def recorded(written: object) -> JournalIndex:
    """Return a record in which the feeding of day 3 was written down."""
    key = step_key(ROW, ROW.schedule.days[2])
    index = rain(*[0.0] * 12)
    told = JournalEntry(
        at(on_day(3)), "Orchard corner", on_day(3), EntryKind.DONE, "Row A", key.text(),
        data={"nitrogen_per_bale_g": written},
    )  # fmt: skip
    index.take((told,))
    return index


class TestPlannedSteps:
    """What is still to come, each step at its earliest date."""

    def test_from_today_on_day_by_day(self) -> None:
        steps = list(planned_steps(ROW, after(ROW, 5), on_day(5)))
        assert [(on, step.day) for on, step in steps] == [
            (on_day(day), day) for day in range(5, 12)
        ]

    def test_a_batch_that_has_not_begun_begins_on_its_day(self) -> None:
        (first, *_) = planned_steps(ROW, BatchState(), START - timedelta(days=5))
        assert first == (START, ROW.schedule.days[0])

    def test_what_was_missed_comes_first_and_moves_the_rest(self) -> None:
        where = BatchState(SequenceState(again=(ROW.schedule.days[2],), position=4))
        steps = list(planned_steps(ROW, where, on_day(5)))
        assert [(on, step.day) for on, step in steps[:2]] == [(on_day(5), 3), (on_day(6), 5)]

    def test_a_finished_batch_has_nothing_to_come(self) -> None:
        assert list(planned_steps(ROW, after(ROW, 12), on_day(12))) == []


class TestGiven:
    """What counts as given, and how much of it."""

    def test_half_way_the_past_is_given_and_the_rest_planned(self) -> None:
        """Days 1, 3 and 5 were full doses of 48 g; day 6 begins."""
        now = ledger(6)
        assert now.given_g == pytest.approx(144.0)
        assert now.planned_g == pytest.approx(ledger(1).planned_g)

    def test_on_the_first_morning_nothing_is_given(self) -> None:
        assert ledger(1).given_g == 0.0

    def test_the_recorded_amount_goes_before_the_planned_one(self) -> None:
        """The grower's scales gave 40 g on day 3."""
        now = ledger(6, recorded(40))
        assert now.given_g == pytest.approx(136.0)
        assert now.planned_g == pytest.approx(ledger(6).planned_g)

    @pytest.mark.parametrize("written", [None, "40", [40]])
    def test_what_is_no_number_is_not_believed(self, written: object) -> None:
        assert ledger(6, recorded(written)).given_g == pytest.approx(144.0)

    def test_the_last_feeding_is_of_the_balanced_feed(self) -> None:
        """It adds what its dose holds; without a balanced feed it adds nothing."""
        before, done = ledger(10).given_g, ledger(12).given_g
        without = ledger(12, own=replace(ROW, finishing_feed=None)).given_g
        assert done == pytest.approx(before + 22.7)
        assert without == pytest.approx(before)

    def test_a_plan_without_feed_has_no_book(self) -> None:
        dry = batch(schedule=replace(ROW.schedule, days=(ScheduleDay(1, Work.WATER, 0.0),)))
        assert booked(1, own=dry) is None


class TestLost:
    """What left the bale, by the balance."""

    def test_what_rain_washes_out_is_part_of_what_is_lost(self) -> None:
        now = ledger(9, rain(*[8.0] * 8))
        assert 0.0 <= now.leached_g.low <= now.leached_g.mean <= now.leached_g.high

    def test_rain_takes_less_of_a_meal_than_of_a_salt(self) -> None:
        wet = rain(*[0.0] * 3, 30.0, 30.0)
        salt = replace(ROW, feed=FEEDS["Urea"])
        assert ledger(6, wet).leached_g.mean < 0.5 * ledger(6, wet, salt).leached_g.mean

    def test_more_rain_leaches_more(self) -> None:
        losses = [ledger(9, rain(*[mm] * 8), SALT).leached_g.mean for mm in (5.0, 15.0, 30.0)]
        assert losses == sorted(losses)
        assert losses[0] < 0.3 * losses[2]

    def test_some_urea_escapes_into_the_air(self) -> None:
        now = ledger(6, own=SALT)
        assert now.lost_g.low - now.leached_g.low > 0.0

    def test_rain_of_today_has_not_fallen_yet(self) -> None:
        assert ledger(6, rain(*[0.0] * 5, 60.0)) == ledger(6, rain(*[0.0] * 6))

    def test_a_day_that_was_not_whole_is_unknown_and_counted(self) -> None:
        assert ledger(6, rain(*[20.0] * 5)).unknown_rain_days == 0
        assert ledger(6, rain(*[20.0] * 5, complete=False)).unknown_rain_days == 5
        assert ledger(6, rain(0.0, 0.0, 0.0, 0.0)).unknown_rain_days == 1

    def test_feed_brings_the_ratio_down(self) -> None:
        assert ledger(12).carbon_to_nitrogen.mean < ledger(2).carbon_to_nitrogen.mean < 97.0


class TestMakingUp:
    """After a storm."""

    def after_storm(self, millimetres: float, day: int, own: Batch = SALT) -> Ledger:
        """Return the ledger some days after a storm on day 5, the bales already full."""
        amounts = [*SOAKING, millimetres, *[0.0] * 7]
        return ledger(day, rain(*amounts), own)

    def test_a_storm_that_took_a_large_share_is_made_up_for(self) -> None:
        """With the batch's own feed, weighed for its bales, at most a full dose."""
        dose = self.after_storm(90.0, 6).make_up
        assert dose is not None
        assert (dose.feed, dose.bales) == ("Urea", 6)
        assert 5.0 <= dose.nitrogen_per_bale_g <= SALT.nitrogen_per_full_dose_g

    def test_rain_under_the_threshold_is_no_storm(self) -> None:
        index = rain(*SOAKING, 90.0)
        storm, none = booked(6, index, SALT, 90.0), booked(6, index, SALT, 90.1)
        assert storm is not None
        assert none is not None
        assert (storm.make_up is None, none.make_up is None) == (False, True)

    @pytest.mark.parametrize(("days", "spoken_of"), [(1, True), (3, True), (4, False)])
    def test_it_is_spoken_of_for_some_days(self, days: int, spoken_of: bool) -> None:
        assert timedelta(days=3) == STORM_COUNTS
        assert (self.after_storm(90.0, 5 + days).make_up is not None) is spoken_of

    def test_it_never_passes_what_the_straw_takes(self) -> None:
        rich = replace(SALT, nitrogen_per_full_dose_g=50.0)
        assert ledger(1, own=rich).planned_g == pytest.approx(ceiling_g(rich.bale), abs=3.0)
        assert self.after_storm(90.0, 6, rich).make_up is None

    def test_what_was_given_to_make_up_for_it_is_not_asked_for_again(self) -> None:
        index = rain(*SOAKING, 90.0, 0.0)
        asked = ledger(7, index, SALT).make_up
        assert asked is not None
        row = JournalEntry(
            at(on_day(6), 18), "Orchard corner", on_day(6), EntryKind.DONE, batch="Row A",
            task=extra_key("Row A", on_day(6)).text(),
            data={
                "feed": "Urea",
                "feed_per_bale_g": 100.0,
                "nitrogen_per_bale_g": asked.nitrogen_per_bale_g + 30.0,
            },
        )  # fmt: skip
        fed = replace(JournalIndex.of((row,)), weather=index.weather)
        assert ledger(7, fed, SALT).make_up is None

    def test_unknown_rain_is_no_storm(self) -> None:
        """It may have been one; nothing is fed on a guess."""
        assert ledger(6, rain(12.0, 12.0, 0.0, 0.0, None), SALT).make_up is None
