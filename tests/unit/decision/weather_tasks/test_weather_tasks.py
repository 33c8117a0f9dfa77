"""What the weather adds to the plan's work, takes from it, or changes in it."""

from __future__ import annotations

from datetime import UTC, date, time, timedelta
from types import SimpleNamespace

import pytest
from msgspec.structs import replace

from strawbell.agronomy.balance import body_of
from strawbell.agronomy.doses import drench_dose, nitrogen_dose
from strawbell.agronomy.feeds import FEEDS
from strawbell.agronomy.surface import SurfaceOutlook
from strawbell.agronomy.watering import LEAST_L, refill_from_l
from strawbell.decision.brief import brief
from strawbell.decision.daily_weather import DailyWeather
from strawbell.decision.estimates import BatchEstimate
from strawbell.decision.telling import told_entries
from strawbell.decision.weather_tasks import (
    _spent,
    dry_top,
    has_young,
    with_weather,
)
from strawbell.model.brief import Action, Also, Caution, Reason, ReasonCode, State, Task, TaskKey
from strawbell.model.details import Band, SpreadDetail, TopWaterDetail
from strawbell.model.feeds import FeedForm
from strawbell.model.garden import Batch, Method
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.journal_index import JournalIndex
from strawbell.season.stage import BatchState, SequenceState, last_harvest_key, planting_key
from support.gardens import (
    RADISH,
    at,
    batch,
    forecast,
    garden,
    hour_at,
    on_day,
    planting,
)
from support.keys import key_of
from support.standing import Known, both, day, night, state, warm

TODAY = date(2027, 5, 20)
NOW = at(TODAY)
ROW = batch(plantings=(planting(),))
BODY = body_of(ROW.bale)
OLD = TODAY - timedelta(days=40)
YOUNG = TODAY - timedelta(days=10)


def surface(
    litres: float = 2.4, times: int = 1, et_mm: float = 4.0, dry_hour: int | None = 14
) -> SurfaceOutlook:
    """Return what the top of the bales does today."""
    return SurfaceOutlook(
        dry_at=None if dry_hour is None else at(TODAY, dry_hour, 30),
        litres_per_bale=litres,
        times_a_day=times,
        et_mm_today=et_mm,
    )


def water(action: Action = Action.WATER, **changes: object) -> Task:
    """Return watering that the plan has due."""
    return replace(
        Task(
            TaskKey("row-a", action, on=TODAY), "Row A", 6, action, State.DUE, water_per_bale_l=3.8
        ),
        **changes,  # type: ignore[arg-type]
    )


def worked(
    *tasks: Task,
    change=None,
    own: Batch = ROW,
    where: BatchState | None = None,
    top: SurfaceOutlook | None = None,
    journal: Journal = (),
    on: date = TODAY,
    seen: bool = True,
    held_l: float | None = None,
) -> tuple[Task, ...]:
    """Return the day's tasks with what a forecast asks for."""
    outlook = (forecast(NOW, change) if change else forecast(NOW)) if seen else None
    plan = garden(own)
    daily = DailyWeather(plan, outlook, NOW)
    estimates = Known(BatchEstimate("growing", surface=top), held_l)
    where = where or state(own, OLD)
    today = day(own, where, on, plan, JournalIndex.of(journal).day(own, on))
    return with_weather(today, tasks, daily, estimates)


def rain(millimetres: float | None, chance: float | None = 80.0):
    """Return rain in the afternoon of today."""
    return hour_at(at(TODAY, 15, 0), rain_mm=millimetres, rain_chance_percent=chance)


def conditioning(position: int = 1) -> BatchState:
    """Return a batch in the middle of its conditioning."""
    return BatchState(SequenceState(position=position, soaked=True))


def test_a_mild_dry_day_changes_nothing() -> None:
    """The plan's own work stands."""
    assert worked(water()) == (water(),)


def test_without_a_forecast_the_plan_stands() -> None:
    """Neither more nor less."""
    assert worked(water(), water(Action.SURFACE_WATER), seen=False) == (
        water(),
        water(Action.SURFACE_WATER),
    )


class TestRain:
    """A young top is looked at where rain is likely and enough: 2.5 mm."""

    @pytest.mark.parametrize(("millimetres", "look_first"), [(2.4, False), (2.5, True)])
    def test_a_young_top_is_never_left_to_rain(self, millimetres: float, look_first: bool) -> None:
        """It is looked at first: rain that fails or comes late costs the seedlings."""
        (told,) = worked(water(Action.SURFACE_WATER), change=rain(millimetres))
        assert told.also == ((Also.LOOK_FIRST,) if look_first else ())

    @pytest.mark.parametrize("times", [1, 2, 3])
    def test_a_young_top_is_watered_as_often_as_it_dries(self, times: int) -> None:
        """On a day that is not hot too; grown plants have no such top."""
        task, top = water(Action.SURFACE_WATER), surface(times=times)
        (young,) = worked(task, where=state(ROW, YOUNG), top=top)
        (grown,) = worked(task, top=top)
        assert (young.times_a_day, grown.times_a_day) == (times, 1)

    def test_unknown_rain_is_not_counted_on(self) -> None:
        """Missing is not wet."""
        unknown = both(lambda hour: replace(hour, rain_mm=None))
        assert worked(water(), change=unknown) == (water(),)

    def test_a_stale_forecast_takes_no_work_away(self) -> None:
        """It is not decided on."""
        plan = garden(ROW)
        old = forecast(NOW - timedelta(hours=13), rain(20.0))
        daily = DailyWeather(plan, old, NOW)
        told = with_weather(
            day(ROW, state(ROW, OLD), TODAY, plan),
            (water(),),
            daily,
            Known(BatchEstimate("growing")),
        )
        assert told == (water(),)


class TestPlants:
    """Established plants get what their bale lacks of the water they took, by the same balance."""

    TASK = water(water_per_bale_l=None)

    @pytest.mark.parametrize(
        ("held_l", "millimetres", "chance", "litres"),
        [
            (15.0, 0.0, None, 12.4),
            (15.0, 9.0, 80.0, 8.0),
            (15.0, 9.0, 49.0, 12.4),
            (15.0, 9.0, 50.0, 8.0),
            (23.4, 0.0, None, 3.2),
            (23.5, 0.0, None, None),
            (21.0, 9.0, 80.0, None),
        ],
    )
    def test_the_bale_is_refilled_by_what_rain_will_not_bring(
        self, held_l: float, millimetres: float, chance: float | None, litres: float | None
    ) -> None:
        told = worked(self.TASK, change=rain(millimetres, chance), held_l=held_l)
        assert [task.water_per_bale_l for task in told] == (
            [] if litres is None else [pytest.approx(litres, abs=0.11)]
        )

    @pytest.mark.parametrize(
        ("held_l", "times", "millimetres", "litres"),
        [
            (15.0, 1, 0.0, 12.4),
            (15.0, 2, 0.0, 6.2),
            (15.0, 2, 9.0, 4.0),
            (23.4, 1, 0.0, 3.2),
            (23.5, 1, 0.0, None),
        ],
    )
    def test_a_bale_under_seedlings_gets_what_it_lacks_through_the_top(
        self, held_l: float, times: int, millimetres: float, litres: float | None
    ) -> None:
        """Shared among the waterings of the day; less is left to the top's own litre or two."""
        (told,) = worked(
            water(Action.SURFACE_WATER, water_per_bale_l=None),
            where=state(ROW, YOUNG),
            top=surface(times=times),
            change=rain(millimetres),
            held_l=held_l,
        )
        assert told.times_a_day == times
        assert told.water_per_bale_l == (
            None if litres is None else pytest.approx(litres, abs=0.11)
        )

    def test_other_work_stays(self) -> None:
        """Nobody looks into bales less for rain."""
        look = water(Action.INSPECT)
        assert worked(look, self.TASK, change=rain(9.0), held_l=24.0) == (look,)

    def test_of_the_days_ahead_nobody_knows_what_plants_will_have_taken(self) -> None:
        tomorrow = TODAY + timedelta(days=1)
        assert worked(self.TASK, on=tomorrow, held_l=15.0) == (self.TASK,)


class TestLack:
    """Bales get what they lack, and nothing that would run out."""

    WATER = water(water_per_bale_l=None)
    STEP = water(water_per_bale_l=None, day=2)
    FED = water(
        Action.FEED,
        water_per_bale_l=3.6,
        day=3,
        dose=nitrogen_dose(FEEDS["Blood meal"], 40.0, 6, 3.6),
    )
    DRENCHED = water(
        Action.FEED,
        water_per_bale_l=3.6,
        day=3,
        dose=drench_dose(FEEDS["Fish emulsion"], 6, 3.6),
    )

    def told(self, task: Task, held_l: float | None, change=None) -> tuple[Task, ...]:
        """Return what becomes of a task of a batch in conditioning."""
        return worked(task, where=conditioning(), held_l=held_l, change=change)

    def test_a_day_of_water_brings_what_is_missing(self) -> None:
        """From 15 L to the 26.4 L at which straw works best, and what runs through on the way."""
        (task,) = self.told(self.STEP, 15.0)
        assert task.water_per_bale_l == pytest.approx(12.4, abs=0.1)
        assert task.also == ()

    @pytest.mark.parametrize(
        ("held_l", "millimetres", "why"),
        [
            (25.0, 0.0, Also.MOIST_ENOUGH),
            (21.0, 9.0, Also.RAIN_WATERS),
            (50.0, 0.0, Also.FULL),
        ],
    )
    def test_a_day_of_water_that_is_not_needed_says_why(
        self, held_l: float, millimetres: float, why: Also
    ) -> None:
        """It has enough, rain brings it, or it holds no more."""
        (task,) = self.told(self.STEP, held_l, rain(millimetres))
        assert (task.water_per_bale_l, task.also) == (0.0, (why,))

    @pytest.mark.parametrize(("missing_l", "is_told"), [(-0.02, False), (0.02, True)])
    def test_no_rain_reaches_bales_under_a_tarp(self, missing_l: float, is_told: bool) -> None:
        """Not a spoonful: what is missing is told from the same limit as on a dry day."""
        held_l = BODY.works_l - refill_from_l(ROW.bale) - missing_l
        tarped = replace(conditioning(), tarped=True)
        tasks = worked(self.WATER, where=tarped, held_l=held_l, change=rain(20.0))
        assert any(task.water_per_bale_l for task in tasks) is is_told

    def test_water_beside_the_sequence_is_left_out_where_none_is_needed(self) -> None:
        """Nobody has to answer that nothing was done."""
        assert self.told(self.WATER, 25.0) == ()
        assert len(self.told(self.WATER, 15.0)) == 1

    @pytest.mark.parametrize(
        ("held_l", "millimetres", "litres", "also"),
        [
            (26.0, 0.0, 3.6, ()),
            (26.0, 4.9, 3.6, ()),
            (26.0, 5.0, 0.0, (Also.RAIN_WASHES_IN,)),
            (60.0, 0.0, 0.0, (Also.TOO_FULL_TO_WASH_IN,)),
        ],
    )
    def test_a_feed_is_washed_in_with_eight_millimetres_or_by_rain(
        self, held_l: float, millimetres: float, litres: float, also: tuple[Also, ...]
    ) -> None:
        """Never into a full bale."""
        (task,) = self.told(self.FED, held_l, rain(millimetres))
        assert (task.water_per_bale_l, task.also) == (pytest.approx(litres), also)

    @pytest.mark.parametrize(
        ("room_l", "millimetres", "share", "also"),
        [
            (3.7, 0.0, 1.0, ()),
            (1.8, 0.0, 0.5, (Also.LITTLE_ROOM,)),
            (LEAST_L - 0.1, 0.0, 0.0, (Also.FULL,)),
            (10.0, 14.0, 1.0, ()),
            (10.0, 30.0, 0.0, (Also.FULL,)),
        ],
    )
    def test_what_is_poured_never_fills_a_bale_beyond_what_it_holds(
        self, room_l: float, millimetres: float, share: float, also: tuple[Also, ...]
    ) -> None:
        """Nor with the rain of the day; less of it is no stronger."""
        (task,) = self.told(self.DRENCHED, BODY.holds_l - room_l, rain(millimetres))
        assert task.dose is not None
        whole = self.DRENCHED.dose
        assert whole is not None
        assert task.dose.nitrogen_per_bale_g == pytest.approx(share * whole.nitrogen_per_bale_g)
        assert task.dose.water_per_bale_l == pytest.approx(share * 3.6)
        assert task.water_per_bale_l == pytest.approx(share * 3.6, abs=0.05)
        assert task.also == also
        assert task.dose.is_nothing is (share == 0.0)

    def test_a_feeding_of_the_season_waits_until_there_is_room(self) -> None:
        """It is due again the next day."""
        assert self.told(replace(self.DRENCHED, day=None), BODY.holds_l) == ()

    def test_a_soluble_feed_without_a_rate_goes_into_less_water(self) -> None:
        """Its amount is that of the plan."""
        salt = replace(FEEDS["Urea"], form=FeedForm.SOLUBLE)
        task = replace(self.DRENCHED, dose=nitrogen_dose(salt, 40.0, 6, 3.6))
        (told,) = self.told(task, BODY.holds_l - 1.8)
        assert told.dose is not None
        assert told.dose.nitrogen_per_bale_g == pytest.approx(40.0)
        assert told.dose.water_per_bale_l == pytest.approx(1.8)

    def test_unlikely_rain_is_not_left_to_wash_in(self) -> None:
        """Under even odds it is not counted on."""
        (task,) = self.told(self.FED, 26.0, rain(9.0, 49.0))
        assert task.water_per_bale_l == pytest.approx(3.6)

    def test_where_nothing_is_known_of_the_bale_the_plan_stands(self) -> None:
        """Before its first soaking, and further ahead than a forecast."""
        assert self.told(self.STEP, None) == (self.STEP,)


class TestHotDay:
    """From 30 degC on."""

    @pytest.mark.parametrize(
        ("position", "action", "amount"),
        [(1, Action.WATER, 3.8), (0, Action.SOAK, 3.8), (0, Action.FEED, None)],
    )
    def test_bales_in_conditioning_are_topped_up(
        self, position: int, action: Action, amount: float | None
    ) -> None:
        """Their own water says why; a day of feed only gets water beside it."""
        own = water(action, water_per_bale_l=amount)
        told = worked(own, change=warm(TODAY, 31.0), where=conditioning(position), held_l=15.0)
        watered = [task for task in told if task.action in (Action.WATER, Action.SOAK)]
        assert len(watered) == 1
        assert [why.code for why in watered[0].reasons] == [ReasonCode.HOT_DRY]
        lacking_l = (BODY.works_l - 15.0) / (1.0 - BODY.bypass_wet)
        assert watered[0].water_per_bale_l == pytest.approx(amount or lacking_l, abs=0.05)
        assert len(told) == (2 if action is Action.FEED else 1)

    def test_empty_ready_bales_get_nothing(self) -> None:
        """Nothing is being made and nothing grows."""
        assert worked(change=warm(TODAY, 33.0), where=state(ROW)) == ()

    def test_established_plants_are_watered_as_planned_and_told_why(self) -> None:
        """Once; no water on the top besides."""
        (told,) = worked(water(), change=warm(TODAY, 31.0))
        assert told.action is Action.WATER
        assert [why.code for why in told.reasons] == [ReasonCode.HOT_DRY]

    def test_young_plants_get_the_top_watered_twice(self) -> None:
        """Morning and afternoon, whatever is planned."""
        (told,) = worked(change=warm(TODAY, 31.0), where=state(ROW, YOUNG))
        assert (told.action, told.times_a_day) == (Action.SURFACE_WATER, 2)
        assert told.key == key_of("row-a-surface-water-2027-05-20")

    def test_where_young_stand_beside_old_both_are_watered(self) -> None:
        """The old ones as planned, the top for the young ones."""
        own = batch(plantings=(planting(), planting(RADISH)))
        old, new = own.plantings
        where = state(own, done={planting_key(own, old): OLD, planting_key(own, new): YOUNG})
        told = worked(water(), change=warm(TODAY, 31.0), own=own, where=where)
        assert [(task.action, task.times_a_day) for task in told] == [
            (Action.WATER, 1),
            (Action.SURFACE_WATER, 2),
        ]

    @pytest.mark.parametrize(("days", "times"), [(21, 2), (22, 1)])
    def test_three_weeks_count_as_young(self, days: int, times: int) -> None:
        """Then once is enough."""
        where = state(ROW, TODAY - timedelta(days=days))
        (told,) = worked(change=warm(TODAY, 31.0), where=where)
        assert told.times_a_day == times

    def test_the_planned_water_on_the_top_keeps_its_reasons(self) -> None:
        """Heat is told first."""
        first_weeks = Reason(ReasonCode.FIRST_WEEKS, 10.0, 21.0, "day")
        own = water(Action.SURFACE_WATER, reasons=(first_weeks,))
        (told,) = worked(own, change=warm(TODAY, 31.0), where=state(ROW, YOUNG))
        assert [why.code for why in told.reasons] == [ReasonCode.HOT_DRY, ReasonCode.FIRST_WEEKS]

    def test_what_is_computed_goes_before_the_rule(self) -> None:
        """Litres, times and the hour at which the top would be dry."""
        (told,) = worked(change=warm(TODAY, 33.0), where=state(ROW, YOUNG), top=surface(1.96, 3))
        assert (told.water_per_bale_l, told.times_a_day) == (2.0, 3)
        assert told.detail == TopWaterDetail(dry_at=time(14, 30))

    def test_what_is_computed_is_never_less_often_than_the_rule(self) -> None:
        """Young plants twice at the least."""
        (told,) = worked(change=warm(TODAY, 33.0), where=state(ROW, YOUNG), top=surface(times=1))
        assert told.times_a_day == 2

    def test_heat_of_a_later_day_is_told_by_the_rule(self) -> None:
        """Nothing is computed for it."""
        tomorrow = TODAY + timedelta(days=1)
        (told,) = worked(
            change=warm(tomorrow, 33.0), where=state(ROW, YOUNG), on=tomorrow, top=surface(times=3)
        )
        assert (told.times_a_day, told.water_per_bale_l) == (2, None)


class TestTopFigures:
    """Water of a top as figures."""

    GROWN, NEW = (day(ROW, state(ROW, since), TODAY) for since in (OLD, YOUNG))

    def test_a_top_that_dries_another_day_has_no_hour(self) -> None:
        """Only today's hour is told."""
        dry = replace(surface(), dry_at=at(TODAY + timedelta(days=1), 8, 0))
        for top in (dry, surface(dry_hour=None)):
            assert dry_top(self.GROWN, top).dry_at is None

    def test_the_hour_is_the_gardens_own(self) -> None:
        """23:30 in Zurich is still today, though the next day begins in the east."""
        top = replace(surface(), dry_at=at(TODAY, 23, 30).astimezone(UTC))
        assert dry_top(self.GROWN, top).dry_at == time(23, 30)

    @pytest.mark.parametrize(
        ("times", "young", "often"), [(1, False, 1), (1, True, 2), (2, True, 2), (3, True, 3)]
    )
    def test_young_plants_are_watered_twice_at_the_least(
        self, times: int, young: bool, often: int
    ) -> None:
        """The top may ask for more."""
        assert dry_top(self.NEW if young else self.GROWN, surface(times=times)).times_a_day == often

    def test_of_an_unknown_top_there_are_no_figures(self) -> None:
        assert dry_top(self.NEW, None) is None


class TestCovering:
    """Covers on in the evening, off in the morning, by the names of the crops."""

    BOTH = batch(plantings=(planting(), planting(RADISH)))

    def test_only_the_endangered_are_covered(self) -> None:
        """With the reason and the caution."""
        (told,) = worked(change=night(TODAY, 0.9), own=self.BOTH)
        assert (told.action, told.crops, told.key.text()) == (
            Action.PROTECT,
            ("tomato",),
            "row-a-protect-2027-05-20",
        )
        assert [why.code for why in told.reasons] == [ReasonCode.FROST]
        assert told.cautions == (Caution.FROST_COVER,)

    def test_several_are_named_together(self) -> None:
        """One walk with one cover."""
        where = state(self.BOTH, YOUNG)
        (told,) = worked(change=night(TODAY, -3.0), own=self.BOTH, where=where)
        assert told.crops == ("tomato", "radish")

    @pytest.mark.parametrize("low_c", [8.0, None])
    def test_a_mild_or_unknown_night_needs_no_cover(self, low_c: float | None) -> None:
        """What is unknown is said by the alert."""
        assert worked(change=night(TODAY, low_c)) == ()

    def test_empty_bales_are_not_covered(self) -> None:
        """Nothing stands in them."""
        assert worked(change=night(TODAY, -3.0), where=state(ROW)) == ()

    def test_what_comes_out_today_is_not_covered_tonight(self) -> None:
        """The last harvest before a killing freeze leaves nothing to cover but the rest."""
        where = state(self.BOTH, TODAY - timedelta(days=70))
        told = worked(change=night(TODAY, -3.0), own=self.BOTH, where=where)
        keys = {task.key for task in told}
        assert last_harvest_key(self.BOTH, self.BOTH.plantings[0]) in keys
        covers = [task.crops for task in told if task.action is Action.PROTECT]
        assert covers == [("radish",)]

    @staticmethod
    def evening(state: str = "due", **data: object) -> Journal:
        """Return the journal after yesterday's covers were told."""
        yesterday = TODAY - timedelta(days=1)
        key = f"row-a-protect-{yesterday}"
        return (
            JournalEntry(
                at(yesterday), "Orchard corner", yesterday, EntryKind.TOLD, "Row A", key, state,
                data=data,
            ),
        )  # fmt: skip

    def test_in_the_morning_they_come_off_by_name(self) -> None:
        """First of the day's work."""
        told = worked(water(Action.INSPECT), journal=self.evening(crops=["tomato", "basil"]))
        assert [task.action for task in told] == [Action.UNCOVER, Action.INSPECT]
        assert (told[0].crops, told[0].key.text()) == (
            ("tomato", "basil"),
            "row-a-uncover-2027-05-20",
        )

    def test_where_the_names_were_not_kept_they_come_off_all_the_same(self) -> None:
        """A journal of an older program."""
        (told,) = worked(journal=self.evening())
        assert (told.action, told.crops) == (Action.UNCOVER, ())

    def test_without_covers_there_is_nothing_to_take_off(self) -> None:
        """Nor where another batch was covered."""
        assert worked() == ()
        assert worked(journal=self.evening("held", crops=["tomato"])) == ()
        other = batch(name="Row B", plantings=(planting(),))
        assert worked(journal=self.evening(crops=["tomato"]), own=other) == ()

    def test_a_day_ahead_names_them_too(self) -> None:
        """As the evening before would have told them."""
        plan = garden(self.BOTH)
        moment = at(date(2027, 5, 3))
        tomorrow = date(2027, 5, 4)
        today = brief(plan, (), forecast(moment, night(tomorrow, 0.5)), moment)
        named = {
            (ahead.on, task.action): task.crops
            for ahead in today.ahead
            for task in ahead.tasks
            if task.action in (Action.PROTECT, Action.UNCOVER)
        }
        assert named == {
            (tomorrow, Action.PROTECT): ("tomato",),
            (tomorrow + timedelta(days=1), Action.UNCOVER): ("tomato",),
        }

    def test_from_the_evenings_brief_to_the_mornings(self) -> None:
        """What was told is what comes off."""
        plan = garden(self.BOTH)
        evening, morning = at(date(2027, 5, 3)), at(date(2027, 5, 4))
        told = brief(plan, (), forecast(evening, night(date(2027, 5, 3), 0.5)), evening)
        journal = told_entries(told, evening, {})
        off = [
            task.crops
            for task in brief(plan, journal, forecast(morning), morning).tasks
            if task.action is Action.UNCOVER
        ]
        assert off == [("tomato",)]


def test_who_is_young() -> None:
    """Counted from the day it went in; what is not in yet is not."""
    today = day(ROW, state(ROW, TODAY - timedelta(days=21)), TODAY)
    assert has_young(today)
    assert not has_young(day(ROW, state(ROW, TODAY - timedelta(days=22)), TODAY))
    assert not has_young(day(ROW, state(ROW), TODAY))


@pytest.mark.parametrize(
    ("warm_c", "sun_w_m2", "state", "again"),
    [
        (20.0, 300.0, State.DUE, True),
        (12.0, 20.0, State.DUE, False),
        (3.0, 300.0, State.HELD, False),
    ],
)
def test_a_bed_that_dries_on_the_day_it_is_sown_is_watered_again(
    warm_c: float, sun_w_m2: float, state: State, again: bool
) -> None:
    """It is told with the sowing, and not while that waits."""
    own = batch(plantings=(planting(RADISH, Method.SEED),))
    now = at(on_day(12))
    seen = forecast(now, temperature_c=warm_c, radiation_w_m2=sun_w_m2)
    tasks = brief(garden(own), (), seen, now).tasks
    (sown,) = (task for task in tasks if task.action is Action.SOW)
    assert (sown.state, Also.WATER_AGAIN in sown.also) == (state, again)


@pytest.mark.parametrize("per_bale", [None, Band(10.04, 30.06)])
def test_spent_straw_carries_the_nitrogen_of_all_its_bales(per_bale: Band | None) -> None:
    """Six of them, in whole grams; unknown where they were not followed."""
    straw = SpreadDetail(12, 5.0, Band(1.0, 2.0))
    key = TaskKey("row-a", Action.SPREAD)
    task = Task(key, "Row A", 6, Action.SPREAD, State.DUE, detail=straw)
    day = SimpleNamespace(batch=batch(), on=date(2027, 9, 1))
    estimates = SimpleNamespace(spent_g=lambda of, on: per_bale)
    told = _spent(day, task, estimates).detail  # type: ignore[arg-type]
    assert told == replace(straw, nitrogen_g=None if per_bale is None else Band(60.0, 180.0))
