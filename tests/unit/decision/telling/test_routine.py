"""Which mornings need a word; whole weeks are in `tests/unit/app/test_weekly_routine.py`."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec import to_builtins
from msgspec.structs import replace

from strawbell.decision.brief import brief
from strawbell.decision.telling import (
    Spoken,
    _handy_l,
    _is_calm,
    _is_plain,
    _wets,
    spoken,
    told_entries,
)
from strawbell.model.brief import (
    Action,
    Alert,
    AlertCode,
    Also,
    BatchOutlook,
    Brief,
    Caution,
    DayAhead,
    Extra,
    Portion,
    Question,
    Reason,
    ReasonCode,
    State,
    Suffering,
    Task,
    TaskKey,
    Week,
)
from strawbell.model.details import Ending, HarvestDetail, MakeUpEstimate
from strawbell.model.forecast import DayWeather, ForecastStatus
from strawbell.model.journal import Journal, JournalEntry
from strawbell.season.journal_index import JournalIndex
from strawbell.season.stage import dated_key
from support.gardens import TIMES, at, forecast, garden, on_day

TODAY = on_day(6)
NOW = at(TODAY)
MORNING = replace(brief(garden(), (), forecast(NOW), NOW), tasks=(), alerts=(), outlooks=())
FREEZE = Alert(AlertCode.FREEZE, "Row A", NOW, NOW, ())
HOT_DRY = Alert(AlertCode.HOT_DRY, "Row A", NOW, NOW, ())


def told_yesterday(*alerts: Alert) -> JournalIndex:
    index = JournalIndex()
    index.alerts[TODAY - timedelta(days=1)] = {each.key: True for each in alerts}
    return index


@pytest.mark.parametrize(
    ("ahead", "before", "calm"),
    [
        ((), (), True),
        ((FREEZE,), (FREEZE,), True),
        ((FREEZE,), (), False),
        ((FREEZE,), (HOT_DRY,), False),
        ((HOT_DRY,), (HOT_DRY,), False),
    ],
)
def test_only_one_more_night_of_the_same_frost_is_no_news(
    ahead: tuple[Alert, ...], before: tuple[Alert, ...], calm: bool
) -> None:
    """A hot dry day is news each time, and so is the first night."""
    assert _is_calm(replace(MORNING, alerts=ahead), told_yesterday(*before)) is calm


HOT = Reason(ReasonCode.HEAT, 36.0, 35.0, "degC")
LOOK = Task(
    key=dated_key("Row A", Action.INSPECT, TODAY),
    batch="Row A",
    bales=6,
    action=Action.INSPECT,
    state=State.DUE,
)
WATER = replace(LOOK, action=Action.WATER, water_per_bale_l=4.0)


@pytest.mark.parametrize(
    ("task", "plain"),
    [
        (LOOK, True),
        (replace(LOOK, reasons=(HOT,)), False),
        (replace(LOOK, cautions=(Caution.HOT_BALE,)), False),
        (replace(LOOK, detail=HarvestDetail(Ending.LAST)), False),
        (replace(LOOK, state=State.HELD), False),
        (replace(LOOK, note="Slugs"), False),
        (WATER, True),
        (replace(WATER, water_per_bale_l=0.0), False),
        (replace(WATER, also=(Also.LOOK_FIRST,)), True),
        (replace(WATER, also=(Also.SHADE,)), False),
        (replace(WATER, action=Action.FEED), False),
    ],
)
def test_work_is_told_by_the_week_where_nothing_about_it_is_of_one_day(
    task: Task, plain: bool
) -> None:
    """Water and looks alike; what has a reason, a caution or an end of its own is told then."""
    assert _is_plain(task) is plain


@pytest.mark.parametrize(
    ("rain_mm", "wets"), [(None, False), (0.0, False), (2.49, False), (2.5, True), (2.51, True)]
)
def test_rain_waters_bales_from_the_amount_on_that_makes_a_day_no_dry_one(
    rain_mm: float | None, wets: bool
) -> None:
    """`dry_day_mm`, a tenth of an inch; unknown rain waters nothing."""
    assert _wets(DayWeather(rain_mm=rain_mm), garden()) is wets
    assert not _wets(None, garden())


PLAN = garden(times=replace(TIMES, weekly_routine=True))
WET = DayWeather(rain_mm=2.5)
DRY = DayWeather(rain_mm=0.0)


def dated(task: Task, on: date) -> Task:
    """Return the same work on another date."""
    return replace(task, key=dated_key("Row A", task.action, on))


def morning(*tasks: Task, on: date = TODAY, weather: DayWeather = DRY, **changes: object) -> Brief:
    """Return a calm morning with work, each with the key of its date."""
    return replace(
        MORNING,
        on=on,
        weather=weather,
        tasks=tuple(dated(task, on) for task in tasks),
        **changes,  # type: ignore[arg-type]
    )


def told_on(days_ago: int, *tasks: Task, week: Week | None = None) -> Journal:
    """Return the rows of a morning that was told."""
    on = TODAY - timedelta(days=days_ago)
    data = {} if week is None else {"week": to_builtins(week)}
    return told_entries(morning(*tasks, on=on), at(on), data)


def ahead(*days: tuple[Task, ...]) -> tuple[DayAhead, ...]:
    """Return the coming days, each with its work."""
    dates = (TODAY + timedelta(days=number) for number in range(1, len(days) + 1))
    return tuple(
        DayAhead(on, DRY, tuple(dated(task, on) for task in tasks))
        for on, tasks in zip(dates, days, strict=True)
    )


def said(today: Brief, *rows: JournalEntry) -> Spoken:
    return spoken(today, PLAN, JournalIndex.of(rows))


NO_WATER = replace(WATER, water_per_bale_l=0.0, also=(Also.MOIST_ENOUGH,))
FED = replace(WATER, action=Action.FEED)


class TestWhatWasSaidBefore:
    """A mail that could only say again what the last one said is not sent."""

    def test_a_day_of_water_that_is_not_needed_is_silent(self) -> None:
        told = said(morning(NO_WATER), *told_on(1, FED))
        assert told == Spoken(morning(NO_WATER), is_silent=True)

    @pytest.mark.parametrize(
        "task",
        [
            replace(NO_WATER, water_per_bale_l=0.1),
            replace(NO_WATER, action=Action.SOAK),
            replace(NO_WATER, cautions=(Caution.TARP,)),
            replace(NO_WATER, also=(Also.SHADE,)),
            replace(NO_WATER, note="Slugs"),
            replace(NO_WATER, suffering=(Suffering("lettuce", "bolts"),)),
            replace(NO_WATER, state=State.MISSED),
        ],
    )
    def test_whatever_else_there_is_to_say_is_said(self, task: Task) -> None:
        assert said(morning(task), *told_on(1, FED)) == Spoken(morning(task))

    def test_one_thing_to_say_beside_it_is_enough(self) -> None:
        both = morning(NO_WATER, FED)
        assert said(both, *told_on(1, FED)) == Spoken(both)

    def test_no_work_at_all_is_not_the_mail_before(self) -> None:
        assert not said(morning(), *told_on(1, FED)).is_silent

    def test_after_a_morning_that_was_not_told_it_is_said(self) -> None:
        assert not said(morning(NO_WATER)).is_silent
        assert not said(morning(NO_WATER), *told_on(2, FED)).is_silent

    def test_who_wants_every_mail_gets_it(self) -> None:
        index = JournalIndex.of(told_on(1, FED))
        assert spoken(morning(NO_WATER), garden(), index) == Spoken(morning(NO_WATER))

    def test_news_of_the_morning_is_told_with_it(self) -> None:
        news = morning(NO_WATER, alerts=(HOT_DRY,))
        assert said(news, *told_on(1, FED)) == Spoken(news)

    @pytest.mark.parametrize(("mails", "silent"), [(1, True), (6, True), (7, False), (8, True)])
    def test_the_daily_look_at_the_thermometer_is_told_again_after_a_week(
        self, mails: int, silent: bool
    ) -> None:
        look = replace(LOOK, cautions=(Caution.HOT_BALE,))
        rows = (row for ago in range(mails, 0, -1) for row in told_on(ago, look))
        assert said(morning(look), *rows).is_silent is silent

    def test_a_look_that_was_not_told_yesterday_is_new(self) -> None:
        look = replace(LOOK, cautions=(Caution.HOT_BALE,))
        assert not said(morning(look), *told_on(1, FED)).is_silent


class TestHeld:
    """Work that waits is told again on the date that was said."""

    KEY = TaskKey("row-a", Action.FEED, day=5)
    WAITS = replace(FED, key=KEY, state=State.HELD, held_until=TODAY + timedelta(days=3))

    def held(self, until: date | None, *codes: ReasonCode) -> Task:
        reasons = tuple(Reason(code) for code in codes)
        return replace(self.WAITS, held_until=until, reasons=reasons)

    def told(self, now: Task, before: Task | None) -> Spoken:
        """Return what is said of held work that was told so yesterday, and keeps its key."""
        on = TODAY - timedelta(days=1)
        tasks = (FED,) if before is None else (before,)
        rows = told_entries(replace(MORNING, on=on, tasks=tasks), at(on), {})
        return said(replace(MORNING, tasks=(now,)), *rows)

    @pytest.mark.parametrize(("days", "silent"), [(-1, False), (0, False), (1, True), (2, True)])
    def test_it_is_silent_before_that_date(self, days: int, silent: bool) -> None:
        """And stands as it was said, whatever is expected since."""
        until = TODAY + timedelta(days=days)
        told = self.told(self.WAITS, self.held(until))
        assert told.is_silent is silent
        (task,) = told.brief.tasks
        assert task.held_until == (until if silent else self.WAITS.held_until)

    def test_a_hold_that_is_new_is_told(self) -> None:
        assert not self.told(self.WAITS, None).is_silent
        due = replace(self.WAITS, state=State.DUE)
        assert not self.told(self.WAITS, due).is_silent
        assert not self.told(self.WAITS, self.held(None)).is_silent

    def test_the_question_after_a_long_hold_is_asked_once(self) -> None:
        later = TODAY + timedelta(days=1)
        asks = self.held(later, ReasonCode.FREEZE, ReasonCode.HELD_LONG)
        assert not self.told(asks, self.held(later, ReasonCode.FREEZE)).is_silent
        assert self.told(asks, asks).is_silent


class TestWeek:
    """The second morning of the same watering is told for the days ahead."""

    USUAL = told_on(1, WATER)

    def test_it_runs_to_the_last_day_of_nothing_but_watering(self) -> None:
        """Six more days at the most; a day of its own within it is told on its own morning."""
        days = ahead((WATER,), (FED,), (WATER,), (WATER,), (WATER,), (WATER,), (WATER,))
        told = said(morning(WATER, ahead=days), *self.USUAL)
        assert told.week == Week(
            TODAY, TODAY + timedelta(days=6), (Portion("Row A", Action.WATER, 4.0),)
        )
        assert not told.is_silent

    @pytest.mark.parametrize(("weather", "wet"), [(DRY, False), (WET, True), (None, False)])
    def test_one_that_begins_on_a_wet_day_asks_to_look_first(
        self, weather: DayWeather | None, wet: bool
    ) -> None:
        """Its amount is that of dry mornings; the week stays as it is."""
        days, weather = ahead(*[(WATER,)] * 6), weather or DayWeather()
        told = said(morning(WATER, LOOK, weather=weather, ahead=days), *self.USUAL)
        dry = said(morning(WATER, LOOK, ahead=days), *self.USUAL)
        assert told.week == dry.week
        water, look = told.brief.tasks
        assert water.also == (Also.LOOK_FIRST,) * wet
        assert look.also == ()
        again = morning(replace(WATER, also=(Also.LOOK_FIRST,)), weather=WET, ahead=days)
        assert said(again, *self.USUAL).brief.tasks[0].also == (Also.LOOK_FIRST,)

    @pytest.mark.parametrize(("days", "begins"), [(1, False), (2, True), (3, True)])
    def test_three_days_are_worth_a_word(self, days: int, begins: bool) -> None:
        """Today's and two more."""
        today = morning(WATER, ahead=ahead(*[(WATER,)] * days, (FED,)))
        assert (said(today, *self.USUAL).week is not None) is begins

    def test_the_first_morning_is_told_by_itself(self) -> None:
        today = morning(WATER, ahead=ahead(*[(WATER,)] * 6))
        assert said(today) == Spoken(today)
        assert said(today, *told_on(2, WATER)) == Spoken(today)
        assert said(today, *told_on(1, replace(WATER, action=Action.SURFACE_WATER))).week is None

    def test_each_watering_must_have_been_told_before(self) -> None:
        top = replace(WATER, action=Action.SURFACE_WATER, water_per_bale_l=None)
        today = morning(WATER, top, ahead=ahead(*[(WATER, top)] * 6))
        assert said(today, *self.USUAL).week is None
        week = said(today, *told_on(1, WATER, top)).week
        assert week is not None
        assert week.portions == (
            Portion("Row A", Action.WATER, 4.0),
            Portion("Row A", Action.SURFACE_WATER, None),
        )

    def test_looks_alone_are_no_week(self) -> None:
        """Nor is a morning without work."""
        for tasks in ((LOOK,), ()):
            today = morning(*tasks, ahead=ahead(*[tasks] * 6))
            assert said(today, *told_on(1, LOOK)).week is None

    def test_a_morning_with_other_work_begins_none(self) -> None:
        today = morning(WATER, FED, ahead=ahead(*[(WATER,)] * 6))
        assert said(today, *self.USUAL) == Spoken(today)

    def test_what_falls_on_a_day_of_it_is_told_with_its_day(self) -> None:
        today = morning(WATER, LOOK, ahead=ahead((WATER,), (WATER, LOOK), (WATER,)))
        week = said(today, *self.USUAL).week
        assert week is not None
        on = [TODAY, TODAY + timedelta(days=2)]
        assert [(each.on, each.key) for each in week.extras] == [
            (day, dated_key("Row A", Action.INSPECT, day).text()) for day in on
        ]


class TestPortion:
    """What is told for a week is the mean of what the last mornings asked for."""

    def litres(self, today: Task, *before: Task) -> float | None:
        rows = [row for ago, task in enumerate(before, start=1) for row in told_on(ago, task)]
        index = JournalIndex.of(sorted(rows, key=lambda row: row.at))
        return _handy_l(dated(today, TODAY), PLAN, index, TODAY)

    @staticmethod
    def of(litres: float | None, times: int = 1) -> Task:
        return replace(WATER, water_per_bale_l=litres, times_a_day=times)

    @pytest.mark.parametrize(
        ("today_l", "before_l", "told_l"),
        [
            (4.0, (), 4.0),
            (4.0, (5.0,), 4.5),
            (4.0, (4.0, 4.1), 4.5),
            (4.1, (), 4.5),
            (3.9, (4.1,), 4.0),
            (1.0, (8.0, 8.0, 8.0, 8.0, 8.0, 8.0), 7.0),
            (1.0, (8.0, 8.0, 8.0, 8.0, 8.0, 8.0, 99.0), 7.0),
        ],
    )
    def test_it_is_the_mean_of_a_week_in_whole_halves_of_a_litre(
        self, today_l: float, before_l: tuple[float, ...], told_l: float
    ) -> None:
        assert self.litres(self.of(today_l), *map(self.of, before_l)) == told_l

    def test_a_morning_without_it_ends_the_count(self) -> None:
        assert self.litres(self.of(4.0), self.of(5.0), FED, self.of(50.0)) == 4.5

    def test_what_is_given_more_than_once_is_told_by_the_time(self) -> None:
        """9 L on the mean of the days, in three times of 3 L."""
        before = self.of(5.0, 2)
        assert self.litres(self.of(2.6, 3), before) == 3.0
        assert self.litres(self.of(4.0, 1), before) == 7.0

    def test_a_morning_that_told_no_amount_counts_as_what_a_top_wants(self) -> None:
        """3 mm on 0.45 square metres are 1.35 L; where none told one, none is told."""
        assert self.litres(self.of(4.0), self.of(None)) == 3.0
        assert self.litres(self.of(None), self.of(None)) is None


class TestWithinTheWeek:
    """What the week said is not said again."""

    UNTIL = TODAY + timedelta(days=4)
    WEEK = Week(
        TODAY - timedelta(days=1),
        UNTIL,
        (Portion("Row A", Action.WATER, 4.0),),
        (Extra(TODAY, dated_key("Row A", Action.INSPECT, TODAY).text()),),
    )

    def within(self, today: Brief, week: Week = WEEK, came: DayWeather = DRY) -> Spoken:
        """Return what is said after a week was told yesterday, and how yesterday's weather came."""
        index = JournalIndex.of(told_on(1, WATER, week=week))
        index.weather[today.on - timedelta(days=1)] = came
        index.briefed[today.on - timedelta(days=1)] = NOW
        return spoken(today, PLAN, index)

    @staticmethod
    def of(litres: float | None, times: int = 1) -> Task:
        return replace(WATER, water_per_bale_l=litres, times_a_day=times)

    @pytest.mark.parametrize("litres", [3.0, 4.0, 6.9])
    def test_its_water_is_what_was_told(self, litres: float) -> None:
        told = self.within(morning(self.of(litres)))
        assert told == Spoken(morning(self.of(4.0)), is_silent=True)

    @pytest.mark.parametrize(("litres", "silent"), [(6.9, True), (7.0, False), (7.1, False)])
    def test_a_bale_that_lacks_as_much_more_as_it_is_refilled_for_is_told_of(
        self, litres: float, silent: bool
    ) -> None:
        """3 L on a bale of 20 kg; till then the next mornings make up for it."""
        assert self.within(morning(self.of(litres))).is_silent is silent

    @pytest.mark.parametrize(("times", "silent"), [(1, True), (2, True), (3, False)])
    def test_water_more_often_than_told_is_told(self, times: int, silent: bool) -> None:
        twice = replace(self.WEEK, portions=(Portion("Row A", Action.WATER, 4.0, 2),))
        assert self.within(morning(self.of(1.0, times)), twice).is_silent is silent

    def test_the_times_count_in_what_it_lacks(self) -> None:
        """Twice 5.4 L against twice 4 L is 2.8 L more, twice 5.5 L is 3 L."""
        twice = replace(self.WEEK, portions=(Portion("Row A", Action.WATER, 4.0, 2),))
        for litres, silent in ((5.4, True), (5.5, False)):
            assert self.within(morning(self.of(litres, 2)), twice).is_silent is silent

    def test_water_that_is_not_of_the_week_is_told(self) -> None:
        top = replace(self.of(1.0), action=Action.SURFACE_WATER)
        assert not self.within(morning(top)).is_silent

    def test_a_look_of_its_day_is_known_and_another_is_not(self) -> None:
        assert self.within(morning(WATER, LOOK)).is_silent
        picked = replace(LOOK, action=Action.HARVEST)
        assert self.within(morning(WATER, picked)) == Spoken(morning(WATER, picked))

    @pytest.mark.parametrize(("days", "silent"), [(-1, False), (0, True), (4, True), (5, False)])
    def test_it_holds_from_the_morning_after_it_was_told_to_its_last(
        self, days: int, silent: bool
    ) -> None:
        on = TODAY + timedelta(days=days)
        assert self.within(morning(WATER, on=on)).is_silent is silent

    @pytest.mark.parametrize(
        ("forecast", "came", "rests"),
        [(DRY, DRY, False), (WET, DRY, True), (DRY, WET, True)],
    )
    def test_rain_waters_what_would_have_been_watered(
        self, forecast: DayWeather, came: DayWeather, rests: bool
    ) -> None:
        """A bale in no need gets none on a day of rain, or the day after, and that is told."""
        told = self.within(morning(weather=forecast), came=came)
        (task,) = told.brief.tasks
        assert (task.key, task.water_per_bale_l) == (WATER_KEY, 0.0 if rests else 4.0)
        assert task.also == ((Also.RAIN_WATERS,) if rests else ())
        assert told.is_silent is not rests

    def test_a_bale_that_lacks_water_in_spite_of_rain_gets_it(self) -> None:
        assert self.within(morning(WATER, weather=WET)) == Spoken(
            morning(WATER, weather=WET), is_silent=True
        )

    def test_a_top_without_an_amount_is_not_made_up_on_a_day_that_needs_none(self) -> None:
        top = replace(self.WEEK, portions=(Portion("Row A", Action.SURFACE_WATER, None),))
        assert self.within(morning(), top).brief.tasks == ()
        assert self.within(morning(weather=WET), top).is_silent

    def test_a_batch_that_is_gone_is_not_watered(self) -> None:
        other = replace(self.WEEK, portions=(Portion("Row Z", Action.WATER, 4.0),))
        assert self.within(morning(), other).brief.tasks == ()


WATER_KEY = dated_key("Row A", Action.WATER, TODAY)


@pytest.mark.parametrize(
    "changes",
    [
        {"not_told": (TODAY - timedelta(days=1),)},
        {"questions": (Question(TaskKey("row-a", Action.FEED, day=3), "Row A", 3, TODAY),)},
        {"forecast": replace(MORNING.forecast, status=ForecastStatus.STALE)},
        {"outlooks": (BatchOutlook("Row A", "resting", make_up=MakeUpEstimate(5.0, 50.0)),)},
    ],
    ids=["downtime", "question", "stale", "make-up"],
)
def test_what_needs_a_word_of_its_own_is_no_calm_morning(changes: dict[str, object]) -> None:
    assert not _is_calm(replace(MORNING, **changes), JournalIndex())  # type: ignore[arg-type]
    assert _is_calm(MORNING, JournalIndex())
