"""The day's brief, decided from a plan, a journal and a forecast."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.schedules import SCHEDULES
from strawbell.agronomy.watering import WASH_IN_MM, first_soak_l
from strawbell.decision.brief import brief, suppose_told
from strawbell.model.brief import (
    Action,
    AlertCode,
    Also,
    Brief,
    Instead,
    ReasonCode,
    State,
    Task,
)
from strawbell.model.details import SoakDetail
from strawbell.model.forecast import Forecast, ForecastStatus, Hour
from strawbell.model.garden import Garden, Method
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from support.gardens import (
    RADISH,
    START,
    at,
    batch,
    done,
    forecast,
    garden,
    hour_at,
    missed,
    on_day,
    planting,
    tell,
)
from support.keys import key_of

FEED_5 = key_of("row-a-5-feed")


def feeding(today: Brief) -> Task:
    """Return the one feeding of a brief."""
    (task,) = [task for task in today.tasks if task.action is Action.FEED]
    return task


def told_through(plan: Garden, last: date) -> Journal:
    """Return the journal of a daemon that told every mild morning through a date."""
    journal: Journal = ()
    on = START
    while on <= last:
        moment = at(on)
        journal = tell(journal, brief(plan, journal, forecast(moment), moment))
        on += timedelta(days=1)
    return journal


@pytest.mark.parametrize(
    ("day", "action"),
    [
        (1, Action.FEED),
        (2, Action.WATER),
        (3, Action.FEED),
        (4, Action.WATER),
        (5, Action.FEED),
        (6, Action.WATER),
        (7, Action.FEED),
        (8, Action.FEED),
        (9, Action.FEED),
        (10, Action.FEED),
        (11, Action.WATER),
    ],
)
def test_an_empty_journal_shows_the_plans_own_day(day: int, action: Action) -> None:
    """Past days count as done as planned when the journal says nothing."""
    moment = at(on_day(day))
    task = brief(garden(), (), forecast(moment), moment).tasks[-1]
    assert (task.day, task.action, task.state) == (day, action, State.DUE)


def test_a_full_dose_of_blood_meal_is_four_hundred_grams_a_bale() -> None:
    """48 g of nitrogen at 12 % is 400 g of feed, 2.4 kg for six bales."""
    moment = at(on_day(5))
    dose = feeding(brief(garden(), (), forecast(moment), moment)).dose
    assert dose is not None
    assert (dose.per_bale_g, dose.total_g, dose.nitrogen_per_bale_g) == (400.0, 2400.0, 48.0)


def test_the_first_morning_soaks_before_it_feeds() -> None:
    """A dry bale is soaked before its first feed."""
    moment = at(START)
    tasks = brief(garden(), (), forecast(moment), moment).tasks
    assert [task.action for task in tasks] == [Action.SOAK, Action.FEED]


@pytest.mark.parametrize(
    ("millimetres", "state"),
    [(18.11, State.DUE), (18.13, State.HELD), (20.0, State.HELD)],
)
def test_rain_holds_a_feeding_from_even_chances_of_half_an_inch_on(
    millimetres: float, state: State
) -> None:
    """After a forecast of 18.12 mm for a day half an inch is as likely as not."""
    moment = at(on_day(5))
    wet = hour_at(at(on_day(5), 15, 0), rain_mm=millimetres)
    assert feeding(brief(garden(), (), forecast(moment, wet), moment)).state is state


@pytest.mark.parametrize(("millimetres", "said"), [(10.9, False), (11.0, True)])
def test_rain_that_holds_nothing_is_told_from_one_in_five_on(
    millimetres: float, said: bool
) -> None:
    """Who is told to feed may still think better of it."""
    moment = at(on_day(5))
    wet = hour_at(at(on_day(5), 15, 0), rain_mm=millimetres)
    task = feeding(brief(garden(), (), forecast(moment, wet), moment))
    assert task.state is State.DUE
    assert [why.code for why in task.reasons] == [ReasonCode.RAIN_POSSIBLE] * said


@pytest.mark.parametrize(
    ("low_c", "state"), [(0.1, State.DUE), (0.0, State.HELD), (-3.1, State.HELD)]
)
def test_a_freeze_holds_a_feeding_from_the_threshold_on(low_c: float, state: State) -> None:
    """At or under 0 degC in the next 24 h the bales are left alone."""
    moment = at(on_day(5))
    night = at(on_day(6), 5, 0)
    task = feeding(
        brief(garden(), (), forecast(moment, hour_at(night, temperature_c=low_c)), moment)
    )
    assert task.state is state
    if state is State.HELD:
        (reason,) = task.reasons
        assert (reason.code, reason.value, reason.threshold) == (ReasonCode.FREEZE, low_c, 0.0)
        assert reason.at is not None
        assert reason.at.isoformat() == "2027-04-10T05:00:00+02:00"
        assert task.held_until == on_day(6)
        assert Instead.NO_WATER_BEFORE_FREEZE in task.instead


def hot(hour: Hour) -> Hour:
    """Make the middle of each day hot."""
    return replace(hour, temperature_c=33.0) if 9 <= hour.starts_at.hour <= 16 else hour


def test_on_a_hot_feed_day_the_bales_are_watered_once() -> None:
    """What washes the feed in is the water of the day; why is said with it."""
    moment = at(on_day(5))
    (task,) = brief(garden(), (), forecast(moment, hot), moment).tasks
    assert (task.action, task.state) == (Action.FEED, State.DUE)
    assert task.dose is not None
    assert task.water_per_bale_l == pytest.approx(WASH_IN_MM * 0.45)
    assert [why.code for why in task.reasons] == [ReasonCode.HOT_DRY]
    assert task.also == (Also.AGAIN_IF_DRY,)


def test_on_a_hot_day_whose_feed_is_held_the_bales_get_what_they_lack() -> None:
    """Too hot inside for more feed, and drying out from above."""
    moment = at(on_day(5))
    probe = JournalEntry(
        moment, "Orchard corner", on_day(5), EntryKind.TEMPERATURE, "Row A", value=66.0
    )
    told = brief(garden(), (probe,), forecast(moment, hot), moment).tasks
    assert [(task.action, task.state) for task in told] == [
        (Action.FEED, State.HELD),
        (Action.WATER, State.DUE),
    ]
    assert 0.0 < (told[1].water_per_bale_l or 0.0) < 10.0


@pytest.mark.parametrize(("day", "again"), [(1, False), (2, True), (3, True)])
def test_a_soaking_after_the_first_is_told_as_one(day: int, again: bool) -> None:
    """It takes a gallon where the first took fifteen."""
    plan = garden(batch(schedule=SCHEDULES["soak-first"]))
    moment = at(on_day(day))
    (task,) = brief(plan, told_through(plan, on_day(day - 1)), forecast(moment), moment).tasks
    assert task.action is Action.SOAK
    assert task.detail == SoakDetail(again)


def test_a_freeze_after_the_look_ahead_holds_nothing() -> None:
    """The window ends 24 h after the decision."""
    moment = at(on_day(5))
    later = hour_at(at(on_day(6), 7, 0), temperature_c=-5.0)
    assert feeding(brief(garden(), (), forecast(moment, later), moment)).state is State.DUE


@pytest.mark.parametrize(("high_c", "soaked"), [(4.9, False), (5.0, True)])
def test_dry_bales_are_soaked_at_a_mild_noon_whatever_the_night_does(
    high_c: float, soaked: bool
) -> None:
    """The feed waits its day; on a day that stays cold the soaking does too."""
    moment = at(on_day(1))
    cold = forecast(moment, hour_at(at(on_day(2), 5, 0), temperature_c=-3.0), temperature_c=high_c)
    soaking, feed = brief(garden(), (), cold, moment).tasks
    assert feed.state is State.HELD
    assert soaking.state is (State.DUE if soaked else State.HELD)
    if soaked:
        assert [why.code for why in soaking.reasons] == [ReasonCode.WARM_HOURS]
    else:
        assert soaking.instead == (Instead.SOAK_AFTER_FREEZE, Instead.DRAIN_HOSE)


@pytest.mark.parametrize("schedule", ["soak-first", "alternate-days"])
def test_a_first_soaking_held_for_a_freeze_is_told_in_full_the_morning_after(
    schedule: str,
) -> None:
    """Nobody calls bales moist that were never wet, and none is fed before it is."""
    plan = garden(batch(schedule=SCHEDULES[schedule]))
    moment = at(on_day(1))
    cold = forecast(moment, hour_at(at(on_day(2), 5, 0), temperature_c=-3.0), temperature_c=3.0)
    first = brief(plan, (), cold, moment)
    assert {task.state for task in first.tasks} == {State.HELD}
    moment = at(on_day(2))
    soaking = brief(plan, tell((), first), forecast(moment), moment).tasks[0]
    assert (soaking.action, soaking.state, soaking.day) == (Action.SOAK, State.DUE, 1)
    assert soaking.water_per_bale_l == pytest.approx(first_soak_l(plan.batches[0].bale))


def test_rain_on_the_first_day_does_not_keep_dry_bales_dry() -> None:
    """The feed waits, the soaking does not: no line says to give no water either."""
    moment = at(on_day(1))
    wet = hour_at(at(on_day(1), 15, 0), rain_mm=20.0, rain_chance_percent=90.0)
    soaking, feed = brief(garden(), (), forecast(moment, wet), moment).tasks
    assert (soaking.state, feed.state, feed.instead) == (State.DUE, State.HELD, ())


def test_both_reasons_are_given_where_both_hold() -> None:
    """Rain and freeze are both said."""
    moment = at(on_day(5))

    def both(hour):
        wet = hour_at(at(on_day(5), 15, 0), rain_mm=20.0, rain_chance_percent=90.0)(hour)
        return hour_at(at(on_day(6), 5, 0), temperature_c=-1.0)(wet)

    task = feeding(brief(garden(), (), forecast(moment, both), moment))
    assert [why.code for why in task.reasons] == [ReasonCode.HEAVY_RAIN, ReasonCode.FREEZE]


def told_from(plan: Garden, journal: Journal, days: range, cold: range) -> list[tuple[int, State]]:
    """Return the step in front and its state on each day, with a frost after the cold ones."""
    seen = []
    for day in days:
        moment = at(on_day(day))
        low_c = -5.0 if day in cold else 8.0
        expected = forecast(moment, hour_at(at(on_day(day + 1), 5, 0), temperature_c=low_c))
        today = brief(plan, journal, expected, moment)
        journal = tell(journal, today)
        step = next((task for task in today.tasks if task.day is not None), None)
        seen.append((step.day, step.state) if step and step.day else (0, State.DUE))
    return seen


def test_an_ordinary_frost_postpones_a_feeding_by_a_day_and_costs_the_sequence_none() -> None:
    """It takes the next day of water; the feedings after it stay where they were."""
    plan = garden()
    seen = told_from(plan, told_through(plan, on_day(4)), range(5, 9), range(5, 6))
    assert seen == [(5, State.HELD), (5, State.DUE), (7, State.DUE), (8, State.DUE)]


def test_weeks_of_frosty_nights_and_mild_days_never_stall_the_season() -> None:
    """Nights at -5 degC, days at 14: no feeding waits more than a day."""
    seen = told_from(garden(), (), range(1, 20), range(1, 20))
    waits = [day for day, state in seen if state is State.HELD]
    assert len(waits) == len(set(waits))
    last_fed = max(number for number, (day, _) in enumerate(seen, 1) if day == 10)
    assert last_fed <= 14


def test_a_bale_that_works_warm_is_fed_through_the_frost() -> None:
    """50 degC by the probe: in the warm hours of the day."""
    plan = garden()
    moment = at(on_day(5))
    probe = JournalEntry(
        moment, "Orchard corner", on_day(5), EntryKind.TEMPERATURE, "Row A", value=50.0
    )
    journal = (*told_through(plan, on_day(4)), probe)
    cold = forecast(moment, hour_at(at(on_day(6), 5, 0), temperature_c=-5.0))
    task = feeding(brief(plan, journal, cold, moment))
    assert task.state is State.DUE
    assert [why.code for why in task.reasons] == [ReasonCode.WARM_HOURS]


def test_a_held_feeding_says_what_the_wait_costs() -> None:
    """Nothing on day 5, which day 6 of water makes up for."""
    plan = garden()
    moment = at(on_day(5))
    cold = forecast(moment, hour_at(at(on_day(6), 5, 0), temperature_c=-5.0))
    told = feeding(brief(plan, told_through(plan, on_day(4)), cold, moment))
    assert [why.wait_costs_days for why in told.reasons] == [0]


def test_a_hold_of_seven_days_asks_the_grower_to_decide() -> None:
    """A week of standing still, 4 degC by the probe every morning, is the grower's to end."""
    plan = garden()
    journal = told_through(plan, on_day(4))
    for later in range(8):
        on = on_day(5 + later)
        moment = at(on)
        probe = JournalEntry(
            moment - timedelta(hours=1),
            plan.name,
            on,
            EntryKind.TEMPERATURE,
            "Row A",
            value=4.0,
        )
        journal = (*journal, probe)
        today = brief(plan, journal, forecast(moment, temperature_c=-3.0), moment)
        journal = tell(journal, today)
        asked = Instead.DECIDE_YOURSELF in feeding(today).instead
        assert asked is (later >= 7)


def test_a_hold_that_was_told_is_never_recomputed() -> None:
    """A newer forecast does not undo the hold of a past morning."""
    plan = garden()
    journal = told_through(plan, on_day(4))
    moment = at(on_day(5))
    night = hour_at(at(on_day(6), 5, 0), temperature_c=-2.0)
    journal = tell(journal, brief(plan, journal, forecast(moment, night), moment))
    later = at(on_day(6))
    assert feeding(brief(plan, journal, forecast(later), later)).key == FEED_5


def test_without_a_forecast_the_feeding_is_told_and_marked() -> None:
    """No forecast is neither dry nor warm: the work is told with that sentence."""
    today = brief(garden(), (), None, at(on_day(5)))
    task = feeding(today)
    assert task.state is State.DUE
    assert [why.code for why in task.reasons] == [ReasonCode.NO_FORECAST]
    assert today.forecast.status is ForecastStatus.MISSING
    assert AlertCode.NO_FORECAST in [alert.code for alert in today.alerts]


def test_a_stale_forecast_holds_nothing_and_says_its_age() -> None:
    """Over 12 h old a forecast is not decided on, at 12 h it is."""
    moment = at(on_day(5))
    cold = hour_at(at(on_day(6), 5, 0), temperature_c=-2.0)
    old = forecast(moment - timedelta(hours=12, minutes=1), cold)
    task = feeding(brief(garden(), (), old, moment))
    assert (task.state, task.reasons[0].code) == (State.DUE, ReasonCode.STALE_FORECAST)
    aged = forecast(moment - timedelta(hours=12), cold)
    assert feeding(brief(garden(), (), aged, moment)).state is State.HELD


def test_a_missing_hour_makes_the_rule_unknown_and_is_said() -> None:
    """One unknown hour of rain and of temperature: both are said, nothing is held."""
    moment = at(on_day(5))
    hole = hour_at(at(on_day(5), 15, 0), rain_mm=None, temperature_c=None)
    task = feeding(brief(garden(), (), forecast(moment, hole), moment))
    assert task.state is State.DUE
    assert {why.code for why in task.reasons} == {
        ReasonCode.RAIN_UNKNOWN,
        ReasonCode.TEMPERATURE_UNKNOWN,
    }


def test_what_is_known_to_be_enough_holds_in_spite_of_a_missing_hour() -> None:
    """Known rain over the threshold does not wait for the unknown hour."""
    moment = at(on_day(5))

    def holed(hour):
        wet = hour_at(at(on_day(5), 15, 0), rain_mm=20.0)(hour)
        return hour_at(at(on_day(5), 18, 0), rain_mm=None)(wet)

    assert feeding(brief(garden(), (), forecast(moment, holed), moment)).state is State.HELD


def test_a_feeding_recorded_missed_is_due_again_the_next_day() -> None:
    """What follows moves by the day that was lost."""
    plan = garden()
    journal = told_through(plan, on_day(5))
    evening = at(on_day(5), 20, 0)
    journal = (*journal, missed(FEED_5, evening, on_day(5)))
    assert feeding(brief(plan, journal, None, evening)).state is State.MISSED
    moment = at(on_day(6))
    again = feeding(brief(plan, journal, forecast(moment), moment))
    assert (again.key, again.state) == (FEED_5, State.DUE)
    journal = tell(journal, brief(plan, journal, forecast(moment), moment))
    moment = at(on_day(7))
    assert brief(plan, journal, forecast(moment), moment).tasks[0].day == 6


def test_a_feeding_recorded_missed_days_later_comes_back() -> None:
    """Remembered two days late, it is due on the day it is recorded, before that day's brief."""
    plan = garden()
    journal = told_through(plan, on_day(6))
    journal = (*journal, missed(FEED_5, at(on_day(7), 6, 0), on_day(7)))
    moment = at(on_day(7))
    today = brief(plan, journal, forecast(moment), moment)
    assert feeding(today).key == FEED_5
    journal = tell(journal, today)
    moment = at(on_day(8))
    assert feeding(brief(plan, journal, forecast(moment), moment)).key == key_of("row-a-7-feed")


def test_a_done_task_is_shown_done() -> None:
    """The grower's own word is believed."""
    plan = garden()
    journal = (*told_through(plan, on_day(5)), done(FEED_5, at(on_day(5), 9, 0), on_day(5)))
    assert feeding(brief(plan, journal, None, at(on_day(5), 10, 0))).state is State.DONE


def test_a_held_feeding_done_all_the_same_is_not_told_again() -> None:
    """The grower fed in spite of the hold; the sequence goes on."""
    plan = garden()
    journal = told_through(plan, on_day(4))
    moment = at(on_day(5))
    night = hour_at(at(on_day(6), 5, 0), temperature_c=-2.0)
    journal = tell(journal, brief(plan, journal, forecast(moment, night), moment))
    journal = (*journal, done(FEED_5, at(on_day(5), 9, 0), on_day(5)))
    moment = at(on_day(6))
    assert brief(plan, journal, forecast(moment), moment).tasks[0].day == 6


class TestAfterADowntime:
    """The daemon told days 1 and 2, was down on 3 to 5, and wakes on day 6."""

    @staticmethod
    def wake(*answers: tuple[str, bool]) -> Brief:
        """Return the brief of day 6 after the grower's answers."""
        plan = garden()
        journal = told_through(plan, on_day(2))
        moment = at(on_day(6))
        for key, was_done in answers:
            say = done if was_done else missed
            journal = (*journal, say(key, moment, on_day(6)))
        return brief(plan, journal, forecast(moment), moment)

    def test_the_untold_feedings_are_listed_and_asked_about(self) -> None:
        """Days 3 and 5 were feedings nobody was told of."""
        today = self.wake()
        assert [(each.key, each.on) for each in today.questions] == [
            (key_of("row-a-3-feed"), on_day(3)),
            (key_of("row-a-5-feed"), on_day(5)),
        ]
        assert today.not_told == (on_day(3), on_day(4), on_day(5))

    def test_the_sequence_waits_for_the_first_of_them(self) -> None:
        """Nothing is fed until the question is answered; water goes on."""
        today = self.wake()
        task = feeding(today)
        assert (task.day, task.state) == (3, State.HELD)
        assert [why.code for why in task.reasons] == [ReasonCode.NOT_TOLD]
        assert Action.WATER in [each.action for each in today.tasks]

    def test_answered_missed_it_is_due_at_once(self) -> None:
        """The grower did nothing: day 3 is due today and the rest moves."""
        task = feeding(self.wake((key_of("row-a-3-feed"), False)))
        assert (task.day, task.state) == (3, State.DUE)

    def test_answered_done_it_counts_on_its_own_date(self) -> None:
        """Both were done on their dates: today is day 6 as planned."""
        today = self.wake((key_of("row-a-3-feed"), True), (key_of("row-a-5-feed"), True))
        assert today.questions == ()
        assert (today.tasks[0].day, today.tasks[0].action) == (6, Action.WATER)

    def test_one_answer_leaves_the_other_question(self) -> None:
        """Day 3 was done, day 5 is still unknown."""
        today = self.wake((key_of("row-a-3-feed"), True))
        assert [each.day for each in today.questions] == [5]
        assert feeding(today).day == 5

    def test_a_missed_first_and_a_done_second_feed_only_what_is_left(self) -> None:
        """Day 3 is fed today; day 5 was done and is not told again."""
        plan = garden()
        journal = told_through(plan, on_day(2))
        moment = at(on_day(6))
        journal = (
            *journal,
            missed(key_of("row-a-3-feed"), moment, on_day(6)),
            done(key_of("row-a-5-feed"), moment, on_day(6)),
        )
        seen = []
        for later in range(4):
            moment = at(on_day(6 + later), 7, 0)
            today = brief(plan, journal, forecast(moment), moment)
            seen.append(today.tasks[0].day)
            journal = tell(journal, today)
        assert seen == [3, 4, 6, 7]


def test_the_days_ahead_are_the_decisions_of_those_mornings() -> None:
    """A frost on the fourth night moves the projected feeding and what follows."""
    moment = at(on_day(5))
    cold = hour_at(at(on_day(8), 5, 0), temperature_c=-2.0)
    ahead = brief(garden(), (), forecast(moment, cold), moment).ahead
    told = [(day.on, task.day, task.state) for day in ahead for task in day.tasks]
    assert told[:4] == [
        (on_day(6), 6, State.DUE),
        (on_day(7), 7, State.HELD),
        (on_day(8), 7, State.DUE),
        (on_day(9), 8, State.DUE),
    ]


def test_a_batch_that_starts_tomorrow_is_ahead_and_not_today() -> None:
    """Nothing is due before the first soaking."""
    moment = at(START - timedelta(days=1))
    today = brief(garden(), (), forecast(moment), moment)
    assert today.tasks == ()
    assert [task.action for task in today.ahead[0].tasks] == [Action.SOAK, Action.FEED]


def test_planting_comes_after_the_sequence_and_stays_done() -> None:
    """On day 12 the mix and the seeds go in; afterwards the top is kept moist."""
    plan = garden(batch(plantings=(planting(RADISH, Method.SEED, 60),)))
    moment = at(on_day(12))
    actions = [task.action for task in brief(plan, (), forecast(moment), moment).tasks]
    assert Action.COVER_WITH_MIX in actions
    assert Action.SOW in actions
    moment = at(on_day(13))
    actions = [task.action for task in brief(plan, (), forecast(moment), moment).tasks]
    assert Action.SOW not in actions
    assert Action.SURFACE_WATER in actions


def test_the_same_arguments_give_the_same_brief() -> None:
    """Nothing but the arguments goes in."""
    moment = at(on_day(5))
    seen = forecast(moment)
    assert brief(garden(), (), seen, moment) == brief(garden(), (), seen, moment)


def test_last_seasons_rows_do_not_speak_for_this_one() -> None:
    """The same batch name a year later starts afresh."""
    old = garden()
    journal = told_through(old, on_day(12))
    start: date = date(2028, 4, 5)
    plan = garden(batch(start_on=start))
    moment = at(start + timedelta(days=2))
    today = brief(plan, journal, forecast(moment), moment)
    assert (feeding(today).day, today.questions) == (3, ())


def test_a_forecast_that_ends_tomorrow_leaves_later_days_unjudged() -> None:
    """Days past the forecast are projected as due, and say that nothing is known."""
    moment = at(on_day(5))
    short: Forecast = forecast(moment, days=2)
    (last,) = [day for day in brief(garden(), (), short, moment).ahead if day.on == on_day(9)]
    assert last.tasks[0].state is State.DUE
    assert ReasonCode.RAIN_UNKNOWN in [why.code for why in last.tasks[0].reasons]
    assert last.weather.complete is False


@pytest.mark.parametrize(("reading_c", "state"), [(64.9, State.DUE), (65.0, State.HELD)])
def test_a_bale_in_the_range_of_self_heating_is_not_fed(reading_c: float, state: State) -> None:
    """Feed feeds heat: from 65 degC on, by a recent reading, the feeding waits."""
    moment = at(on_day(5))
    read_at = moment - timedelta(hours=10)
    reading = JournalEntry(
        read_at, "Orchard corner", on_day(4), EntryKind.TEMPERATURE, "Row A", value=reading_c
    )
    today = brief(garden(), (reading,), forecast(moment), moment)
    assert feeding(today).state is state


class TestMissedOnceDone:
    """The word that work of the season was missed, before any brief of its day was told."""

    PLAN = garden(batch(plantings=(planting(),)))
    KEY = key_of("row-a-plant-tomato")

    def task(self, journal: Journal, on: date, hour: int = 7) -> Task:
        """Return the planting as the brief of a date has it."""
        moment = at(on, hour)
        today = brief(self.PLAN, journal, forecast(moment), moment)
        return next(task for task in today.tasks if task.key == self.KEY)

    def first_due(self) -> tuple[Journal, date]:
        """Return the journal up to the morning on which the planting is due, and its date."""
        for day in range(10, 20):
            journal = told_through(self.PLAN, on_day(day))
            if any(entry.task == self.KEY.text() and entry.state == "due" for entry in journal):
                return told_through(self.PLAN, on_day(day - 1)), on_day(day)
        raise AssertionError

    def test_said_of_today_without_a_brief_it_stands_as_missed(self) -> None:
        """The daemon was down this morning; the grower's word is about today."""
        journal, on = self.first_due()
        told = self.task((*journal, missed(self.KEY, at(on, 6), on)), on)
        assert told.state is State.MISSED
        assert told.reasons[-1].code is ReasonCode.MISSED

    def test_said_of_an_earlier_day_it_is_due_again_and_says_why(self) -> None:
        """It was told yesterday, and this morning recorded as missed before the brief."""
        journal, on = self.first_due()
        journal = told_through(self.PLAN, on)
        later = on + timedelta(days=1)
        told = self.task((*journal, missed(self.KEY, at(later, 5), later)), later)
        assert told.state is State.DUE
        assert told.reasons[-1].code is ReasonCode.MISSED

    def test_the_day_after_it_is_simply_due(self) -> None:
        """The word was about the day before."""
        journal, on = self.first_due()
        journal = (*journal, missed(self.KEY, at(on, 6), on))
        moment = at(on)
        journal = tell(journal, brief(self.PLAN, journal, forecast(moment), moment))
        assert self.task(journal, on + timedelta(days=1)).state is State.DUE


@pytest.mark.parametrize("kept", [True, False], ids=["a journal is kept", "an empty journal"])
def test_a_later_day_is_asked_about_with_the_holds_that_lie_before_it(kept: bool) -> None:
    """A freeze in the night after day 5 holds its feeding, so that day 6 is its day."""
    plan, now, then = garden(), at(on_day(4), 9), at(on_day(6))
    journal = told_through(plan, on_day(4)) if kept else ()
    night = hour_at(at(on_day(6), 5, 0), temperature_c=-2.0)
    seen = forecast(now, night)
    supposed = suppose_told(plan, journal, seen, now, then)
    assert feeding(brief(plan, supposed, seen, then)).day == 5
    assert max(row.local_date for row in supposed) == on_day(5)


def test_a_garden_in_a_hollow_is_warned_by_its_growers_own_lows() -> None:
    """Forecast 3 degC; three degrees less was measured on each of five nights."""
    plan = garden()
    journal = told_through(plan, on_day(4))
    moment = at(on_day(5))
    mild = forecast(moment, hour_at(at(on_day(6), 5, 0), temperature_c=2.0))
    assert feeding(brief(plan, journal, mild, moment)).state is State.DUE
    rows = tuple(
        row
        for day in range(1, 6)
        for row in (
            JournalEntry(
                at(on_day(day)),
                plan.name,
                on_day(day),
                EntryKind.WEATHER,
                data={"low_c": 3.0, "high_c": 14.0, "rain_mm": 0.0, "complete": True},
            ),
            JournalEntry(at(on_day(day)), plan.name, on_day(day), EntryKind.LOW, value=0.0),
        )
    )
    held = feeding(brief(plan, (*journal, *rows), mild, moment))
    assert held.state is State.HELD
    (why,) = held.reasons
    assert why.value == pytest.approx(-0.3, abs=0.1)
