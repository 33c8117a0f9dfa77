"""The nitrogen of a batch, out of the journal and the plan."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from strawbell.agronomy.feeding.feeds import FEEDS
from strawbell.model.feeds import Material
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Batch
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.schedule import ScheduleDay, Work
from strawbell.season.batch_state import BatchState
from strawbell.season.journal_index import Record
from strawbell.season.nitrogen_ledger import STORM_COUNTS, Book, book_of, planned_steps
from strawbell.season.sequence import Given, SequenceState, is_feeding, step_key
from strawbell.season.task_keys import extra_key
from support.gardens import START, at, batch, on_day

ROW = batch()
STORM_MM = 12.7
FEEDINGS = [step for step in ROW.schedule.days if is_feeding(step)]


def after(own: Batch, day: int) -> BatchState:
    """Return the batch on the morning of a day of the sequence, all before it done as planned."""
    past = own.schedule.days[: day - 1]
    given = tuple(
        Given(on_day(step.day), step_key(own, step), step) for step in past if is_feeding(step)
    )
    return BatchState(SequenceState(position=day - 1, given=given, soaked=True))


def rain(*amounts: float | None, complete: bool = True) -> Record:
    """Return the record with the rain of the first days of the batch."""
    record = Record()
    for number, amount in enumerate(amounts):
        record.weather[START + timedelta(days=number)] = DayWeather(
            5.0, 15.0, amount, 50.0, complete
        )
    return record


def book(day: int, record: Record | None = None, own: Batch = ROW) -> Book:
    """Return the book on the morning of a day of the sequence."""
    found = book_of(own, after(own, day), record or rain(*[0.0] * 12), on_day(day), STORM_MM)
    assert found is not None
    return found


class TestPlannedSteps:
    """What is still to come, each step at its earliest date."""

    def test_from_today_on_day_by_day(self) -> None:
        """Day 5 is today, day 6 tomorrow."""
        steps = list(planned_steps(ROW, after(ROW, 5), on_day(5)))
        assert [(on, step.day) for on, step in steps] == [
            (on_day(day), day) for day in range(5, 12)
        ]

    def test_a_batch_that_has_not_begun_begins_on_its_day(self) -> None:
        """Not today."""
        (first, *_) = planned_steps(ROW, BatchState(), START - timedelta(days=5))
        assert first == (START, ROW.schedule.days[0])

    def test_what_was_missed_comes_first_and_moves_the_rest(self) -> None:
        """Day 3 again today, day 5 tomorrow."""
        third = ROW.schedule.days[2]
        where = BatchState(SequenceState(again=(third,), position=4))
        steps = list(planned_steps(ROW, where, on_day(5)))
        assert [(on, step.day) for on, step in steps[:2]] == [(on_day(5), 3), (on_day(6), 5)]

    def test_a_finished_batch_has_nothing_to_come(self) -> None:
        """All done."""
        assert list(planned_steps(ROW, after(ROW, 12), on_day(12))) == []


class TestGiven:
    """What counts as given, and how much of it."""

    def test_half_way_the_past_is_given_and_the_rest_planned(self) -> None:
        """Days 1, 3 and 5 were full doses of 48 g; day 6 begins."""
        now = book(6).ledger
        assert now.given_g == pytest.approx(144.0)
        assert now.planned_g == pytest.approx(book(1).ledger.planned_g)

    def test_on_the_first_morning_nothing_is_given(self) -> None:
        """All is planned."""
        assert book(1).ledger.given_g == 0.0

    def test_the_recorded_amount_goes_before_the_planned_one(self) -> None:
        """The grower's scales gave 40 g on day 3."""
        key = step_key(ROW, ROW.schedule.days[2])
        told = JournalEntry(
            at(on_day(3)), "Orchard corner", on_day(3), EntryKind.DONE, "Row A", key.text(),
            data={"nitrogen_per_bale_g": 40},
        )  # fmt: skip
        record = rain(*[0.0] * 12)
        record.take((told,))
        now = book(6, record).ledger
        assert now.given_g == pytest.approx(136.0)
        assert now.planned_g == pytest.approx(book(6).ledger.planned_g)

    @pytest.mark.parametrize("written", [None, "40", [40]])
    def test_what_is_no_number_is_not_believed(self, written: object) -> None:
        """The plan's own amount stands."""
        key = step_key(ROW, ROW.schedule.days[2])
        told = JournalEntry(
            at(on_day(3)), "Orchard corner", on_day(3), EntryKind.DONE, "Row A", key.text(),
            data={"nitrogen_per_bale_g": written},
        )  # fmt: skip
        record = rain(*[0.0] * 12)
        record.take((told,))
        assert book(6, record).ledger.given_g == pytest.approx(144.0)

    def test_the_last_feeding_is_of_the_balanced_feed(self) -> None:
        """It adds what its dose holds; without a balanced feed it adds nothing."""
        done = book(12).ledger.given_g
        without = book(12, own=replace(ROW, finishing_feed=None)).ledger.given_g
        before = book(10).ledger.given_g
        assert done > before
        assert without == pytest.approx(before)

    def test_a_plan_without_feed_has_no_book(self) -> None:
        """Only water."""
        schedule = replace(ROW.schedule, days=(ScheduleDay(1, Work.WATER, 0.0),))
        dry = batch(schedule=schedule)
        assert book_of(dry, BatchState(), Record(), START, STORM_MM) is None


class TestSpeed:
    """Slow feeds and urea are booked as what they are."""

    def test_organic_nitrogen_is_set_free_slowly(self) -> None:
        """The same nitrogen as a quick salt and as blood meal: rain takes less of the meal."""
        quick = replace(FEEDS["Blood meal"], material=Material.OTHER)
        record = rain(*[0.0] * 3, 40.0, 40.0)
        slow, fast = book(6, record), book(6, record, batch(feed=quick))
        assert slow.ledger.lost_low_g < fast.ledger.lost_low_g

    @pytest.mark.parametrize(
        "material",
        [
            Material.BLOOD_MEAL,
            Material.BONE_MEAL,
            Material.FEATHER_MEAL,
            Material.FISH,
            Material.POULTRY_MANURE,
        ],
    )
    def test_every_organic_material_counts_as_slow(self, material: Material) -> None:
        """By what it is made of, not by its name."""
        record = rain(*[0.0] * 3, 40.0, 40.0)
        made = batch(feed=replace(FEEDS["Blood meal"], material=material))
        assert book(6, record, made).ledger == book(6, record).ledger

    def test_some_urea_escapes_into_the_air(self) -> None:
        """Washed in little of it may; without rain other feeds lose nothing."""
        urea = replace(FEEDS["Blood meal"], material=Material.UREA)
        assert book(6, own=batch(feed=urea)).ledger.lost_high_g > 0.0
        assert book(6).ledger.lost_high_g == 0.0

    def test_the_balanced_feed_is_neither(self) -> None:
        """Only feedings of the nitrogen feed are slow, or urea; of both, given and planned."""
        for material, speed in ((Material.UREA, "urea"), (Material.BLOOD_MEAL, "slow")):
            own = batch(feed=replace(FEEDS["Blood meal"], material=material))
            for day in (1, 12):
                feedings = [line.feeding for line in book(day, own=own).ledger.lines]
                marked = {each.feed for each in feedings if getattr(each, speed)}
                assert {each.feed for each in feedings} == {"Blood meal", "Balanced"}
                assert marked == {"Blood meal"}


class TestRain:
    """Which rain is booked."""

    def test_a_day_that_was_not_whole_is_unknown(self) -> None:
        """It widens the range, and is counted."""
        wet = book(6, rain(*[20.0] * 5)).ledger
        unknown = book(6, rain(*[20.0] * 5, complete=False)).ledger
        assert wet.unknown_rain_days == 0
        assert unknown.unknown_rain_days > 0

    def test_a_day_without_a_brief_is_unknown(self) -> None:
        """Nothing is known of the fifth."""
        assert book(6, rain(0.0, 0.0, 0.0, 0.0)).ledger.unknown_rain_days > 0

    def test_rain_of_today_has_not_fallen_yet(self) -> None:
        """The morning books what is behind it."""
        assert book(6, rain(*[0.0] * 5, 60.0)).ledger == book(6, rain(*[0.0] * 6)).ledger

    def test_rain_before_the_batch_fell_on_nothing(self) -> None:
        """The weather of the garden is older than the batch."""
        record = rain(*[0.0] * 5)
        record.weather[START - timedelta(days=1)] = DayWeather(5.0, 15.0, 90.0, 90.0, True)
        assert book(6, record) == book(6, rain(*[0.0] * 5))


class TestMakingUp:
    """After a storm."""

    QUICK = batch(feed=replace(FEEDS["Blood meal"], material=Material.OTHER))

    def after_storm(self, millimetres: float, day: int, storm_day: int = 5) -> Book:
        """Return the book some days after a storm on a feeding day."""
        amounts = [0.0] * 12
        amounts[storm_day - 1] = millimetres
        return book(day, rain(*amounts), self.QUICK)

    def test_a_storm_on_a_feeding_is_made_up_for(self) -> None:
        """With the batch's own feed, weighed for its bales."""
        found = self.after_storm(60.0, 6)
        assert found.make_up is not None
        assert found.make_up_dose is not None
        assert found.make_up_dose.feed == "Blood meal"
        assert found.make_up_dose.bales == 6
        assert found.make_up_dose.nitrogen_per_bale_g == pytest.approx(
            found.make_up.nitrogen_per_bale_g, abs=0.06
        )

    def test_rain_under_the_threshold_is_no_storm(self) -> None:
        """However much it takes: 60 mm, where a storm begins at more."""
        wet = rain(*[0.0] * 4, 60.0)
        where, today = after(self.QUICK, 6), on_day(6)
        told = {
            storm_mm: book_of(self.QUICK, where, wet, today, storm_mm) for storm_mm in (60.0, 60.1)
        }
        assert told[60.0] is not None
        assert told[60.0].make_up is not None
        assert told[60.1] is not None
        assert told[60.1].make_up is None

    @pytest.mark.parametrize(("days", "spoken_of"), [(1, True), (3, True), (4, False)])
    def test_it_is_spoken_of_for_three_days(self, days: int, spoken_of: bool) -> None:
        """Then the next feeding has come, or planting."""
        assert timedelta(days=3) == STORM_COUNTS
        assert (self.after_storm(60.0, 5 + days).make_up is not None) is spoken_of

    def test_a_storm_before_the_first_feeding_washes_nothing_out(self) -> None:
        """Nothing was given."""
        water_first = replace(
            self.QUICK,
            schedule=replace(
                ROW.schedule,
                days=(
                    ScheduleDay(1, Work.WATER, 0.0),
                    ScheduleDay(2, Work.WATER, 0.0),
                    ScheduleDay(3, Work.FEED, 1.0),
                ),
            ),
        )
        found = book(3, rain(60.0, 60.0), water_first)
        assert (found.make_up, found.make_up_dose) == (None, None)

    def test_what_was_given_to_make_up_for_it_is_not_asked_for_again(self) -> None:
        """It counts as given, and the next morning asks for what is still missing, or nothing."""
        wet = rain(*[0.0] * 4, 60.0, 0.0)
        where, today = after(self.QUICK, 7), on_day(7)
        asked = book_of(self.QUICK, where, wet, today, STORM_MM)
        assert asked is not None
        assert asked.make_up is not None
        half = asked.make_up.nitrogen_per_bale_g / 2
        left = {}
        for given_g in (half, 2 * half):
            row = JournalEntry(
                at(on_day(6), 18),
                "Orchard corner",
                on_day(6),
                EntryKind.DONE,
                batch="Row A",
                task=extra_key("Row A", on_day(6)).text(),
                data={
                    "feed": "Blood meal",
                    "feed_per_bale_g": given_g * 8,
                    "nitrogen_per_bale_g": given_g,
                },
            )
            fed = replace(Record.of((row,)), weather=wet.weather)
            left[given_g] = book_of(self.QUICK, where, fed, today, STORM_MM)
        some, none = left.values()
        assert some is not None
        assert none is not None
        assert some.ledger.given_g == pytest.approx(asked.ledger.given_g + half)
        assert some.ledger.planned_g == asked.ledger.planned_g
        assert none.make_up is None
        assert some.make_up is None or some.make_up.nitrogen_per_bale_g <= half * 1.01

    def test_unknown_rain_is_no_storm(self) -> None:
        """It may have been one; nothing is fed on a guess."""
        assert book(6, rain(0.0, 0.0, 0.0, 0.0, None), self.QUICK).make_up is None


def test_the_dates_of_the_feedings_are_the_plans() -> None:
    """Seven feedings in eleven days, as the schedule has it."""
    assert [step.day for step in FEEDINGS] == [1, 3, 5, 7, 8, 9, 10]
    assert date(2027, 4, 5) == START
