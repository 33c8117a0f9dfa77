"""The conditioning sequence, walked day by day through what was told and said."""

from __future__ import annotations

from datetime import timedelta

import pytest

from strawbell.agronomy.schedules import SCHEDULES
from strawbell.model.brief import Action, State
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.conditioning import (
    action_of,
    coming,
    conditioning,
    front,
    is_feeding,
    is_missed,
    open_day,
    soak_key,
    step_key,
    wait_costs_days,
)
from strawbell.season.fold import state_at
from strawbell.season.journal_index import DayLog, JournalIndex
from strawbell.season.stage import BatchState, Day, SequenceState
from support.gardens import START, at, batch, done, garden, missed, on_day
from support.keys import key_of

ROW = batch()
SOAK_FIRST = batch(schedule=SCHEDULES["soak-first"])
KEYS = {step.day: step_key(ROW, step) for step in ROW.schedule.days}


def briefed(day: int, hour: int = 6, minute: int = 30) -> JournalEntry:
    """Return the row of a morning's brief."""
    on = on_day(day)
    return JournalEntry(at(on, hour, minute), "Orchard corner", on, EntryKind.BRIEF)


def told(day: int, key: str, state: State = State.DUE, kind=EntryKind.TOLD) -> JournalEntry:
    """Return the row of a task told on a day."""
    on = on_day(day)
    return JournalEntry(at(on), "Orchard corner", on, kind, "Row A", key.text(), state.value)


def mornings(last: int, **states: State) -> Journal:
    """Return the journal of mornings 1 to `last`, each told as planned; `d5=HELD` differs.

    Only right while nothing was held before the last day.
    """
    rows: list[JournalEntry] = []
    for day in range(1, last + 1):
        rows.append(briefed(day))
        rows.append(told(day, KEYS[day], states.get(f"d{day}", State.DUE)))
    return tuple(rows)


def walk(*rows: JournalEntry, day: int) -> SequenceState:
    """Return where row A stands on the morning of a day."""
    return state_at(garden(ROW), ROW, JournalIndex.of(rows), on_day(day)).sequence


def next_day(state: SequenceState) -> int | None:
    """Return the day of the schedule that is next in line."""
    step = front(state, ROW)
    return None if step is None else step.day


def given_days(state: SequenceState) -> list[int]:
    """Return the days of the feedings that count as given."""
    return [each.step.day for each in state.given]


class TestSteps:
    """What a day of the schedule asks for."""

    def test_water_before_the_first_feeding_is_soaking(self) -> None:
        """After it, it is water."""
        actions = [action_of(SOAK_FIRST, step) for step in SOAK_FIRST.schedule.days]
        first_feed = actions.index(Action.FEED)
        assert first_feed > 0
        assert set(actions[:first_feed]) == {Action.SOAK}
        assert Action.SOAK not in actions[first_feed:]
        assert Action.WATER in actions[first_feed:]

    def test_finishing_is_feeding(self) -> None:
        """Only water is not."""
        feedings = [step.day for step in ROW.schedule.days if is_feeding(step)]
        assert feedings == [1, 3, 5, 7, 8, 9, 10]

    def test_keys_carry_day_and_action(self) -> None:
        """The first soaking has one of its own beside the feeding of the same day."""
        assert KEYS[1] == key_of("row-a-1-feed")
        assert KEYS[2] == key_of("row-a-2-water")
        assert soak_key(ROW) == key_of("row-a-1-soak")


class TestWithoutAJournal:
    """The plan speaks."""

    @pytest.mark.parametrize("day", [1, 2, 5, 11])
    def test_past_days_count_as_done_as_planned(self, day: int) -> None:
        """Each on its own date."""
        state = walk(day=day)
        assert next_day(state) == day
        assert [(each.step.day, each.on) for each in state.given] == [
            (each, on_day(each)) for each in (1, 3, 5, 7, 8, 9, 10) if each < day
        ]
        assert state.finished_on is None

    def test_it_ends_on_its_last_day(self) -> None:
        """And stays over."""
        for day in (12, 30):
            state = walk(day=day)
            assert next_day(state) is None
            assert state.finished_on == on_day(11)

    def test_before_its_start_nothing_has_happened(self) -> None:
        """Walked to a date before it, it stands at the beginning."""
        assert walk(day=-3) == SequenceState()


class TestTold:
    """What the daemon told."""

    def test_told_as_due_counts_as_given(self) -> None:
        """Until the grower says otherwise."""
        assert given_days(walk(*mornings(5), day=6)) == [1, 3, 5]

    def test_a_held_feeding_stays_in_front_and_is_counted(self) -> None:
        """Day by day."""
        rows = mornings(5, d5=State.HELD)
        state = walk(*rows, day=6)
        assert (next_day(state), state.held_days, given_days(state)) == (5, 1, [1, 3])
        rows = (*rows, briefed(6), told(6, KEYS[5], State.HELD))
        state = walk(*rows, day=7)
        assert (next_day(state), state.held_days) == (5, 2)
        assert state.waits_since == on_day(5)

    def test_held_water_is_passed_over(self) -> None:
        """A day of water does not stop the sequence."""
        state = walk(*mornings(4, d4=State.HELD), day=5)
        assert (next_day(state), state.held_days) == (5, 0)

    def test_the_count_of_held_days_ends_with_the_feeding(self) -> None:
        """The next in line begins at none; the day of water after it is given up for the wait."""
        rows = (*mornings(5, d5=State.HELD), briefed(6), told(6, KEYS[5]))
        state = walk(*rows, day=7)
        assert (next_day(state), state.held_days, given_days(state)) == (7, 0, [1, 3, 5])
        assert (state.given[-1].on, state.behind) == (on_day(6), 0)

    def test_where_no_day_of_water_follows_the_sequence_moves_and_catches_up_later(self) -> None:
        """Day 8 is fed on day 9, and day 11 of water makes up for it."""
        rows = mornings(8, d8=State.HELD)
        rows = (*rows, briefed(9), told(9, KEYS[8]))
        state = walk(*rows, day=10)
        assert (next_day(state), state.behind) == (9, 1)
        rows = (*rows, briefed(10), told(10, KEYS[9]), briefed(11), told(11, KEYS[10]))
        state = walk(*rows, day=12)
        assert (next_day(state), state.finished_on, state.behind) == (None, on_day(11), 0)

    @pytest.mark.parametrize(
        ("position", "behind", "days"), [(4, 0, 0), (4, 2, 1), (7, 0, 0), (7, 1, 1)]
    )
    def test_a_wait_costs_a_day_once_no_day_of_water_is_left(
        self, position: int, behind: int, days: int
    ) -> None:
        """Days 6 and 11 are of water."""
        assert wait_costs_days(SequenceState(position=position, behind=behind), ROW) == days

    def test_what_is_still_in_line_is_told_without_the_days_given_up(self) -> None:
        """Day 5 has waited for a day."""
        state = SequenceState(position=4, behind=1)
        assert [step.day for step in coming(state, ROW)] == [5, 7, 8, 9, 10, 11]
        assert [step.day for step in coming(SequenceState(position=4), ROW)] == [
            5,
            6,
            7,
            8,
            9,
            10,
            11,
        ]

    def test_held_in_the_course_of_the_day_it_may_have_been_given(self) -> None:
        """Which the next morning says."""
        taken_back = told(5, KEYS[5], State.HELD, EntryKind.TAKEN_BACK)
        doubtful = walk(*mornings(5), taken_back, day=6)
        plain = walk(*mornings(5, d5=State.HELD), day=6)
        assert (next_day(doubtful), doubtful.taken_back) == (5, True)
        assert (next_day(plain), plain.taken_back) == (5, False)

    def test_a_first_soaking_told_alone_is_remembered(self) -> None:
        """The feeding of that day was held; the bales are wet all the same."""
        rows = (briefed(1), told(1, soak_key(ROW)), told(1, KEYS[1], State.HELD))
        state = walk(*rows, day=2)
        assert (next_day(state), state.soaked) == (1, True)
        both = (briefed(1), told(1, soak_key(ROW), State.HELD), told(1, KEYS[1], State.HELD))
        assert walk(*both, day=2).soaked is False


class TestWords:
    """What the grower says."""

    def test_done_in_spite_of_a_hold_counts(self) -> None:
        """On the day it was said."""
        rows = (*mornings(5, d5=State.HELD), done(KEYS[5], at(on_day(5), 9), on_day(5)))
        state = walk(*rows, day=6)
        assert (next_day(state), given_days(state)) == (6, [1, 3, 5])

    def test_done_ahead_of_its_turn_is_passed_over_later(self) -> None:
        """Day 7 was fed on day 6; on day 7 the next is day 8."""
        rows = (*mornings(6), done(KEYS[7], at(on_day(6), 9), on_day(6)))
        state = walk(*rows, day=7)
        assert next_day(state) == 8
        assert (state.given[-1].step.day, state.given[-1].on) == (7, on_day(6))

    def test_missed_the_same_evening_it_is_first_again(self) -> None:
        """And counts as given no more."""
        rows = (*mornings(5), missed(KEYS[5], at(on_day(5), 20), on_day(5)))
        state = walk(*rows, day=6)
        assert (next_day(state), given_days(state), state.held_days) == (5, [1, 3], 0)

    def test_missed_the_next_morning_before_the_brief_it_is_due_that_day(self) -> None:
        """Day 5 comes before day 6."""
        rows = (*mornings(5), missed(KEYS[5], at(on_day(6), 6, 0), on_day(6)))
        state = walk(*rows, day=6)
        assert (next_day(state), given_days(state)) == (5, [1, 3])
        rows = (*rows, briefed(6), told(6, KEYS[5]))
        assert next_day(walk(*rows, day=7)) == 6

    def test_missed_after_that_days_brief_it_is_due_the_day_after(self) -> None:
        """The day was told already."""
        rows = (*mornings(6), missed(KEYS[5], at(on_day(6), 9), on_day(6)))
        assert next_day(walk(*rows, day=7)) == 5

    @pytest.mark.parametrize(("minute", "first"), [(29, 5), (30, 7), (31, 7)])
    def test_the_minute_of_the_brief_parts_the_two(self, minute: int, first: int) -> None:
        """Said before 06:30 of the day it is due the same day, from then on the next."""
        rows = (*mornings(6), briefed(7), missed(KEYS[5], at(on_day(7), 6, minute), on_day(7)))
        assert next_day(walk(*rows, day=7)) == first

    def test_a_feeding_of_an_older_season_is_not_passed_over(self) -> None:
        """The same batch name, a year before."""
        before = START - timedelta(days=360)
        rows = (done(KEYS[5], at(before), before),)
        assert next_day(state_at(garden(ROW), ROW, JournalIndex.of(rows), on_day(5)).sequence) == 5

    def test_the_last_word_of_a_day_counts(self) -> None:
        """Done, then missed."""
        rows = (
            *mornings(5),
            done(KEYS[5], at(on_day(5), 9), on_day(5)),
            missed(KEYS[5], at(on_day(5), 20), on_day(5)),
        )
        assert next_day(walk(*rows, day=6)) == 5

    def test_missed_and_then_done_after_all_counts(self) -> None:
        """The evening's word goes before the morning's."""
        rows = (
            *mornings(5),
            missed(KEYS[5], at(on_day(5), 9), on_day(5)),
            done(KEYS[5], at(on_day(5), 20), on_day(5)),
        )
        state = walk(*rows, day=6)
        assert (next_day(state), given_days(state)) == (6, [1, 3, 5])

    def test_said_in_the_minute_of_the_brief_it_comes_back_the_day_after(self) -> None:
        """The day was being told."""
        rows = (*mornings(7), missed(KEYS[5], at(on_day(7)), on_day(7)))
        assert next_day(walk(*rows, day=8)) == 5

    def test_missed_after_days_of_holding_it_is_counted_from_none(self) -> None:
        """Held twice, then told, then forgotten."""
        rows = (
            *mornings(5, d5=State.HELD),
            briefed(6),
            told(6, KEYS[5], State.HELD),
            briefed(7),
            told(7, KEYS[5]),
            missed(KEYS[5], at(on_day(7), 20), on_day(7)),
        )
        state = walk(*rows, day=8)
        assert (next_day(state), state.held_days) == (5, 0)

    def test_missed_at_the_very_end_opens_the_sequence_again(self) -> None:
        """The last feeding was not given; it is over only after it."""
        rows = (*mornings(11), missed(KEYS[10], at(on_day(12), 6, 0), on_day(12)))
        state = walk(*rows, day=12)
        assert (next_day(state), state.finished_on) == (10, None)
        rows = (*rows, briefed(12), told(12, KEYS[10]))
        state = walk(*rows, day=13)
        assert (next_day(state), state.finished_on) == (None, on_day(12))

    def test_two_that_were_missed_come_in_their_order(self) -> None:
        """Said one after the other, the earlier last."""
        rows = (
            *mornings(6),
            missed(KEYS[5], at(on_day(7), 5), on_day(7)),
            missed(KEYS[3], at(on_day(7), 5, 1), on_day(7)),
        )
        assert [step.day for step in walk(*rows, day=7).again] == [3, 5]


class TestIsMissed:
    """Which day the word missed is about."""

    def test_without_a_word_nothing_is_missed(self) -> None:
        """Nor when it was done."""
        state = walk(*mornings(4), day=5)
        index = JournalIndex.of(mornings(5))
        assert not is_missed(state, ROW, index.day(ROW, on_day(5)), KEYS[5])
        index = JournalIndex.of((*mornings(5), done(KEYS[5], at(on_day(5), 9), on_day(5))))
        assert not is_missed(state, ROW, index.day(ROW, on_day(5)), KEYS[5])

    def test_after_the_brief_it_is_about_that_day(self) -> None:
        """At its very minute too."""
        state = walk(*mornings(4), day=5)
        for minute in (30, 31):
            word = missed(KEYS[5], at(on_day(5), 6, minute), on_day(5))
            index = JournalIndex.of((*mornings(5), word))
            assert is_missed(state, ROW, index.day(ROW, on_day(5)), KEYS[5])

    def test_before_the_brief_it_is_about_the_day_it_waited_since(self) -> None:
        """A step that was held yesterday is due today, not missed."""
        rows = (*mornings(5, d5=State.HELD), missed(KEYS[5], at(on_day(6), 6, 0), on_day(6)))
        state = walk(*rows, day=6)
        assert not is_missed(state, ROW, JournalIndex.of(rows).day(ROW, on_day(6)), KEYS[5])

    def test_in_the_minute_of_the_brief_it_is_about_that_day(self) -> None:
        """Held yesterday, told today, and missed."""
        rows = (
            *mornings(5, d5=State.HELD),
            briefed(6),
            told(6, KEYS[5]),
            missed(KEYS[5], at(on_day(6)), on_day(6)),
        )
        assert is_missed(
            walk(*rows, day=6), ROW, JournalIndex.of(rows).day(ROW, on_day(6)), KEYS[5]
        )

    def test_before_the_brief_of_its_first_day_it_is_about_that_day(self) -> None:
        """It cannot mean an earlier one."""
        rows = (*mornings(4), missed(KEYS[5], at(on_day(5), 6, 0), on_day(5)))
        state = walk(*rows, day=5)
        assert is_missed(state, ROW, JournalIndex.of(rows).day(ROW, on_day(5)), KEYS[5])


class TestDowntime:
    """Mornings that nobody told."""

    def test_the_sequence_waits_for_the_first_untold_feeding(self) -> None:
        """Told until day 2, silent from day 3 to 6: days 3 and 5 are asked about."""
        state = walk(*mornings(2), day=7)
        assert next_day(state) == 3
        assert [(each.day, each.on, each.key) for each in state.questions] == [
            (3, on_day(3), KEYS[3]),
            (5, on_day(5), KEYS[5]),
        ]

    def test_untold_water_is_not_asked_about(self) -> None:
        """It passes."""
        state = walk(*mornings(3), day=5)
        assert (next_day(state), state.questions) == (5, ())

    def test_a_day_whose_brief_was_told_is_no_downtime(self) -> None:
        """Another row was told of; this feeding just waits."""
        state = walk(*mornings(4), briefed(5), day=6)
        assert (next_day(state), state.questions) == (5, ())

    def test_answered_done_it_counts_on_the_day_it_would_have_been(self) -> None:
        """And the next question is asked."""
        rows = (*mornings(2), done(KEYS[3], at(on_day(7), 7), on_day(7)))
        state = walk(*rows, day=8)
        assert given_days(state) == [1, 3]
        assert state.given[-1].on == on_day(3)
        assert [each.day for each in state.questions] == [5, 7]

    def test_an_answer_to_a_later_one_is_not_asked_again(self) -> None:
        """Day 5 was answered first; day 3 still waits."""
        rows = (*mornings(2), done(KEYS[5], at(on_day(7), 7), on_day(7)))
        state = walk(*rows, day=8)
        assert next_day(state) == 3
        assert [each.day for each in state.questions] == [3, 7]

    def test_answered_missed_it_waits_without_a_question(self) -> None:
        """It is due, and the rest moves."""
        rows = (*mornings(2), missed(KEYS[3], at(on_day(7), 6), on_day(7)))
        state = walk(*rows, day=7)
        assert next_day(state) == 3
        assert 3 not in [each.day for each in state.questions]

    def test_a_season_before_the_journal_is_as_planned(self) -> None:
        """Told for the first time on day 4: days 1 to 3 were the plan's own."""
        rows = (briefed(4), told(4, KEYS[4]))
        state = walk(*rows, day=5)
        assert (given_days(state), state.questions) == ([1, 3], ())


def test_a_date_is_opened_twice_to_the_same_state() -> None:
    """Opening a day that was opened changes nothing."""
    rows = (*mornings(5), missed(KEYS[5], at(on_day(6), 6, 0), on_day(6)))
    index = JournalIndex.of(rows)
    state = state_at(garden(ROW), ROW, index, on_day(6)).sequence
    assert open_day(state, ROW, index.day(ROW, on_day(6))) == state


class TestTheFirstSoaking:
    """Feed on dry bales does nothing: day 1 of soak-first stays day 1 until it was told as due."""

    @staticmethod
    def walk(*rows: JournalEntry, day: int) -> tuple[int, int, bool]:
        """Return the day in line, the days it was held and whether the bales are soaked."""
        state = state_at(
            garden(SOAK_FIRST), SOAK_FIRST, JournalIndex.of(rows), on_day(day)
        ).sequence
        step = front(state, SOAK_FIRST)
        assert step is not None
        return step.day, state.held_days, state.soaked

    HELD = (briefed(1), told(1, soak_key(SOAK_FIRST), State.HELD))

    def test_held_it_is_still_day_1(self) -> None:
        """For as long as it is held."""
        assert self.walk(*self.HELD, day=2) == (1, 1, False)
        longer = (*self.HELD, briefed(2), told(2, soak_key(SOAK_FIRST), State.HELD))
        assert self.walk(*longer, day=3) == (1, 2, False)

    def test_told_as_due_the_next_day_is_day_2(self) -> None:
        """A day later than planned."""
        rows = (*self.HELD, briefed(2), told(2, soak_key(SOAK_FIRST)))
        assert self.walk(*rows, day=3) == (2, 0, True)

    def test_held_and_then_not_told_it_waits(self) -> None:
        """The daemon was down on the second day; nobody has said that the bales are wet."""
        rows = (*self.HELD, briefed(3))
        assert self.walk(*rows, day=3) == (1, 1, False)

    def test_done_in_spite_of_the_hold_counts(self) -> None:
        """Said the same day, or the next before or after its brief."""
        key = soak_key(SOAK_FIRST)
        same = (*self.HELD, done(key, at(on_day(1), 9), on_day(1)))
        assert self.walk(*same, day=2) == (2, 0, True)
        next_day = (*self.HELD, done(key, at(on_day(2), 9), on_day(2)))
        assert self.walk(*next_day, day=3) == (2, 0, True)

    def test_missed_the_same_day_it_is_told_again(self) -> None:
        """It was told as due, and did not happen."""
        key = soak_key(SOAK_FIRST)
        rows = (briefed(1), told(1, key), missed(key, at(on_day(1), 20), on_day(1)))
        assert self.walk(*rows, day=2)[:2] == (1, 0)

    def test_missed_the_next_morning_it_is_told_that_day(self) -> None:
        """Before the brief of day 2, as before one of day 4: dry bales take up no feed."""
        key = soak_key(SOAK_FIRST)
        for day in (2, 4):
            days = SOAK_FIRST.schedule.days[: day - 1]
            past = [
                row
                for number, step in enumerate(days, 1)
                for row in (briefed(number), told(number, step_key(SOAK_FIRST, step)))
            ]
            word = missed(key, at(on_day(day), 5), on_day(day))
            assert self.walk(*past, word, day=day) == (1, 0, False)
            again = (*past, word, briefed(day), told(day, key))
            assert self.walk(*again, day=day + 1) == (day, 0, True)

    def test_missed_after_the_brief_of_a_later_day_it_is_told_the_next(self) -> None:
        """The word came in the evening of day 2."""
        key = soak_key(SOAK_FIRST)
        second = step_key(SOAK_FIRST, SOAK_FIRST.schedule.days[1])
        rows = (briefed(1), told(1, key), briefed(2), told(2, second))
        word = missed(key, at(on_day(2), 20), on_day(2))
        assert self.walk(*rows, word, day=3) == (1, 0, False)

    def test_missed_with_the_feeding_of_its_day_both_are_told_again(self) -> None:
        """Where day 1 is a feeding, its soaking goes with it."""
        rows = (briefed(1), told(1, soak_key(ROW)), told(1, KEYS[1]))
        words = [missed(key, at(on_day(2), 5), on_day(2)) for key in (soak_key(ROW), KEYS[1])]
        for order in (words, words[::-1]):
            state = walk(*rows, *order, day=2)
            assert (next_day(state), given_days(state), state.soaked) == (1, [], False)

    def test_missed_alone_the_bales_are_dry_until_it_is_told(self) -> None:
        """The feed of day 1 lies on dry straw: they are soaked on the day of water after it."""
        rows = (briefed(1), told(1, soak_key(ROW)), told(1, KEYS[1]))
        word = missed(soak_key(ROW), at(on_day(2), 5), on_day(2))
        dry = walk(*rows, word, day=2)
        assert (next_day(dry), given_days(dry), dry.soaked) == (2, [1], False)
        (task,) = conditioning(Day(garden(ROW), ROW, BatchState(dry), DayLog(on_day(2))))
        assert (task.key, task.action) == (soak_key(ROW), Action.SOAK)
        for state, soaked in ((State.DUE, True), (State.HELD, False)):
            after = (*rows, word, briefed(2), told(2, soak_key(ROW), state))
            assert walk(*after, day=3).soaked is soaked

    def test_a_soaking_held_with_its_feeding_and_done_all_the_same_counts(self) -> None:
        """The grower went out before the rain."""
        key = soak_key(ROW)
        rows = (briefed(1), told(1, key, State.HELD), told(1, KEYS[1], State.HELD))
        state = walk(*rows, done(key, at(on_day(1), 9), on_day(1)), day=2)
        assert (next_day(state), state.soaked) == (1, True)

    def test_a_later_soaking_held_is_passed_over(self) -> None:
        """The bales are wet already."""
        second = step_key(SOAK_FIRST, SOAK_FIRST.schedule.days[1])
        rows = (briefed(1), told(1, soak_key(SOAK_FIRST)), briefed(2), told(2, second, State.HELD))
        assert self.walk(*rows, day=3) == (3, 0, True)
