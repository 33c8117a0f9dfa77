"""A season day by day: what became of the past, and what is projected to its end."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.decision.brief import brief
from strawbell.decision.projection import LONGEST_SEASON_DAYS, MOST_HELD_DAYS, last_day, season
from strawbell.model.brief import Action, State
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Garden
from strawbell.model.journal import Journal
from strawbell.model.season import SeasonDay
from strawbell.season.journal_index import JournalIndex
from support.gardens import (
    RADISH,
    START,
    TOMATO,
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
    tell_whole,
)
from support.keys import key_of
from support.standing import night, warm

GROWING = garden(batch(plantings=(planting(),)))


def told_through(plan: Garden, last: date, *held: date, first: date = START) -> Journal:
    """Return the journal of a daemon that told every morning, with a freeze on some."""
    journal: Journal = ()
    on = first
    while on <= last:
        moment = at(on)
        cold = night(on, -3.0) if on in held else None
        seen = forecast(moment, cold) if cold else forecast(moment)
        journal = tell_whole(journal, plan, seen, moment)
        on += timedelta(days=1)
    return journal


def on(days: tuple[SeasonDay, ...], when: date) -> SeasonDay:
    """Return one date of a season."""
    (found,) = [day for day in days if day.on == when]
    return found


def states(day: SeasonDay) -> dict[str, State]:
    """Return the state of each task of a date by its key."""
    return {task.key: task.state for task in day.tasks}


class TestPast:
    """What was told, and what became of it."""

    def test_without_a_journal_the_past_went_as_planned(self) -> None:
        """Every feeding done on its day, none projected."""
        days = season(garden(), (), None, at(on_day(6)))
        past = [day for day in days if day.on < on_day(6)]
        assert [day.on for day in past] == [on_day(day) for day in range(1, 6)]
        assert {state for day in past for state in states(day).values()} == {State.DONE}
        assert not any(day.projected for day in past)

    def test_held_missed_and_done_are_told_apart(self) -> None:
        """Day 5 was held, fed a day later, and missed there."""
        journal = told_through(garden(), on_day(6), on_day(5))
        journal = (*journal, missed(key_of("row-a-5-feed"), at(on_day(6), 20), on_day(6)))
        days = season(garden(), journal, forecast(at(on_day(7))), at(on_day(7)))
        assert states(on(days, on_day(4)))[key_of("row-a-4-water")] is State.DONE
        assert states(on(days, on_day(5)))[key_of("row-a-5-feed")] is State.HELD
        assert states(on(days, on_day(6)))[key_of("row-a-5-feed")] is State.MISSED
        assert states(on(days, on_day(7)))[key_of("row-a-5-feed")] is State.DUE

    def test_done_in_spite_of_the_hold_is_done(self) -> None:
        """The grower's word."""
        journal = told_through(garden(), on_day(5), on_day(5))
        journal = (*journal, done(key_of("row-a-5-feed"), at(on_day(5), 9), on_day(5)))
        days = season(garden(), journal, None, at(on_day(6)))
        assert states(on(days, on_day(5)))[key_of("row-a-5-feed")] is State.DONE

    def test_its_weather_is_what_its_own_morning_expected(self) -> None:
        """The forecast of today does not reach back."""
        journal = told_through(garden(), on_day(4))
        days = season(garden(), journal, forecast(at(on_day(5))), at(on_day(5)))
        assert on(days, on_day(2)).weather == replace(DayWeather(14.0, 14.0, 0.0, 5.0, True))

    def test_what_the_weather_asked_for_is_in_it(self) -> None:
        """Covers on in the evening of 20 May, off the next morning, with the crop's name."""
        evening = date(2027, 5, 20)
        journal = told_through(GROWING, evening + timedelta(days=1), evening, first=evening)
        now = at(evening + timedelta(days=2))
        days = season(GROWING, journal, forecast(now), now)
        covers = {
            (day.on, task.action): (task.crops, task.state)
            for day in days
            for task in day.tasks
            if task.action in (Action.PROTECT, Action.UNCOVER)
        }
        assert covers == {
            (evening, Action.PROTECT): (("tomato",), State.DONE),
            (evening + timedelta(days=1), Action.UNCOVER): (("tomato",), State.DONE),
        }

    def test_water_of_a_hot_day_keeps_its_amount(self) -> None:
        """Litres, and how often."""
        hot = date(2027, 4, 26)
        moment = at(hot)
        told = brief(GROWING, (), forecast(moment, warm(hot, 33.0)), moment)
        (asked,) = [task for task in told.tasks if task.action is Action.SURFACE_WATER]
        journal = tell((), told)
        now = at(hot + timedelta(days=1))
        days = season(GROWING, journal, forecast(now), now)
        (kept,) = [task for task in on(days, hot).tasks if task.action is Action.SURFACE_WATER]
        assert asked.times_a_day >= 2
        assert (kept.key, kept.times_a_day) == (asked.key, asked.times_a_day)
        assert kept.water_per_bale_l == asked.water_per_bale_l

    def test_what_rain_made_needless_was_not_done(self) -> None:
        """It was never told: rain on established plants, which the day before had to be watered."""
        wet = date(2027, 6, 1)
        moment = at(wet)
        rain = hour_at(at(wet, 15, 0), rain_mm=8.0, rain_chance_percent=90.0)
        journal = told_through(GROWING, wet - timedelta(days=1), first=wet - timedelta(days=1))
        journal = tell(journal, brief(GROWING, journal, forecast(moment, rain), moment))
        now = at(wet + timedelta(days=1))
        days = season(GROWING, journal, forecast(now), now)

        def watered(when: date) -> bool:
            return any(task.action is Action.WATER for task in on(days, when).tasks)

        assert watered(wet - timedelta(days=1))
        assert not any(day.on == wet for day in days) or not watered(wet)

    def test_a_day_that_nobody_told_went_as_planned_but_for_feedings(self) -> None:
        """The daemon was down on the 26th; water needs no answer."""
        before, down = date(2027, 4, 25), date(2027, 4, 26)
        journal = told_through(GROWING, before, first=before)
        days = season(GROWING, journal, None, at(down + timedelta(days=1)))
        assert states(on(days, down)) == {key_of(f"row-a-surface-water-{down}"): State.DONE}

    def test_where_only_another_batch_was_told_the_plan_speaks(self) -> None:
        """A batch that was added late has a past as planned."""
        other = batch(name="Row B")
        journal = told_through(garden(other), on_day(4))
        days = season(garden(batch(), other), journal, None, at(on_day(5)))
        assert states(on(days, on_day(3)))[key_of("row-a-3-feed")] is State.DONE

    def test_a_word_about_work_that_was_not_told_puts_it_in(self) -> None:
        """The grower watered in spite of the rain."""
        wet = date(2027, 4, 26)
        moment = at(wet)
        rain = hour_at(at(wet, 15, 0), rain_mm=8.0, rain_chance_percent=90.0)
        journal = told_through(GROWING, wet - timedelta(days=1), first=wet - timedelta(days=1))
        journal = tell(journal, brief(GROWING, journal, forecast(moment, rain), moment))
        key = key_of(f"row-a-surface-water-{wet}")
        journal = (*journal, done(key, at(wet, 10), wet))
        now = at(wet + timedelta(days=1))
        assert states(on(season(GROWING, journal, None, now), wet)) == {key: State.DONE}


class TestAhead:
    """Today and what is projected."""

    def test_today_is_the_brief_and_the_rest_is_projected(self) -> None:
        """The two can never disagree."""
        moment = at(on_day(6))
        seen = forecast(moment, night(on_day(7), -3.0))
        today = brief(garden(), (), seen, moment)
        days = season(garden(), (), seen, moment)
        assert on(days, on_day(6)).tasks == today.tasks
        assert on(days, on_day(6)).projected is False
        for ahead in today.ahead:
            if ahead.tasks:
                assert on(days, ahead.on).tasks == ahead.tasks
                assert on(days, ahead.on).projected is True

    def test_it_goes_from_soaking_to_spreading(self) -> None:
        """In the order of the dates, without empty days."""
        days = season(GROWING, (), None, at(START))
        actions = [task.action for day in days for task in day.tasks]
        assert actions[0] is Action.SOAK
        assert Action.HARVEST in actions
        assert actions[-1] is Action.SPREAD
        assert [day.on for day in days] == sorted(day.on for day in days)
        assert all(day.tasks for day in days)

    def test_a_garden_without_bales_has_no_season(self) -> None:
        """Nor a last day after today."""
        empty = replace(garden(), batches=())
        assert season(empty, (), None, at(START)) == ()
        assert last_day(empty, START) == START

    def test_a_batch_that_starts_later_comes_in_on_its_day(self) -> None:
        """Beside one that has begun."""
        second = batch(name="Row B", start_on=on_day(10))
        days = season(garden(batch(), second), (), None, at(on_day(12)))
        first_of_b = min(day.on for day in days for task in day.tasks if task.batch == "Row B")
        assert first_of_b == on_day(10)


class TestLastDay:
    """How far a season is projected."""

    def test_empty_bales_end_two_weeks_after_they_are_ready(self) -> None:
        """And a month for holds."""
        assert last_day(garden(), START) == on_day(12) + timedelta(days=14 + MOST_HELD_DAYS)

    def test_two_late_crops_are_followed_to_their_end(self) -> None:
        """It is cold: each is given up a month late, and nothing is cut off for it."""
        second = replace(planting(replace(TOMATO, name="pepper")), follows="tomato")
        plan = garden(batch(plantings=(planting(), second)))
        cold = {
            START + timedelta(days=day): DayWeather(6.0, 14.0, 0.0, 0.0, complete=True)
            for day in range(30, 290)
        }
        index = JournalIndex.of(())
        index.weather.update(cold)
        days = season(plan, index, None, at(START + timedelta(days=290)))
        assert days[-1].tasks[0].action is Action.SPREAD

    def test_it_ends_with_the_straw_of_the_last_batch(self) -> None:
        """Of a batch that starts a month later, too; no care of empty bales comes after it."""
        later = batch(name="Row B", start_on=on_day(31), plantings=(planting(RADISH),))
        plan = garden(batch(plantings=(planting(RADISH),)), later)
        days = season(plan, (), None, at(START))
        spread = [(day.on, task.batch) for day in days for task in day.tasks]
        assert spread[-1][1] == "Row B"
        assert days[-1].tasks[-1].action is Action.SPREAD

    @pytest.mark.parametrize(("days", "ended"), [(399, False), (400, False), (401, True)])
    def test_no_season_is_longer_than_400_days(self, days: int, ended: bool) -> None:
        """Whatever is still planted."""
        assert LONGEST_SEASON_DAYS == 400
        today = START + timedelta(days=days)
        last = last_day(GROWING, today)
        assert (last < today) is ended
        assert last == START + timedelta(days=400)
