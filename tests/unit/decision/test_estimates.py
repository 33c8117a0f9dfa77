"""What is computed for a batch today: core, progress, readiness and the dry top."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from types import SimpleNamespace

import pytest
from msgspec.structs import replace

from strawbell.agronomy.readiness import CoreOutlook, ReadinessCode
from strawbell.decision import estimates as module
from strawbell.decision.daily_weather import DailyWeather
from strawbell.decision.estimates import (
    CORE_DAYS_AHEAD,
    HEATS_DAYS,
    NOTHING_KNOWN,
    BatchEstimate,
    Estimates,
    TarpOutlook,
    _days_to_go,
    outlook_of,
)
from strawbell.model.brief import BatchOutlook
from strawbell.model.details import Band, BatchStage, ConditioningEstimate
from strawbell.model.feeds import Material
from strawbell.model.forecast import DayWeather, Forecast
from strawbell.model.garden import Batch, Method
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.conditioning import is_feeding, step_key
from strawbell.season.journal_index import JournalIndex
from strawbell.season.stage import BatchState, Day, Given, SequenceState
from support.gardens import RADISH, START, at, batch, done, forecast, garden, on_day, planting
from support.keys import key_of
from support.standing import state, warm

ROW = batch()
MILD = DayWeather(8.0, 18.0, 0.0, 0.0, True)


def conditioning(day: int, own: Batch = ROW) -> BatchState:
    """Return the batch on the morning of a day of the sequence."""
    past = own.schedule.days[: day - 1]
    given = tuple(
        Given(on_day(step.day), step_key(own, step), step) for step in past if is_feeding(step)
    )
    return BatchState(SequenceState(position=day - 1, given=given, soaked=day > 1))


def kept(first: date = START, days: int = 0, weather: DayWeather = MILD) -> JournalIndex:
    """Return the index of so many mornings with this weather."""
    index = JournalIndex()
    index.weather = {first + timedelta(days=number): weather for number in range(days)}
    return index


def estimates(
    now: datetime,
    where: BatchState | None,
    index: JournalIndex | None = None,
    seen: Forecast | None = None,
    own: Batch = ROW,
    **changes: object,
) -> Estimates:
    """Return the estimates for a garden of one batch."""
    plan = garden(own, **changes)
    index = index or JournalIndex()
    made = Estimates(plan, index, DailyWeather(plan, seen, now))
    if where is not None:
        made.begin([Day(plan, own, where, index.day(own, now.date()))])
    return made


def day_six(index: JournalIndex | None = None, **values: float) -> BatchEstimate:
    """Return the estimate on the morning of day 6, after five mild days."""
    now = at(on_day(6))
    return estimates(now, conditioning(6), index or kept(days=5), forecast(now, **values)).of(ROW)


class TestStages:
    """Which part of its life a batch is in."""

    def test_a_batch_that_has_not_begun_has_no_insight(self) -> None:
        """Nor a ledger, nor a figure."""
        none = estimates(at(START), None)
        assert none.of(ROW) is NOTHING_KNOWN
        assert none.ledger_of(ROW) is None
        outlook = outlook_of(ROW, none)
        assert outlook == BatchOutlook("Row A", BatchStage.NOT_BEGUN)

    def test_conditioning_resting_growing(self) -> None:
        """By the sequence, then by what has gone in."""
        own = batch(plantings=(planting(),))
        now = at(on_day(12))
        seen = {
            name: estimates(now, where, kept(days=11), forecast(now), own).of(own)
            for name, where in (
                ("conditioning", conditioning(11, own)),
                ("resting", state(own)),
                ("growing", state(own, on_day(12))),
            )
        }
        assert {name: each.stage for name, each in seen.items()} == {name: name for name in seen}
        assert seen["resting"].core is not None
        assert seen["growing"].core is None
        assert seen["growing"].progress is None

    @pytest.mark.parametrize(("days", "followed"), [(60, True), (61, False)])
    def test_the_core_of_a_bale_is_foretold_for_sixty_days(self, days: int, followed: bool) -> None:
        """Longer ago than that it has cooled."""
        assert HEATS_DAYS == 60
        now = at(START + timedelta(days=days))
        found = estimates(now, state(ROW), kept(days=days), forecast(now)).of(ROW)
        assert (found.core is not None) is followed
        assert (found.progress is not None) is followed

    def test_it_is_computed_once(self) -> None:
        """However often it is asked for."""
        now = at(on_day(6))
        made = estimates(now, conditioning(6), kept(days=5), forecast(now))
        assert made.of(ROW) is made.of(ROW)


class TestCore:
    """The temperature inside, today and ahead."""

    def test_a_week_is_shown_from_today_on(self) -> None:
        """As far as the air is forecast."""
        core = day_six().core
        assert core is not None
        assert core.days[0].on == on_day(6)
        assert core.days[-1].on == on_day(6) + timedelta(days=CORE_DAYS_AHEAD)

    def test_core_on_a_date(self) -> None:
        """None past the outlook."""
        found = day_six()
        assert found.core is not None
        assert found.core_on(on_day(7)) == found.core.days[1]
        assert found.core_on(on_day(40)) is None
        assert BatchEstimate("resting").core_on(on_day(7)) is None

    def test_fed_bales_are_warmer_than_the_air(self) -> None:
        """Three full doses in five mild days."""
        core = day_six().core
        assert core is not None
        assert core.days[0].expected_c > 17.0

    def test_what_was_given_heats_by_its_recorded_amount(self) -> None:
        """Half of the dose, half of the heat it adds."""
        index = kept(days=5)
        for day in (1, 3, 5):
            key = step_key(ROW, ROW.schedule.days[day - 1])
            index.amounts[key] = {"nitrogen_per_bale_g": 1.0}
        full, little = day_six().core, day_six(index).core
        assert full is not None
        assert little is not None
        assert little.days[0].expected_c < full.days[0].expected_c

    def test_without_any_weather_there_is_no_core(self) -> None:
        """Neither kept nor forecast."""
        found = estimates(at(on_day(6)), conditioning(6)).of(ROW)
        assert (found.core, found.progress) == (None, None)

    def test_days_that_were_not_whole_are_unknown(self) -> None:
        """The air of half a day is no day's air."""
        now = at(on_day(6))
        half = kept(days=5, weather=replace(MILD, complete=False))
        assert estimates(now, conditioning(6), half).of(ROW).core is None
        core = estimates(now, conditioning(6), half, forecast(now)).of(ROW).core
        assert core is not None

    def test_readings_of_this_season_count(self) -> None:
        """Last year's say nothing of this year's bale."""

        def reading(when: datetime) -> JournalIndex:
            index = kept(days=5)
            entry = JournalEntry(
                when, "Orchard corner", when.date(), EntryKind.TEMPERATURE, "Row A", value=55.0
            )
            index.take((entry,))
            return index

        now_read = day_six(reading(at(on_day(6), 6, 0))).core
        long_ago = day_six(reading(at(START - timedelta(days=1)))).core
        assert now_read is not None
        assert long_ago is not None
        assert now_read.from_readings
        assert now_read.days[0].expected_c == pytest.approx(55.0, abs=6.0)
        assert not long_ago.from_readings


class TestWaterAndNitrogenOfADate:
    """What a bale holds on a date, as far as the weather is forecast."""

    def test_it_is_known_from_today_on_as_far_as_it_is_walked(self) -> None:
        """Eight days; neither yesterday nor before the first soaking, nor beyond."""
        now = at(on_day(6))
        made = estimates(now, conditioning(6), kept(days=5), forecast(now))
        known = [day for day in range(4, 17) if made.held_l(ROW, on_day(day)) is not None]
        assert known == list(range(6, 6 + CORE_DAYS_AHEAD + 2))
        assert made.spent_g(ROW, on_day(5)) is None
        spent = made.spent_g(ROW, on_day(6))
        assert spent is not None
        assert 0.0 < spent.low < spent.high
        assert estimates(now, None).held_l(ROW, on_day(6)) is None

    @pytest.mark.parametrize(("days", "followed"), [(240, True), (241, False)])
    def test_a_bale_is_followed_for_eight_months(self, days: int, followed: bool) -> None:
        today = START + timedelta(days=days)
        made = estimates(at(today), state(ROW), kept(days=days), forecast(at(today)))
        assert (made.held_l(ROW, today) is not None) is followed
        assert (made.course(ROW) is not None) is followed

    def test_once_planted_nobody_asks_why_it_stays_cool(self) -> None:
        own = batch(plantings=(planting(),))
        now = at(on_day(13))
        waiting, grown = (
            estimates(now, state(own, since), kept(days=12), forecast(now), own)
            for since in (None, on_day(13))
        )
        assert waiting.course(own) is not None
        assert grown.course(own) is None
        assert estimates(now, None, own=own).course(own) is None

    def test_a_reading_moves_the_core_of_the_coming_night(self) -> None:
        """A hotter one to a hotter core; of a bale that is not there nothing is known."""
        now = at(on_day(6))
        made = estimates(now, conditioning(6), kept(days=5), forecast(now))
        cool, hot = (made.core_if_read_c(ROW, reading_c) for reading_c in (20.0, 50.0))
        assert cool is not None
        assert hot is not None
        assert 45.0 < hot < 55.0
        assert 10.0 < cool < 25.0
        assert estimates(now, None).core_if_read_c(ROW, 50.0) is None


class TestWalkedCore:
    """What a bale that was walked through the coming days tells of its core."""

    TODAY = on_day(6)

    def core(
        self,
        monkeypatch: pytest.MonkeyPatch,
        read_on: date | None = None,
        warmest: tuple[float, int] = (5.0, 3),
    ) -> CoreOutlook:
        """Return the outlook of a bale whose days ahead are known; the band shows what it is of."""
        hottest = warmest[0], self.TODAY + timedelta(days=warmest[1])
        courses = {
            self.TODAY + timedelta(days=ahead): SimpleNamespace(
                draws=ahead, low_c=2.0, high_c=10.0 + ahead, read_on=read_on, warmest=hottest
            )
            for ahead in range(CORE_DAYS_AHEAD + 2)
        }

        def band(draws: int, air_c: float, ago: float | None) -> SimpleNamespace:
            return SimpleNamespace(low=-1.0 if ago is None else ago, mean=draws, high=air_c)

        monkeypatch.setattr(module, "core_band", band)
        made = estimates(at(self.TODAY), conditioning(6))
        monkeypatch.setattr(made, "_foreseen", lambda batch: courses)
        core = made._core(ROW)
        assert core is not None
        return core

    def test_each_day_is_as_its_night_finds_it(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """In the mean air of that night's day: between 2 degC and 11, 12 and so on."""
        days = self.core(monkeypatch).days
        assert [each.on for each in days] == [
            self.TODAY + timedelta(days=ahead) for ahead in range(CORE_DAYS_AHEAD + 1)
        ]
        assert [each.expected_c for each in days[:2]] == [1, 2]
        assert [each.high_c for each in days[:2]] == [6.5, 7.0]

    @pytest.mark.parametrize(("read", "ago"), [(None, -1.0), (0, 0.0), (2, 2.0)])
    def test_the_band_widens_with_the_days_since_the_reading(
        self, monkeypatch: pytest.MonkeyPatch, read: int | None, ago: float
    ) -> None:
        read_on = None if read is None else self.TODAY - timedelta(days=read)
        first, second = self.core(monkeypatch, read_on).days[:2]
        assert (first.low_c, second.low_c) == (ago, ago if read is None else ago + 1.0)

    @pytest.mark.parametrize(("days", "rests"), [(0, True), (7, True), (8, False)])
    def test_for_a_week_it_rests_on_a_reading(
        self, monkeypatch: pytest.MonkeyPatch, days: int, rests: bool
    ) -> None:
        assert self.core(monkeypatch, self.TODAY - timedelta(days=days)).from_readings is rests
        assert not self.core(monkeypatch).from_readings

    @pytest.mark.parametrize(
        ("excess_k", "ahead", "peaks"),
        [(0.9, 3, False), (1.0, 3, True), (1.1, 6, True), (1.1, 7, False), (1.1, -2, True)],
    )
    def test_it_peaks_where_it_heated_and_does_not_rise_to_the_end(
        self, monkeypatch: pytest.MonkeyPatch, excess_k: float, ahead: int, peaks: bool
    ) -> None:
        """By 1 K over the air at the least; the seventh day ahead is the last that is shown."""
        found = self.core(monkeypatch, warmest=(excess_k, ahead)).peak_on
        assert found == (self.TODAY + timedelta(days=ahead) if peaks else None)


@pytest.mark.parametrize(
    ("done", "days"),
    [
        ([12.0, 13.0], 0),
        ([11.9, 12.0], 1),
        ([10.0, 11.0, 11.9], 3),
        ([10.0, 10.5], 4),
        ([10.0, 11.0], 2),
        ([10.0, 10.4], 5),
        ([1.0, 1.0], None),
        ([2.0, 1.0], None),
        ([0.0, 0.1], 120),
        ([0.0, 0.0999], None),
    ],
)
def test_past_what_is_forecast_conditioning_goes_on_as_on_the_last_day(
    done: list[float], days: int | None
) -> None:
    """Twelve mild days; beyond 120 nothing is foretold."""
    assert _days_to_go(done) == days


class TestTarpOutlook:
    """What a tarp would keep is what the bare bale loses more than the covered one."""

    def outlook(self, monkeypatch: pytest.MonkeyPatch, on: date, where: BatchState) -> TarpOutlook:
        """Return it for a bale that loses 3 g a day bare and 1 g a day under a tarp."""
        made = estimates(at(on_day(6)), where)
        made._lines[ROW.name] = {on_day(6 + ahead): ROW.schedule.days[4] for ahead in (0, 1, 3)}
        made._lines[ROW.name][on_day(8)] = ROW.schedule.days[5]
        monkeypatch.setattr(
            made,
            "_courses",
            lambda batch, last, covered: {
                on_day(6 + ahead): SimpleNamespace(
                    washed_g=[99.0, ahead * (1.0 if covered else 3.0)]
                )
                for ahead in range((last - on_day(6)).days + 1)
            },
        )
        return made.tarp_outlook(ROW, on)

    def test_it_is_told_for_each_day_as_far_as_rain_is_forecast(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Eight days; feedings of the days between, not of the first nor the last."""
        assert not is_feeding(ROW.schedule.days[5])
        found = self.outlook(monkeypatch, on_day(6), conditioning(6))
        assert found.kept_g == tuple(2.0 * days for days in range(1, 9))
        assert found.feedings == (0, 1, 1, 2, 2, 2, 2, 2)

    def test_from_a_later_day_on_it_counts_from_there(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        found = self.outlook(monkeypatch, on_day(7), conditioning(6))
        assert found.kept_g == tuple(2.0 * days for days in range(1, 8))
        assert found.feedings == (0, 0, 1, 1, 1, 1, 1)

    def test_before_the_first_feeding_and_beyond_what_is_known_it_keeps_nothing(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        nothing = TarpOutlook((), ())
        assert self.outlook(monkeypatch, on_day(6), conditioning(1)) == nothing
        assert self.outlook(monkeypatch, on_day(30), conditioning(6)) == nothing
        assert estimates(at(on_day(6)), None).tarp_outlook(ROW, on_day(6)) == nothing


class TestProgress:
    """Days that count."""

    def test_mild_days_count_as_days(self) -> None:
        """Warm ones as more."""
        mild, warm_spring = day_six(), day_six(kept(days=5, weather=DayWeather(15, 25, 0, 0, True)))
        assert mild.progress is not None
        assert warm_spring.progress is not None
        assert warm_spring.progress.done.low > mild.progress.done.low > 0

    def test_days_to_go_are_in_order_and_fall(self) -> None:
        """A week later there are fewer."""
        early = day_six().progress
        assert early is not None
        assert early.to_go.expected is not None
        assert early.to_go.low <= early.to_go.expected <= (early.to_go.high or 120)
        now = at(on_day(11))
        late = estimates(now, conditioning(11), kept(days=10), forecast(now)).of(ROW).progress
        assert late is not None
        assert late.to_go.expected is not None
        assert late.to_go.expected < early.to_go.expected


class TestSurface:
    """The top of the bales."""

    PLANTED = batch(plantings=(planting(),))
    TODAY = date(2027, 5, 20)
    NOW = at(date(2027, 5, 20))

    def top(
        self,
        own: Batch | None = None,
        planted: date | None = TODAY - timedelta(days=10),
        index: JournalIndex | None = None,
        change=None,
        **changes: object,
    ):
        """Return what the top does under a hot sky."""
        own = own or self.PLANTED
        issued = self.NOW - timedelta(hours=11)
        seen = forecast(issued, *(change,) if change else (), temperature_c=24.0)
        where = state(own, planted)
        return estimates(self.NOW, where, index, seen, own, **changes).of(own).surface

    def test_it_matters_where_plants_stand(self) -> None:
        """Bare straw dries by the balance, a hot day or not."""
        assert self.top() is not None
        assert self.top(planted=None) is None
        assert self.top(planted=None, change=warm(self.TODAY, 31.0)) is None

    def test_without_a_fresh_forecast_it_is_unknown(self) -> None:
        """A stale one is not decided on."""
        for seen in (None, forecast(self.NOW - timedelta(hours=13))):
            where = state(self.PLANTED, self.TODAY)
            found = estimates(self.NOW, where, None, seen, self.PLANTED).of(self.PLANTED)
            assert found.surface is None

    def test_a_seed_bed_dries_sooner_than_a_layer_of_mix(self) -> None:
        """For three weeks from sowing; then it is a layer of mix like any."""
        sown = batch(plantings=(planting(RADISH, Method.SEED),))
        bed = self.top(sown, self.TODAY - timedelta(days=21))
        layer = self.top(sown, self.TODAY - timedelta(days=22))
        set_out = self.top(batch(plantings=(planting(RADISH),)))
        assert bed is not None
        assert layer is not None
        assert set_out is not None
        assert bed.litres_per_bale < layer.litres_per_bale
        assert layer.litres_per_bale == set_out.litres_per_bale

    def test_mulch_and_a_thicker_layer_hold_water(self) -> None:
        """Less is lost, or more is held."""
        plain, mulched = self.top(), self.top(replace(self.PLANTED, mulched=True))
        thick = self.top(mix_layer_cm=8.0)
        assert plain is not None
        assert mulched is not None
        assert thick is not None
        assert plain.dry_at is not None
        assert mulched.dry_at is None or mulched.dry_at > plain.dry_at
        assert thick != plain

    @pytest.mark.parametrize(
        ("key", "hours_ago", "counts"),
        [
            ("row-a-surface-water-2027-05-20", 1, True),
            ("row-a-water-2027-05-20", 1, True),
            ("row-a-water-2027-05-19", 11, True),
            ("row-a-6-water", 1, True),
            ("row-a-5-feed", 1, True),
            ("row-a-feed-season-2", 1, True),
            ("row-a-feed-season-2-6-water", 1, False),
            ("row-b-feed-season-2", 1, False),
            ("row-a-water-2027-05-20", 13, False),
            ("row-a-water-butt-6-water", 1, False),
            ("row-b-water-2027-05-20", 1, False),
            ("row-a-inspect-2027-05-20", 1, False),
        ],
    )
    def test_what_was_recorded_as_watered_lately_filled_the_top(
        self, key: str, hours_ago: float, counts: bool
    ) -> None:
        """Water of this batch in the last twelve hours, by whichever task it was given."""
        moment = self.NOW - timedelta(hours=hours_ago)
        index = JournalIndex.of((done(key, moment, (moment + timedelta(hours=2)).date()),))
        plain, watered = self.top(), self.top(index=index)
        assert plain is not None
        assert watered is not None
        assert (watered != plain) is counts

    def test_what_was_recorded_as_missed_filled_nothing(self) -> None:
        """The last word counts."""
        key = key_of("row-a-water-2027-05-20")
        first = done(key, self.NOW - timedelta(hours=2), self.TODAY)
        second = replace(first, kind=EntryKind.MISSED, at=self.NOW - timedelta(hours=1))
        found = self.top(index=JournalIndex.of((first, second)))
        assert found is not None
        assert found == self.top()


class TestReadiness:
    """Where the plan itself stands."""

    @staticmethod
    def planned(own: Batch, where: BatchState, day: int) -> bool:
        """Return whether the schedule alone would plant."""
        ready = estimates(at(on_day(day)), where, own=own).of(own).readiness
        assert ready is not None
        return ReadinessCode.PLAN_NOT_FINISHED not in ready.reasons

    @pytest.mark.parametrize(("day", "planned"), [(5, False), (6, True), (7, True)])
    def test_in_the_sequence_its_own_day_counts(self, day: int, planned: bool) -> None:
        """Of a schedule that plants from day 6."""
        early = batch(schedule=replace(ROW.schedule, plant_from_day=6))
        assert self.planned(early, conditioning(day, early), day) is planned

    @pytest.mark.parametrize(("plant_from_day", "planned"), [(12, True), (14, True), (15, False)])
    def test_past_its_end_the_days_are_counted_on(self, plant_from_day: int, planned: bool) -> None:
        """Three days after the eleventh it is the fourteenth."""
        own = batch(schedule=replace(ROW.schedule, plant_from_day=plant_from_day))
        assert self.planned(own, state(own), 14) is planned

    def test_the_limit_is_the_gardens_own(self) -> None:
        """A reading of 40 degC is too hot at 37.5, not at 45."""
        entry = JournalEntry(
            at(on_day(13)), "Orchard corner", on_day(13), EntryKind.TEMPERATURE, "Row A", value=40.0
        )
        rules = garden().rules
        codes = []
        for limit_c in (37.5, 45.0):
            made = estimates(
                at(on_day(13), 7, 0),
                state(ROW),
                JournalIndex.of((entry,)),
                rules=replace(rules, plant_below_c=limit_c),
            )
            ready = made.of(ROW).readiness
            assert ready is not None
            codes.append(ready.reasons[0])
        assert codes[0] != codes[1]


class TestOutlook:
    """The estimate as figures to show and to keep."""

    def outlook(self, index: JournalIndex | None = None, own: Batch = ROW):
        """Return the outlook of the morning of day 6."""
        now = at(on_day(6))
        made = estimates(now, conditioning(6, own), index or kept(days=5), forecast(now), own)
        return outlook_of(own, made), made.of(own)

    def test_the_figures_are_those_that_were_computed(self) -> None:
        """Rounded to what can be meant."""
        told, estimate = self.outlook()
        assert estimate.core is not None
        assert estimate.progress is not None
        core, done, to_go = told.core, estimate.progress.done, estimate.progress.to_go
        assert (told.batch, told.stage) == ("Row A", BatchStage.CONDITIONING)
        assert core is not None
        assert core.expected_c == round(estimate.core.days[0].expected_c, 1)
        assert core.low_c <= core.expected_c <= core.high_c
        assert not core.from_probe
        assert told.conditioning == ConditioningEstimate(
            Band(round(done.low, 1), round(done.high, 1)), Band(to_go.low, to_go.high)
        )
        assert told.nitrogen is not None
        assert (told.nitrogen.given_g, told.nitrogen.unknown_rain_days) == (144.0, 0)
        assert told.make_up is None

    def test_when_it_is_ready_is_told(self) -> None:
        """At the soonest and at the latest."""
        told, estimate = self.outlook()
        assert estimate.readiness is not None
        assert told.ready_on == estimate.readiness.first_safe_on
        assert told.ready_on_latest == estimate.readiness.latest_on
        assert told.ready_on is None or told.ready_on >= on_day(12)

    def test_unknown_rain_is_counted(self) -> None:
        """Of days that no brief was kept of."""
        told, _ = self.outlook(kept(days=3))
        assert told.nitrogen is not None
        assert told.nitrogen.unknown_rain_days > 0

    def test_a_storm_says_what_would_make_up_for_it(self) -> None:
        """Nitrogen, and feed of the batch's own."""
        index = kept(days=5)
        for day in (3, 4, 5):
            index.weather[on_day(day)] = replace(MILD, rain_mm=60.0)
        quick = batch(feed=replace(ROW.feed, material=Material.UREA), nitrogen_per_full_dose_g=30.0)
        told, _ = self.outlook(index, quick)
        assert told.make_up is not None
        assert told.make_up.feed_g == pytest.approx(told.make_up.nitrogen_g / 0.12, abs=1.0)

    def test_a_planted_batch_tells_its_evaporation(self) -> None:
        """Of today, where the forecast gives it."""
        own = batch(plantings=(planting(),))
        now = at(date(2027, 5, 20))
        made = estimates(now, state(own, date(2027, 5, 1)), None, forecast(now), own)
        told = outlook_of(own, made)
        assert told.stage is BatchStage.GROWING
        assert told.evaporation_mm is not None
        assert told.evaporation_mm > 0
        assert told.core is None
