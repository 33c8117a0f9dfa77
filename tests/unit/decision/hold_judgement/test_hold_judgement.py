"""What holds work, what lets it go, and until when it waits."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.doses import nitrogen_dose
from strawbell.agronomy.feeds import FEEDS
from strawbell.agronomy.readiness import (
    CoreDay,
    CoreOutlook,
    EffectiveDays,
    Progress,
    Span,
)
from strawbell.decision.daily_weather import DailyWeather
from strawbell.decision.estimates import BatchEstimate, Estimates
from strawbell.decision.hold_judgement import (
    DAYS_TO_LOOK,
    RULES,
    Case,
    _known_nights,
    chill,
    freezing,
    frost,
    frozen_day,
    hot_inside,
    judge,
    killing_ahead,
    mix_with_its_seed,
    rain,
    self_heating,
    short_of_conditioning,
    turning_point,
    water_with_its_feed,
)
from strawbell.model.brief import (
    Action,
    Also,
    Caution,
    Instead,
    Reason,
    ReasonCode,
    State,
    Suffering,
    Task,
    TaskKey,
    Turn,
    TurnsBy,
)
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Batch, Method
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.journal_index import JournalIndex
from strawbell.season.stage import BatchState, Day, planting_key
from strawbell.weather.chance import rain_chance
from strawbell.weather.judgement import CLEAR, Standing
from strawbell.weather.thresholds import RAIN_HOLD_MM
from support.gardens import RADISH, TOMATO, at, batch, forecast, garden, hour_at, planting
from support.keys import key_of
from support.standing import Known, both, night, state

TODAY = date(2027, 4, 20)
NOW = at(TODAY)
ROW = batch(plantings=(planting(),))
PEPPERS = batch(plantings=(planting(replace(TOMATO, name="pepper")),))
WARM_C = 25.0
"""Air in which a tender crop grows a whole day a day."""


def task(action: Action = Action.FEED, own: Batch = ROW, **changes: object) -> Task:
    """Return work of row A that is due."""
    key = TaskKey("row-a", action, day=5)
    if action in (Action.PLANT, Action.SOW):
        key = planting_key(own, own.plantings[0])
    return replace(
        Task(key, "Row A", 6, action, State.DUE),
        **changes,  # type: ignore[arg-type]
    )


def case(
    work: Task,
    seen: Forecast | None = None,
    *,
    own: Batch = ROW,
    estimate: BatchEstimate | None = None,
    journal: Journal = (),
    where: BatchState | None = None,
) -> Case:
    """Return a task before the judge on 20 April."""
    plan = garden(own)
    index = JournalIndex.of(journal)
    daily = DailyWeather(plan, seen, NOW)
    day = Day(plan, own, where or state(own), index.day(own, TODAY))
    if estimate is None:
        estimates = Estimates(plan, index, daily)
        estimates.begin([day])
    else:
        estimates = Known(estimate)
    return Case(day, work, daily, daily.on(TODAY), estimates)


def wet(millimetres: float, on: date = TODAY):
    """Return likely rain in the afternoon of a date."""
    return hour_at(at(on, 15, 0), rain_mm=millimetres, rain_chance_percent=80.0)


def read(reading_c: float, hours_ago: float = 1.0) -> JournalEntry:
    """Return a reading of row A."""
    when = NOW - timedelta(hours=hours_ago)
    kind = EntryKind.TEMPERATURE
    return JournalEntry(when, "Orchard corner", TODAY, kind, "Row A", value=reading_c)


def core(low_c: float, expected_c: float, high_c: float) -> BatchEstimate:
    """Return what the model says of today's core."""
    today = CoreDay(TODAY, low_c, expected_c, high_c)
    outlook = CoreOutlook(days=(today,), from_readings=False, peak_on=None)
    return BatchEstimate("resting", core=outlook)


class TestRain:
    """What would be washed out waits for two days at most."""

    @pytest.mark.parametrize(("waited", "held"), [(0, True), (1, True), (2, False)])
    def test_it_holds_for_two_days(self, waited: int, held: bool) -> None:
        """Then the chance is told with the work."""
        found = rain(case(task(held_days=waited), forecast(NOW, wet(40.0))))
        assert found.reached is held
        assert found.reasons[0].code is (
            ReasonCode.HEAVY_RAIN if held else ReasonCode.RAIN_POSSIBLE
        )


class TestFreezing:
    """A freeze holds a feeding for a day, and a bale that stands still for longer."""

    COLD = forecast(NOW, night(TODAY, -3.0))

    @staticmethod
    def cold_days(high_c: float) -> Forecast:
        """Return frosty nights with a high tomorrow."""
        tomorrow = TODAY + timedelta(days=1)
        noon = hour_at(at(tomorrow, 14, 0), temperature_c=high_c)
        return forecast(NOW, both(night(TODAY, -3.0), noon), temperature_c=min(high_c, 2.0))

    @pytest.mark.parametrize(("low_c", "held"), [(19.9, True), (20.0, False)])
    def test_a_bale_that_surely_works_warm_is_fed(self, low_c: float, held: bool) -> None:
        """By the lower end of what is known of its core."""
        found = freezing(case(task(), self.COLD, estimate=core(low_c, 35.0, 50.0)))
        assert found.reached is held
        if not held:
            assert [why.code for why in found.reasons] == [ReasonCode.WARM_HOURS]

    @pytest.mark.parametrize(("waited", "held"), [(0, True), (1, False)])
    def test_one_that_does_not_stand_still_waits_a_day(self, waited: int, held: bool) -> None:
        """Mild days bring it to life."""
        work = task(held_days=waited)
        assert freezing(case(work, self.COLD, estimate=core(0.0, 11.0, 25.0))).reached is held

    @pytest.mark.parametrize(
        ("expected_c", "high_c", "held"),
        [(11.9, 4.9, True), (12.0, 4.9, False), (11.9, 5.0, False)],
    )
    def test_one_that_stands_still_waits_on(
        self, expected_c: float, high_c: float, held: bool
    ) -> None:
        """Cold inside, and tomorrow no day for anything to live."""
        work = task(held_days=5)
        inside = core(0.0, expected_c, 25.0)
        assert freezing(case(work, self.cold_days(high_c), estimate=inside)).reached is held

    def test_of_an_unknown_core_nobody_says_that_it_stands_still(self) -> None:
        """It waits its day, and no more."""
        seen = self.cold_days(3.0)
        assert freezing(case(task(), seen, estimate=BatchEstimate("growing"))).reached
        assert not freezing(
            case(task(held_days=1), seen, estimate=BatchEstimate("growing"))
        ).reached

    @pytest.mark.parametrize(("high_c", "held"), [(4.9, True), (5.0, False)])
    def test_water_waits_only_on_a_day_that_stays_cold(self, high_c: float, held: bool) -> None:
        """Else it is given at noon."""
        seen = forecast(NOW, night(TODAY, -3.0), temperature_c=high_c)
        assert frozen_day(case(task(Action.WATER), seen)).reached is held
        nothing = task(Action.WATER, water_per_bale_l=0.0)
        assert frozen_day(case(nothing, seen)) is CLEAR


class TestFrost:
    """A tender crop waits while a night of the forecast would hurt it."""

    @pytest.mark.parametrize(("low_c", "held"), [(2.7, True), (2.8, False)])
    def test_planting_waits_where_the_night_costs_more_than_a_day(
        self, low_c: float, held: bool
    ) -> None:
        """One in 25 of what kills; a cloudy night, and warm days that would grow whole days."""
        seen = forecast(NOW, night(TODAY, low_c), temperature_c=WARM_C)
        assert frost(case(task(Action.PLANT), seen)).reached is held

    @pytest.mark.parametrize(("warm_c", "held"), [(WARM_C, False), (11.0, True)])
    def test_in_days_that_grow_little_a_smaller_danger_is_waited_out(
        self, warm_c: float, held: bool
    ) -> None:
        """Two in a hundred."""
        seen = forecast(NOW, night(TODAY, 3.2), temperature_c=warm_c)
        assert frost(case(task(Action.PLANT), seen)).reached is held

    @pytest.mark.parametrize(("days", "held"), [(0, True), (3, True), (4, False)])
    def test_a_frost_further_ahead_is_covered_and_not_waited_for(
        self, days: int, held: bool
    ) -> None:
        """Four days of the season are worth a cover and the risk under it, five are not."""
        cold = night(TODAY + timedelta(days=days), -3.0)
        seen = forecast(NOW, cold, days=14, temperature_c=WARM_C)
        found = frost(case(task(Action.PLANT), seen))
        assert found.reached is held
        code = ReasonCode.FROST if held else ReasonCode.FROST_LATER
        assert [why.code for why in found.reasons] == [code]

    @pytest.mark.parametrize(("days", "named"), [(4, True), (6, True), (7, False)])
    def test_a_later_frost_is_told_of_and_holds_nothing(self, days: int, named: bool) -> None:
        """A week is looked at; the planting is due, and fleece wanted."""
        cold = night(TODAY + timedelta(days=days), -3.0)
        seen = forecast(NOW, cold, days=14, temperature_c=WARM_C)
        work = judge(case(task(Action.PLANT), seen))
        assert work.state is State.DUE
        told_of = [(why.code, why.at) for why in work.reasons]
        at_dawn = at(TODAY + timedelta(days=days + 1), 5, 0)
        assert told_of == ([(ReasonCode.FROST_LATER, at_dawn)] if named else [])

    def test_a_week_of_frosts_is_waited_out(self) -> None:
        """Covers each night would cost more than the days."""
        cold = both(*(night(TODAY + timedelta(days=days), -1.0) for days in range(7)))
        told = judge(case(task(Action.PLANT), forecast(NOW, cold, days=14)))
        assert (told.state, told.held_until) == (State.HELD, TODAY + timedelta(days=7))

    @pytest.mark.parametrize(
        ("days_ago", "low_c", "held"),
        [(0, 2.7, True), (0, 3.0, True), (0, 3.8, False), (1, 3.0, False)],
    )
    def test_a_hold_of_this_morning_stays_until_a_change_of_mind_pays(
        self, days_ago: int, low_c: float, held: bool
    ) -> None:
        """Yesterday's does not: another morning is no change of mind."""
        work = task(Action.PLANT)
        journal = told(work, State.HELD, ReasonCode.FROST, days_ago=days_ago)
        seen = forecast(NOW, night(TODAY, low_c), temperature_c=WARM_C)
        assert frost(case(work, seen, journal=journal)).reached is held

    @pytest.mark.parametrize(
        ("state_told", "code"),
        [(State.HELD, ReasonCode.CHILLY_NIGHTS), (State.DUE, ReasonCode.FROST_LATER)],
    )
    def test_only_a_hold_for_a_frost_is_kept_longer(
        self, state_told: State, code: ReasonCode
    ) -> None:
        """Chilly nights have a margin of their own."""
        work = task(Action.PLANT)
        seen = forecast(NOW, night(TODAY, 3.0), temperature_c=WARM_C)
        assert not frost(case(work, seen, journal=told(work, state_told, code))).reached

    def test_hardy_crops_do_not_wait(self) -> None:
        """Radishes go out before the last frost."""
        own = batch(plantings=(planting(RADISH),))
        seen = forecast(NOW, night(TODAY, -3.0))
        assert frost(case(task(Action.PLANT, own), seen, own=own)) is CLEAR

    def test_without_a_forecast_it_is_unknown(self) -> None:
        """Neither mild nor cold."""
        assert frost(case(task(Action.PLANT))).standing is Standing.UNKNOWN

    def test_the_reason_gives_the_coldest_expected_and_what_waiting_saves(self) -> None:
        """At the hour of the low."""
        seen = forecast(NOW, night(TODAY, 0.2))
        (why,) = frost(case(task(Action.PLANT), seen)).reasons
        assert (why.code, why.value, why.threshold, why.unit) == (
            ReasonCode.FROST,
            -0.1,
            0.6,
            "degC",
        )
        assert why.chance == pytest.approx(0.52, abs=0.02)
        assert why.loss_if_done is not None
        assert why.loss_if_waited is not None
        assert why.loss_if_done > why.loss_if_waited
        assert why.at == at(TODAY + timedelta(days=1), 5, 0)

    def test_the_planting_meant_is_judged_where_a_crop_comes_twice(self) -> None:
        """A hardened sort of the same name goes out in spite of the frost, the tender one waits."""
        tough = replace(TOMATO, cover_at_c=-5.0, kill_at_c=-6.0)
        own = batch(plantings=(planting(), planting(tough, Method.SEED)))
        first, second = own.plantings
        seen = forecast(NOW, night(TODAY, -1.0))
        planted = task(Action.PLANT, key=planting_key(own, first), crops=("tomato",))
        sown = task(Action.SOW, key=planting_key(own, second), crops=("tomato",))

        assert sown.key == key_of("row-a-sow-tomato-2")
        assert frost(case(planted, seen, own=own)).reached
        assert frost(case(sown, seen, own=own)) is CLEAR


def told(work: Task, as_state: State, *codes: ReasonCode, days_ago: int = 0) -> Journal:
    """Return the journal of a daemon that told some work this morning, or days ago."""
    ago = timedelta(days=days_ago)
    row = JournalEntry(
        NOW - ago, "Orchard corner", TODAY - ago, EntryKind.TOLD, "Row A", work.key.text()
    )
    data = {"reasons": [code.value for code in codes]}
    return (replace(row, state=as_state.value, data=data),)


def after_a_hold(work: Task, seen: Forecast, code: ReasonCode, *more: JournalEntry) -> Task:
    """Return work as it is judged again on the day it was told as held."""
    held = case(work, seen, journal=(*told(work, State.HELD, code), *more))
    return judge(replace(held, conditions=held.daily.on(TODAY, told_hold=True)))


class TestTurn:
    """A hold says what would bring the work back, and that does."""

    def test_rain_less_likely_than_said_releases_a_feeding(self) -> None:
        """Four in ten: a hold that was told is eased by a margin."""
        work = task()
        (why,) = judge(case(work, forecast(NOW, wet(40.0)))).reasons
        assert why.turn == Turn(TurnsBy.CHANCE_UNDER, 0.4)
        for tenths in range(80, 200, 4):
            seen = forecast(NOW, wet(tenths / 10))
            chance = rain_chance(seen, NOW, NOW + timedelta(days=1), RAIN_HOLD_MM).value
            again = after_a_hold(work, seen, ReasonCode.HEAVY_RAIN)
            assert (again.state is State.HELD) is (chance is not None and chance >= why.turn.at)

    def test_a_night_less_likely_to_freeze_releases_a_planting(self) -> None:
        work = task(Action.PLANT)
        frosty = forecast(NOW, night(TODAY, 0.2), temperature_c=WARM_C)
        (why,) = judge(case(work, frosty)).reasons
        assert why.turn is not None
        assert why.turn.by is TurnsBy.CHANCE_UNDER
        states = set()
        for tenths in range(10, 45):
            seen = forecast(NOW, night(TODAY, tenths / 10), temperature_c=WARM_C)
            again = after_a_hold(work, seen, ReasonCode.FROST)
            ((_, known),) = _known_nights(case(work, seen), TOMATO)[:1]
            if abs(known.chance - why.turn.at) > 0.001:
                assert (again.state is State.HELD) is (known.chance > why.turn.at)
                states.add(again.state)
        assert states == {State.HELD, State.DUE}

    def test_of_a_week_of_frosts_no_single_night_would_release_it(self) -> None:
        cold = both(*(night(TODAY + timedelta(days=days), -1.0) for days in range(7)))
        (why,) = frost(case(task(Action.PLANT), forecast(NOW, cold, days=14))).reasons
        assert why.turn is None

    def test_a_probe_that_shows_so_much_lets_a_feeding_go_ahead_before_a_freeze(self) -> None:
        cold = forecast(NOW, night(TODAY, -3.0), temperature_c=6.0)
        (why,) = judge(case(task(), cold)).reasons
        assert why.turn is not None
        assert why.turn.by is TurnsBy.READING_OVER
        warm, cool = (
            after_a_hold(task(), cold, ReasonCode.FREEZE, read(why.turn.at + by_k, 0.0))
            for by_k in (0.2, -0.2)
        )
        assert (warm.state, cool.state) == (State.DUE, State.HELD)

    def test_nights_a_margin_warmer_than_the_limit_release_what_they_would_set_back(self) -> None:
        """Peppers: 10 degC, and half a degree for who has been told to wait."""
        work = task(Action.PLANT, PEPPERS)
        (why,) = judge(case(work, forecast(NOW, temperature_c=9.0), own=PEPPERS)).reasons
        assert why.turn == Turn(TurnsBy.NIGHTS_OVER, 10.5)

    def test_a_probe_that_shows_less_than_roots_stand_releases_a_planting(self) -> None:
        (why,) = judge(case(task(Action.PLANT), estimate=core(45.0, 50.0, 55.0))).reasons
        assert (why.code, why.turn) == (
            ReasonCode.NOT_READY,
            Turn(TurnsBy.READING_UNDER, garden().rules.plant_below_c),
        )

    def test_a_cold_bed_is_waited_out_whatever_a_probe_shows(self) -> None:
        sown = planting(replace(RADISH, germination_min_c=10.2), Method.SEED)
        own = batch(plantings=(sown,))
        cold = forecast(NOW, temperature_c=4.1)
        (why,) = judge(case(task(Action.SOW, own), cold, own=own)).reasons
        assert (why.code, why.turn) == (ReasonCode.COLD_BED, None)

    def test_of_a_bale_that_a_probe_cannot_change_the_chance_releases_a_feeding(self) -> None:
        """Where the core is not followed any more, four in ten for the freeze."""
        cold = forecast(NOW, night(TODAY, -3.0), temperature_c=6.0)
        (why,) = judge(case(task(), cold, estimate=core(0.0, 4.0, 8.0))).reasons
        assert (why.code, why.turn) == (ReasonCode.FREEZE, Turn(TurnsBy.CHANCE_UNDER, 0.4))

    def test_nothing_is_said_of_a_later_day(self) -> None:
        """What would turn it is looked at on its own morning."""
        seen = forecast(NOW, wet(40.0, TODAY + timedelta(days=1)))
        today = case(task(), seen)
        later = replace(today, conditions=today.daily.on(TODAY + timedelta(days=1)))
        (why,) = judge(later).reasons
        assert (why.code, why.turn) == (ReasonCode.HEAVY_RAIN, None)

    @pytest.mark.parametrize("threshold", [0.0, 0.3, 0.7, 1.0])
    def test_a_turning_point_frees_and_lies_close_under_what_holds(self, threshold: float) -> None:
        found = turning_point(lambda chance: chance >= threshold, 0.0, 1.0, 0.001)
        assert found < threshold or threshold == 0.0
        assert abs(found - threshold) <= 0.001

    def test_nothing_is_said_where_two_things_hold(self) -> None:
        """Neither alone would release it."""
        seen = forecast(NOW, both(wet(40.0), night(TODAY, -3.0)))
        reasons = judge(case(task(), seen)).reasons
        assert [why.code for why in reasons] == [ReasonCode.HEAVY_RAIN, ReasonCode.FREEZE]
        assert {why.turn for why in reasons} == {None}


class TestChill:
    """What goes in waits for warmth, without being called back the same day."""

    def test_a_transplant_waits_for_warm_nights(self) -> None:
        """By the lows, whatever the bed."""
        (why,) = chill(
            case(task(Action.PLANT, PEPPERS), forecast(NOW, temperature_c=9.0), own=PEPPERS)
        ).reasons
        assert why.code is ReasonCode.CHILLY_NIGHTS

    def test_seed_waits_for_a_warm_bed(self) -> None:
        """Tomato seed comes up from 50 F on: air of 4.1 degC is cold, of 4.2 not surely."""
        sown = planting(replace(TOMATO, germination_min_c=10.2), Method.SEED)
        own = batch(plantings=(sown,))
        work = task(Action.SOW, own)
        (why,) = chill(case(work, forecast(NOW, temperature_c=4.1), own=own)).reasons
        assert why.code is ReasonCode.COLD_BED
        assert chill(case(work, forecast(NOW, temperature_c=4.2), own=own)) is CLEAR

    def test_work_told_as_due_is_not_called_back_that_day(self) -> None:
        """The plants stand at the bale already; a chill kills nothing at once."""
        work = task(Action.PLANT, PEPPERS)
        seen = forecast(NOW, temperature_c=9.0)
        assert chill(case(work, seen, own=PEPPERS, journal=told(work, State.DUE))) is CLEAR
        assert chill(case(work, seen, own=PEPPERS, journal=told(work, State.HELD))).reached

    def test_a_hold_that_was_told_is_kept_half_a_degree_longer(self) -> None:
        """10.4 degC do not take it back the same day."""
        work = task(Action.PLANT, PEPPERS)
        seen = forecast(NOW, temperature_c=10.4)
        assert chill(case(work, seen, own=PEPPERS, journal=told(work, State.HELD))).reached
        assert chill(case(work, seen, own=PEPPERS)) is CLEAR

    def test_a_held_planting_says_until_when_and_what_instead(self) -> None:
        """Seven cold nights; from the fourth day on the mean of the week to come is warm."""

        def warmer(hour: Hour) -> Hour:
            warm = hour.starts_at >= at(TODAY + timedelta(days=4), 12)
            return replace(hour, temperature_c=12.0 if warm else 8.0)

        told = judge(case(task(Action.PLANT, PEPPERS), forecast(NOW, warmer, days=14), own=PEPPERS))
        assert (told.state, told.instead) == (State.HELD, (Instead.HARDEN_OFF,))
        assert told.held_until == TODAY + timedelta(days=1)

    @pytest.mark.parametrize(("days", "asked"), [(6, False), (7, True)])
    def test_after_a_week_the_grower_decides_about_plants(self, days: int, asked: bool) -> None:
        """And is not told to look for rain, nor how many days it has been: spring is late."""
        told = judge(
            case(
                task(Action.PLANT, PEPPERS, held_days=days),
                forecast(NOW, temperature_c=9.0),
                own=PEPPERS,
            )
        )
        assert told.state is State.HELD
        assert (Instead.DECIDE_PLANTING in told.instead) is asked
        waits = [why.value for why in told.reasons if why.code is ReasonCode.HELD_LONG]
        assert waits == [None] * asked
        assert Instead.DECIDE_YOURSELF not in told.instead


class TestKillingAhead:
    """What a freeze of the forecast kills is not fed any more."""

    FED = task(key=key_of("row-a-feed-season-4"))

    @staticmethod
    def grown(own: Batch = ROW) -> BatchState:
        """Return a batch that was planted two months ago."""
        return state(own, TODAY - timedelta(days=60))

    @pytest.mark.parametrize(("low_c", "held"), [(-1.0, True), (0.0, True), (1.0, False)])
    def test_tomatoes_are_not_fed_before_a_night_that_may_well_kill_them(
        self, low_c: float, held: bool
    ) -> None:
        """Three in ten for tomorrow's night: what the feed costs against two hungry days."""
        assert TOMATO.kill_at_c == 0.0
        seen = forecast(NOW, night(TODAY + timedelta(days=1), low_c))
        assert killing_ahead(case(self.FED, seen, where=self.grown())).reached is held

    @pytest.mark.parametrize(("nights", "held"), [(0, True), (2, True), (5, False)])
    def test_the_further_ahead_a_frost_is_the_surer_it_has_to_be(
        self, nights: int, held: bool
    ) -> None:
        """What lives goes hungry till then."""
        seen = forecast(NOW, night(TODAY + timedelta(days=nights), 0.0))
        assert killing_ahead(case(self.FED, seen, where=self.grown())).reached is held

    def test_a_feeding_told_as_due_is_not_called_back_that_day(self) -> None:
        """It is wasted at worst."""
        seen = forecast(NOW, night(TODAY, -2.0))
        journal = told(self.FED, State.DUE)
        assert killing_ahead(case(self.FED, seen, journal=journal, where=self.grown())) is CLEAR

    def test_the_reason_has_the_low_the_limit_and_the_hour(self) -> None:
        """At five in the morning."""
        seen = forecast(NOW, night(TODAY, -2.0))
        (why,) = killing_ahead(case(self.FED, seen, where=self.grown())).reasons
        assert (why.code, why.value, why.threshold) == (ReasonCode.KILLING_AHEAD, -2.0, 0.0)
        assert why.at == at(TODAY + timedelta(days=1), 5, 0)

    def test_conditioning_goes_on(self) -> None:
        """It feeds the straw."""
        seen = forecast(NOW, night(TODAY + timedelta(days=1), -2.0))
        assert killing_ahead(case(task(day=5), seen, where=self.grown())) is CLEAR

    def test_what_lives_on_is_fed(self) -> None:
        """A hardy sort stands beside the tomatoes, or a crop whose limit nobody knows."""
        seen = forecast(NOW, night(TODAY + timedelta(days=1), -2.0))
        for limit_c in (-6.0, None):
            tough = replace(TOMATO, name="tough", kill_at_c=limit_c)
            own = batch(plantings=(planting(), planting(tough)))
            work = case(self.FED, seen, own=own, where=self.grown(own))
            assert killing_ahead(work) is CLEAR

    def test_an_unknown_night_kills_nothing(self) -> None:
        """Without a forecast, and after its end."""
        assert killing_ahead(case(self.FED, where=self.grown())) is CLEAR
        assert killing_ahead(case(self.FED, forecast(NOW, days=1), where=self.grown())) is CLEAR


class TestHotInside:
    """Roots stand 37.5 degC."""

    @pytest.mark.parametrize(("reading_c", "held"), [(37.4, False), (37.5, False), (37.6, True)])
    def test_a_reading_over_the_limit_holds(self, reading_c: float, held: bool) -> None:
        """At the limit roots are safe."""
        finding = hot_inside(case(task(Action.PLANT), journal=(read(reading_c),)))
        assert finding.reached is held
        if held:
            (why,) = finding.reasons
            assert (why.code, why.value, why.threshold) == (
                ReasonCode.TOO_HOT_INSIDE,
                37.6,
                37.5,
            )

    def test_a_cool_reading_ends_what_the_model_fears(self) -> None:
        """A thermometer knows better than a model."""
        hot = core(45.0, 50.0, 55.0)
        assert hot_inside(case(task(Action.PLANT), estimate=hot, journal=(read(30.0),))) is CLEAR

    @pytest.mark.parametrize(("hours", "held"), [(72.0, True), (72.1, False)])
    def test_a_reading_speaks_for_three_days(self, hours: float, held: bool) -> None:
        """After that the model speaks."""
        cool = core(20.0, 25.0, 30.0)
        old = (read(60.0, hours),)
        found = hot_inside(case(task(Action.PLANT), estimate=cool, journal=old))
        assert found.reached is held

    @pytest.mark.parametrize(
        ("low_c", "expected_c", "standing", "code"),
        [
            (37.6, 40.0, Standing.REACHED, ReasonCode.NOT_READY),
            (37.5, 40.0, Standing.UNKNOWN, ReasonCode.FEEL_FIRST),
            (30.0, 37.6, Standing.UNKNOWN, ReasonCode.FEEL_FIRST),
            (30.0, 37.5, Standing.CLEAR, None),
        ],
    )
    def test_the_model_holds_only_when_its_whole_band_is_over(
        self, low_c: float, expected_c: float, standing: Standing, code: ReasonCode | None
    ) -> None:
        """Else the grower is asked to feel first, or nothing is said."""
        found = hot_inside(case(task(Action.PLANT), estimate=core(low_c, expected_c, 50.0)))
        assert found.standing is standing
        assert [why.code for why in found.reasons] == ([code] if code else [])

    def test_without_reading_and_model_nothing_holds(self) -> None:
        """Planting was due by the schedule."""
        assert hot_inside(case(task(Action.PLANT), estimate=BatchEstimate("resting"))) is CLEAR


class TestSelfHeating:
    """Feed feeds heat."""

    @pytest.mark.parametrize(("reading_c", "held"), [(64.9, False), (65.0, True)])
    def test_a_reading_in_its_range_holds_a_feeding(self, reading_c: float, held: bool) -> None:
        """At the threshold counts as reached."""
        assert self_heating(case(task(), journal=(read(reading_c),))).reached is held

    @pytest.mark.parametrize(("hours", "held"), [(72.0, True), (72.1, False)])
    def test_it_speaks_for_three_days(self, hours: float, held: bool) -> None:
        """Then it is measured again, or the feeding goes ahead."""
        assert self_heating(case(task(), journal=(read(70.0, hours),))).reached is held

    def test_the_last_reading_counts(self) -> None:
        """It has cooled."""
        assert self_heating(case(task(), journal=(read(70.0, 5), read(50.0)))) is CLEAR


class TestShortOfConditioning:
    """In a cold spring the days have not counted."""

    @staticmethod
    def progress(done_high: float, to_go_low: int) -> BatchEstimate:
        """Return a progress whose careful count of done and of to-go days are these."""
        done = EffectiveDays(0.0, done_high)
        return BatchEstimate("resting", progress=Progress(done, 12.0, Span(to_go_low, None, None)))

    @pytest.mark.parametrize(("done", "held"), [(8.9, True), (9.0, False), (9.1, False)])
    def test_planting_waits_under_three_quarters(self, done: float, held: bool) -> None:
        """Of the twelve mild days of the schedules."""
        found = short_of_conditioning(case(task(Action.PLANT), estimate=self.progress(done, 3)))
        assert found.reached is held
        if held:
            (why,) = found.reasons
            assert (why.code, why.value, why.threshold, why.unit) == (
                ReasonCode.SHORT_OF_DAYS,
                8.9,
                12.0,
                "day",
            )

    @pytest.mark.parametrize(("days_on", "held"), [(2, True), (3, False)])
    def test_on_the_day_it_may_be_ready_it_is_held_no_longer(
        self, days_on: int, held: bool
    ) -> None:
        """Three days to go at the soonest."""
        today = case(task(Action.PLANT), estimate=self.progress(2.0, 3))
        later = replace(today, conditions=today.daily.on(TODAY + timedelta(days=days_on)))
        assert short_of_conditioning(later).reached is held

    def test_an_unknown_progress_holds_nothing(self) -> None:
        """No weather was kept."""
        assert (
            short_of_conditioning(case(task(Action.PLANT), estimate=BatchEstimate("resting")))
            is CLEAR
        )


class TestJudge:
    """The findings made into what is told."""

    def test_nothing_against_it_is_told_as_it_is(self) -> None:
        """A mild day."""
        work = task()
        assert judge(case(work, forecast(NOW))) == work

    def test_work_without_rules_goes_ahead_in_any_weather(self) -> None:
        """A look inside is never held."""
        seen = forecast(NOW, both(wet(30.0), night(TODAY, -5.0)))
        work = task(Action.INSPECT)
        assert judge(case(work, seen)) == work

    def test_what_waits_for_an_answer_is_left_as_it_is(self) -> None:
        """It is held for another reason already."""
        waiting = task(state=State.HELD, reasons=(Reason(ReasonCode.NOT_TOLD),))
        assert judge(case(waiting, forecast(NOW, wet(30.0)))) == waiting

    def test_a_held_task_says_why_what_instead_and_until_when(self) -> None:
        """Rain today, mild tomorrow."""
        washed = task(also=(Also.RAIN_WASHES_IN,))
        told = judge(case(washed, forecast(NOW, wet(20.0))))
        assert told.also == ()
        assert (told.state, told.held_until) == (State.HELD, TODAY + timedelta(days=1))
        assert [why.code for why in told.reasons] == [ReasonCode.HEAVY_RAIN]
        assert told.instead == (Instead.LEAVE_TO_RAIN,)

    def test_it_waits_for_the_first_fit_day(self) -> None:
        """Rain today and tomorrow; a freeze after that holds nothing that has waited so long."""
        changes = both(
            wet(20.0), wet(20.0, TODAY + timedelta(days=1)), night(TODAY + timedelta(days=2), -2.0)
        )
        told = judge(case(task(), forecast(NOW, changes)))
        assert told.held_until == TODAY + timedelta(days=2)

    def test_after_ten_unfit_days_no_fit_one_is_known(self) -> None:
        """The tenth day is named; it is decided again each morning."""
        seen = forecast(NOW, days=14, temperature_c=-3.0)
        told = judge(case(task(Action.WATER), seen))
        assert told.held_until == TODAY + timedelta(days=DAYS_TO_LOOK)

    @pytest.mark.parametrize(("days", "asked"), [(6, False), (7, True), (8, True)])
    def test_after_a_week_of_holding_the_grower_decides(self, days: int, asked: bool) -> None:
        """The days are counted in the reason."""
        still = core(0.0, 4.0, 8.0)
        cold = forecast(NOW, temperature_c=-3.0)
        told = judge(case(task(held_days=days), cold, estimate=still))
        assert (told.reasons[-1].code is ReasonCode.HELD_LONG) is asked
        assert (Instead.DECIDE_YOURSELF in told.instead) is asked
        if asked:
            assert (told.reasons[-1].value, told.reasons[-1].threshold) == (float(days), 7.0)

    def test_of_the_cautions_only_the_dangerous_feed_stays(self) -> None:
        """Handling is said when it is handled; an oxidiser next to straw always."""
        cautions = (Caution.AMMONIUM_NITRATE, Caution.FEED_HANDLING, Caution.PETS)
        told = judge(case(task(cautions=cautions), forecast(NOW, wet(20.0))))
        assert told.cautions == (Caution.AMMONIUM_NITRATE,)

    def test_the_reasons_of_the_task_itself_stay_first(self) -> None:
        """It was missed, and now it rains."""
        again = Reason(ReasonCode.MISSED)
        told = judge(case(task(reasons=(again,)), forecast(NOW, wet(20.0))))
        assert [why.code for why in told.reasons] == [ReasonCode.MISSED, ReasonCode.HEAVY_RAIN]

    def test_of_a_hot_bale_short_of_its_days_only_the_heat_speaks(self) -> None:
        """Hot by the reading: let it cool, and no word of giving it time."""
        cold = TestShortOfConditioning.progress(2.0, 3)
        told = judge(case(task(Action.PLANT), estimate=cold, journal=(read(50.0),)))
        assert told.instead == (Instead.LET_COOL,)
        assert len(told.reasons) == 2
        assert judge(case(task(Action.PLANT), estimate=cold)).instead == (Instead.GIVE_TIME,)

    def test_what_could_not_be_known_is_said_of_due_work(self) -> None:
        """One unknown hour of rain."""
        hole = hour_at(at(TODAY, 15, 0), rain_mm=None)
        told = judge(case(task(), forecast(NOW, hole)))
        assert told.state is State.DUE
        assert [why.code for why in told.reasons] == [ReasonCode.RAIN_UNKNOWN]

    def test_no_forecast_is_one_reason_not_two(self) -> None:
        """Rain and freeze are both unknown."""
        told = judge(case(task()))
        assert [why.code for why in told.reasons] == [ReasonCode.NO_FORECAST]

    def test_a_stale_forecast_says_its_age_and_limit(self) -> None:
        """13 hours against 12."""
        told = judge(case(task(), forecast(NOW - timedelta(hours=13), wet(30.0))))
        (why,) = told.reasons
        assert (why.code, why.value, why.threshold) == (ReasonCode.STALE_FORECAST, 13.0, 12.0)

    def test_a_warm_core_by_the_model_is_felt_first(self) -> None:
        """Due, with the figure."""
        told = judge(case(task(Action.PLANT), forecast(NOW), estimate=core(30.0, 40.0, 50.0)))
        assert told.state is State.DUE
        assert [why.code for why in told.reasons] == [ReasonCode.FEEL_FIRST]


@pytest.mark.parametrize(
    ("action", "rules"),
    [
        (Action.FEED, {rain, freezing, killing_ahead, self_heating}),
        (Action.SOAK, {frozen_day}),
        (Action.WATER, {frozen_day}),
        (Action.SURFACE_WATER, {frozen_day}),
        (Action.COVER_WITH_MIX, {frozen_day, hot_inside, short_of_conditioning}),
        (Action.PLANT, {frozen_day, frost, chill, hot_inside, short_of_conditioning}),
        (Action.SOW, {frozen_day, frost, chill, hot_inside, short_of_conditioning}),
    ],
)
def test_each_work_waits_for_its_own_reasons(action: Action, rules: set[object]) -> None:
    """Water does not wait for rain; only what goes into bales waits for their core."""
    assert set(RULES[action]) == rules


def test_no_other_work_is_held() -> None:
    """Covering against frost least of all."""
    assert set(RULES) == {
        Action.FEED,
        Action.SOAK,
        Action.WATER,
        Action.SURFACE_WATER,
        Action.COVER_WITH_MIX,
        Action.PLANT,
        Action.SOW,
    }


class TestMixWithItsSeed:
    """The layer of mix is laid when seed goes into it, not days before."""

    HELD = task(
        Action.SOW,
        state=State.HELD,
        held_until=TODAY + timedelta(days=2),
        reasons=(Reason(ReasonCode.COLD_BED, 8.0, 10.0, "degC"),),
    )
    MIX = task(Action.COVER_WITH_MIX)

    def test_it_waits_as_long_as_its_seed(self) -> None:
        """For the same reason; other work goes on."""
        mix, sown, water = mix_with_its_seed((self.MIX, self.HELD, task(Action.WATER)))
        assert (mix.state, mix.held_until, mix.reasons) == (
            State.HELD,
            self.HELD.held_until,
            self.HELD.reasons,
        )
        assert (sown, water.state) == (self.HELD, State.DUE)

    def test_one_sowing_that_may_go_ahead_needs_it(self) -> None:
        """Peas go in although the beans wait."""
        tasks = (self.MIX, self.HELD, task(Action.SOW))
        assert mix_with_its_seed(tasks) == tasks

    def test_without_a_sowing_it_is_not_its_business(self) -> None:
        """Also where the mix itself is held already."""
        for tasks in ((self.MIX,), (replace(self.MIX, state=State.HELD), self.HELD)):
            assert mix_with_its_seed(tasks) == tasks


class TestWaterWithItsFeed:
    """Bales that are fed are watered once: with what washes the feed in."""

    FED = task(dose=nitrogen_dose(FEEDS["Balanced"], 3.0, 6, 4.0))
    HOT = Reason(ReasonCode.HOT_DRY, 33.0, 30.0, "degC")

    def watered(self, litres: float | None, **changes: object) -> Task:
        """Return the day's watering; the feed is washed in with 4 L."""
        return task(
            Action.WATER,
            key=TaskKey("row-a", Action.WATER, on=TODAY),
            water_per_bale_l=litres,
            **changes,
        )

    @pytest.mark.parametrize(
        ("litres", "left"),
        [(2.4, None), (4.0, None), (4.4, None), (4.5, 0.5), (9.0, 5.0), (None, None)],
    )
    def test_only_what_is_missing_of_the_days_water_stays(
        self, litres: float | None, left: float | None
    ) -> None:
        """Under half a litre is not worth the can; an unknown amount is left alone."""
        water = self.watered(litres)
        told = water_with_its_feed((self.FED, water))
        if litres is None:
            assert told == (self.FED, water)
        elif left is None:
            assert told == (self.FED,)
        else:
            assert told == (self.FED, replace(water, water_per_bale_l=left))

    def test_what_was_said_with_the_water_is_said_with_the_feed(self) -> None:
        """Why, who suffers, and what helps; on a hot day the top is felt again."""
        harmed = (Suffering("lettuce", "bolts"),)
        water = self.watered(3.8, reasons=(self.HOT,), suffering=harmed, also=(Also.SHADE,))
        (told,) = water_with_its_feed((self.FED, water))
        assert (told.reasons, told.suffering) == ((self.HOT,), harmed)
        assert told.also == (Also.SHADE, Also.AGAIN_IF_DRY)

    def test_a_feed_that_is_held_brings_no_water(self) -> None:
        """Nor does water that belongs to a day of the sequence belong to the feed."""
        held = (replace(self.FED, state=State.HELD), self.watered(2.4))
        own = (self.FED, self.watered(2.4, day=5))
        assert water_with_its_feed(held) == held
        assert water_with_its_feed(own) == own

    def test_the_top_of_young_plants_is_watered_all_the_same(self) -> None:
        """Each time it dries, which no feed knows of."""
        both = (self.FED, task(Action.SURFACE_WATER, water_per_bale_l=2.0))
        assert water_with_its_feed(both) == both
