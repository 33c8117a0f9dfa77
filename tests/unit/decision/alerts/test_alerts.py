"""What is looked out for: each watch at its limits, and what it says."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from strawbell.decision.alerts import (
    FRESHLY_FED_DAYS,
    Lookout,
    alerts,
    forecast_trouble,
    freeze_ahead,
    frost_on_plants,
    heat_on_the_person,
    heavy_rain_ahead,
    hot_and_dry_day,
    self_heating,
)
from strawbell.decision.telling import told_entries
from strawbell.model.brief import Action, Alert, AlertCode, AlertKey, ReasonCode, State, Task
from strawbell.model.garden import Batch
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.conditioning import is_feeding, step_key
from strawbell.season.journal_index import ALERT_PASSED, ALERT_TOLD
from strawbell.season.stage import BatchState, Given, SequenceState, last_harvest_key
from support.briefs import brief
from support.gardens import RADISH, at, batch, forecast, hour_at, planting
from support.keys import key_of
from support.standing import both, lookout, night, state, warm

TODAY = date(2027, 5, 20)
NOW = at(TODAY)
ROW = batch(plantings=(planting(),))
PLANTED = state(ROW, TODAY - timedelta(days=30))
CALM_CLEAR = {"cloud_percent": 10.0, "wind_m_s": 1.0}


def watched(change=None, where: BatchState = PLANTED, own: Batch = ROW, **changes) -> Lookout:
    """Return a lookout on 20 May under a mild forecast with hours changed."""
    seen = forecast(NOW, change) if change else forecast(NOW)
    return lookout(own, where, seen, NOW, **changes)


def standing(code: AlertCode) -> JournalEntry:
    """Return the row of an alert of row A that was told this morning."""
    key = AlertKey(code, "row-a").text()
    return JournalEntry(
        NOW, "Orchard corner", TODAY, EntryKind.ALERT, "Row A", key, state=ALERT_TOLD
    )


def only(found: tuple[Alert, ...]) -> Alert:
    """Return the one alert there must be."""
    (alert,) = found
    return alert


def rain(millimetres: float):
    """Return rain at 15:00 today, likely."""
    return hour_at(at(TODAY, 15, 0), rain_mm=millimetres, rain_chance_percent=80.0)


class TestForecastTrouble:
    """That nothing could be judged."""

    def test_a_fresh_forecast_is_no_trouble(self) -> None:
        """Nothing to say."""
        assert forecast_trouble(watched()) == ()

    def test_no_forecast_is_said(self) -> None:
        """Once for the garden."""
        found = only(forecast_trouble(lookout(ROW, PLANTED, None, NOW)))
        assert (found.code, found.batch) == (AlertCode.NO_FORECAST, None)
        assert found.reasons[0].code is ReasonCode.NO_FORECAST

    @pytest.mark.parametrize(("hours", "stale"), [(11.9, False), (12.0, False), (12.1, True)])
    def test_a_forecast_over_twelve_hours_old_is_stale(self, hours: float, stale: bool) -> None:
        """Its age and the limit are given."""
        found = forecast_trouble(lookout(ROW, PLANTED, forecast(NOW - timedelta(hours=hours)), NOW))
        assert [each.code for each in found] == [AlertCode.STALE_FORECAST] * stale
        if stale:
            (why,) = found[0].reasons
            assert (why.code, why.unit) == (ReasonCode.STALE_FORECAST, "h")
            assert (why.value, why.threshold) == (pytest.approx(12.1), 12.0)

    def test_nothing_is_said_while_nothing_is_outside(self) -> None:
        """Before the first batch begins there is nothing to judge."""
        none = replace(lookout(ROW, PLANTED, None, NOW), days=())
        assert forecast_trouble(none) == ()


class TestFreeze:
    """Hose, tap, and wet bales."""

    @pytest.mark.parametrize(("low_c", "warned"), [(0.1, False), (0.0, True), (-0.1, True)])
    def test_it_is_warned_of_from_zero_down(self, low_c: float, warned: bool) -> None:
        """At the threshold counts as reached."""
        assert bool(freeze_ahead(watched(night(TODAY, low_c)))) is warned

    def test_it_spans_the_hours_within_the_margin_of_the_limit(self) -> None:
        """One degree over the limit belongs to it, a tenth more does not."""
        hours = {2: 1.1, 3: 1.0, 4: -0.5, 5: -2.0, 6: 0.9, 7: 1.2}
        tomorrow = TODAY + timedelta(days=1)
        cold = both(*(hour_at(at(tomorrow, h, 0), temperature_c=c) for h, c in hours.items()))
        seen = forecast(at(TODAY, 8, 0), cold)
        found = only(freeze_ahead(lookout(ROW, PLANTED, seen, at(TODAY, 8, 0))))
        assert found.starts_at is not None
        assert found.ends_at is not None
        assert (found.starts_at.isoformat(), found.ends_at.isoformat()) == (
            "2027-05-21T03:00:00+02:00",
            "2027-05-21T07:00:00+02:00",
        )
        assert found.batch is None
        assert found.reasons[0].value == -2.0

    def test_a_freeze_that_has_begun_begins_now(self) -> None:
        """Not in the past."""
        cold = both(
            hour_at(at(TODAY, 6, 0), temperature_c=-2.0),
            hour_at(at(TODAY, 7, 0), temperature_c=-1.0),
        )
        found = only(freeze_ahead(watched(cold)))
        assert found.starts_at == NOW

    def test_without_a_forecast_none_is_seen(self) -> None:
        """Unknown is said by another watch."""
        assert freeze_ahead(lookout(ROW, PLANTED, None, NOW)) == ()

    def test_nothing_outside_means_no_warning(self) -> None:
        """No batch has begun."""
        assert freeze_ahead(replace(watched(night(TODAY, -5.0)), days=())) == ()


class TestHeavyRain:
    """Feed that lies near the top."""

    @staticmethod
    def fed(days_ago: int) -> BatchState:
        """Return a batch in conditioning whose last feeding is some days ago."""
        step = next(each for each in ROW.schedule.days if is_feeding(each))
        given = Given(TODAY - timedelta(days=days_ago), step_key(ROW, step), step)
        return BatchState(SequenceState(position=3, given=(given,), soaked=True))

    @pytest.mark.parametrize(("days", "warned"), [(1, True), (2, True), (3, False)])
    def test_it_warns_for_two_days_after_a_feeding_of_the_conditioning(
        self, days: int, warned: bool
    ) -> None:
        """Then most of it has been washed down (common practice)."""
        assert FRESHLY_FED_DAYS == 2
        found = heavy_rain_ahead(watched(rain(20.0), self.fed(days)))
        assert [each.batch for each in found] == ["Row A"] * warned

    @pytest.mark.parametrize(("days", "warned"), [(1, True), (2, True), (3, False)])
    def test_it_warns_for_two_days_after_a_feeding_of_the_season(
        self, days: int, warned: bool
    ) -> None:
        """Soluble feed on planted bales washes out as well."""
        done = {
            key_of("row-a-feed-season-1"): TODAY - timedelta(days=20),
            key_of("row-a-feed-season-2"): TODAY - timedelta(days=days),
        }
        where = state(ROW, TODAY - timedelta(days=30), done)
        found = heavy_rain_ahead(watched(rain(20.0), where))
        assert [each.batch for each in found] == ["Row A"] * warned

    def test_bales_that_were_never_fed_have_nothing_to_lose(self) -> None:
        """Rain waters them."""
        assert heavy_rain_ahead(watched(rain(20.0), BatchState())) == ()

    @pytest.mark.parametrize(("millimetres", "warned"), [(18.11, False), (18.13, True)])
    def test_it_warns_from_the_threshold_of_the_hold(
        self, millimetres: float, warned: bool
    ) -> None:
        """Even chances of half an inch."""
        assert bool(heavy_rain_ahead(watched(rain(millimetres), self.fed(1)))) is warned

    @pytest.mark.parametrize(("millimetres", "stands"), [(15.8, False), (15.9, True)])
    def test_a_told_warning_stands_until_the_chance_has_fallen_by_a_margin(
        self, millimetres: float, stands: bool
    ) -> None:
        """To four in ten, as a hold does: the grower gets no two mails about one cloud."""
        seen, fed = forecast(NOW, rain(millimetres)), self.fed(1)
        told = standing(AlertCode.HEAVY_RAIN)
        assert bool(heavy_rain_ahead(lookout(ROW, fed, seen, NOW, (told,)))) is stands
        assert heavy_rain_ahead(lookout(ROW, fed, seen, NOW)) == ()
        passed = replace(told, state=ALERT_PASSED)
        assert heavy_rain_ahead(lookout(ROW, fed, seen, NOW, (told, passed))) == ()

    def test_it_spans_the_wet_hours(self) -> None:
        """From the first to the end of the last."""
        wet = both(rain(20.0), hour_at(at(TODAY, 18, 0), rain_mm=1.0))
        found = only(heavy_rain_ahead(watched(wet, self.fed(1))))
        assert (found.starts_at, found.ends_at) == (at(TODAY, 15, 0), at(TODAY, 19, 0))

    def test_without_a_forecast_none_is_seen(self) -> None:
        """Unknown is not heavy rain."""
        assert heavy_rain_ahead(lookout(ROW, self.fed(1), None, NOW)) == ()


class TestHotAndDry:
    """The top dries out."""

    @pytest.mark.parametrize(("high_c", "warned"), [(29.9, False), (30.0, True), (30.1, True)])
    def test_a_day_is_hot_from_thirty_degrees(self, high_c: float, warned: bool) -> None:
        """At the threshold counts as reached."""
        found = hot_and_dry_day(watched(warm(TODAY, high_c)))
        assert [each.starts_at for each in found] == [at(TODAY, 15, 0)] * warned

    def test_it_carries_what_the_top_needs(self) -> None:
        """Litres a bale, and how often."""
        found = only(hot_and_dry_day(watched(warm(TODAY, 33.0))))
        assert found.detail is not None
        assert found.detail.water_per_bale_l is not None
        assert found.detail.water_per_bale_l > 0
        assert found.detail.times_a_day >= 1
        assert (found.starts_at, found.ends_at) == (at(TODAY, 15, 0), at(TODAY, 16, 0))

    @pytest.mark.parametrize(("days", "often"), [(21, 2), (22, 1)])
    def test_plants_in_their_first_weeks_are_watered_twice(self, days: int, often: int) -> None:
        """Three weeks count as young; older ones need it once unless the top says more."""
        where = state(ROW, TODAY - timedelta(days=days))
        found = only(hot_and_dry_day(watched(warm(TODAY, 30.0), where)))
        assert found.detail is not None
        assert found.detail.times_a_day == often

    def test_bales_in_conditioning_are_warned_of(self) -> None:
        """They need topping up."""
        found = only(hot_and_dry_day(watched(warm(TODAY, 33.0), BatchState())))
        assert found.batch == "Row A"

    def test_ready_bales_without_plants_may_dry(self) -> None:
        """Nothing stands in them and nothing is being conditioned."""
        assert hot_and_dry_day(watched(warm(TODAY, 33.0), state(ROW))) == ()

    def test_heat_tomorrow_is_tomorrows(self) -> None:
        """The day of the decision counts."""
        tomorrow = TODAY + timedelta(days=1)
        assert hot_and_dry_day(watched(warm(tomorrow, 35.0))) == ()


class TestHeatOnThePerson:
    """Heat index from 91 F on: 32.8 degC."""

    @pytest.mark.parametrize(
        ("high_c", "humidity", "warned"), [(31.0, 40.0, False), (33.5, 50.0, True)]
    )
    def test_a_hot_humid_day_is_warned_of(
        self, high_c: float, humidity: float, warned: bool
    ) -> None:
        """31 degC at 40 % feels like 31, 33.5 at 50 % like 37."""
        hot = warm(TODAY, high_c, relative_humidity_percent=humidity)
        found = heat_on_the_person(watched(hot))
        assert bool(found) is warned
        if warned:
            (why,) = only(found).reasons
            assert (why.code, why.threshold) == (ReasonCode.HEAT, 32.8)
            assert why.value is not None
            assert why.value > 32.8
            assert (found[0].starts_at, found[0].ends_at) == (at(TODAY, 15, 0), at(TODAY, 16, 0))

    def test_only_the_rest_of_today_counts(self) -> None:
        """Tomorrow has its own brief."""
        tomorrow = warm(TODAY + timedelta(days=1), 40.0)
        assert heat_on_the_person(watched(tomorrow)) == ()

    def test_nobody_works_where_nothing_is_outside(self) -> None:
        """Before the season."""
        assert heat_on_the_person(replace(watched(warm(TODAY, 40.0)), days=())) == ()

    def test_a_stale_forecast_says_nothing_of_heat(self) -> None:
        """It is not decided on."""
        old = forecast(NOW - timedelta(hours=13), warm(TODAY, 40.0))
        assert heat_on_the_person(lookout(ROW, PLANTED, old, NOW)) == ()


class TestFrostOnPlants:
    """Tomatoes are hurt at 0.6 degC at the plants, 0.28 under a cloudy night's low on the mean."""

    @pytest.mark.parametrize(("low_c", "warned"), [(2.6, True), (2.8, False)])
    def test_a_cloudy_night_is_warned_of_from_one_in_ten_on(
        self, low_c: float, warned: bool
    ) -> None:
        """2.69 degC are forecast then, with an error of 1.4."""
        assert bool(frost_on_plants(watched(night(TODAY, low_c)))) is warned

    @pytest.mark.parametrize(("low_c", "warned"), [(4.0, True), (4.2, False)])
    def test_a_clear_calm_night_is_two_degrees_colder_at_the_plants(
        self, low_c: float, warned: bool
    ) -> None:
        """1.67 degC under the forecast low on the mean."""
        clear = night(TODAY, low_c, **CALM_CLEAR)
        assert bool(frost_on_plants(watched(clear))) is warned

    def test_it_names_the_endangered_crops_and_the_coldest_hour(self) -> None:
        """Radishes stand what tomatoes do not."""
        own = batch(plantings=(planting(), planting(RADISH)))
        where = state(own, TODAY - timedelta(days=30))
        found = only(frost_on_plants(watched(night(TODAY, 0.5), where, own)))
        assert found.crops == ("tomato",)
        assert found.starts_at == at(TODAY + timedelta(days=1), 5, 0)
        assert found.ends_at == at(TODAY + timedelta(days=1), 9, 0)
        (why,) = found.reasons
        assert (why.code, why.value, why.threshold) == (ReasonCode.FROST, 0.2, 0.6)

    CLEARED = Task(last_harvest_key(ROW, ROW.plantings[0]), "Row A", 6, Action.HARVEST, State.DUE)

    @pytest.mark.parametrize(
        ("state_", "warned"),
        [(State.DUE, False), (State.DONE, False), (State.MISSED, True), (State.HELD, True)],
    )
    def test_what_comes_out_today_is_not_to_be_covered(self, state_: State, warned: bool) -> None:
        """Cleared by the evening; what is left in is warned of."""
        cleared = replace(self.CLEARED, state=state_)
        answers = {State.DONE: EntryKind.DONE, State.MISSED: EntryKind.MISSED}
        said = tuple(
            JournalEntry(NOW, "Orchard corner", TODAY, kind, "Row A", cleared.key.text())
            for each, kind in answers.items()
            if each is state_
        )
        found = frost_on_plants(watched(night(TODAY, -5.0), journal=said, tasks=(cleared,)))
        assert bool(found) is warned

    @pytest.mark.parametrize(("told", "warned"), [(True, False), (False, True)])
    def test_only_a_clearing_that_was_told_takes_a_warning_back(
        self, told: bool, warned: bool
    ) -> None:
        """At noon the night turns deadly, or turns mild again: the morning's word stands."""
        morning = brief(*((self.CLEARED,) if told else ()), on=TODAY)
        rows = told_entries(morning, NOW - timedelta(hours=1), {})
        now = () if told else (self.CLEARED,)
        found = frost_on_plants(watched(night(TODAY, -0.2), journal=rows, tasks=now))
        assert bool(found) is warned

    def test_the_sooner_of_two_cold_nights_is_told(self) -> None:
        """Tomorrow's is told tomorrow."""
        two = both(night(TODAY, 0.5), night(TODAY + timedelta(days=1), -3.0))
        found = only(frost_on_plants(watched(two)))
        assert found.reasons[0].value == 0.2

    def test_the_next_night_is_watched_as_far_as_the_look_ahead(self) -> None:
        """36 h from 06:30 reach 18:30, half an hour into tomorrow's night."""
        tomorrow = night(TODAY + timedelta(days=1), -3.0)
        assert only(frost_on_plants(watched(tomorrow))).reasons[0].value == -3.3
        near = replace(watched().garden.rules, frost_look_ahead_h=35.5)
        assert frost_on_plants(watched(tomorrow, rules=near)) == ()

    @pytest.mark.parametrize(("low_c", "stands"), [(2.9, True), (3.4, False)])
    def test_a_told_frost_stands_until_it_is_half_as_likely(
        self, low_c: float, stands: bool
    ) -> None:
        """So that advice does not flip."""
        told = standing(AlertCode.FROST)
        seen = forecast(NOW, night(TODAY, low_c))
        assert bool(frost_on_plants(lookout(ROW, PLANTED, seen, NOW, (told,)))) is stands
        assert frost_on_plants(lookout(ROW, PLANTED, seen, NOW)) == ()

    def test_an_unknown_night_is_said_where_plants_stand(self) -> None:
        """Unknown is never mild."""
        found = only(frost_on_plants(watched(night(TODAY, None))))
        assert (found.code, found.batch) == (AlertCode.NO_FORECAST, "Row A")
        (why,) = found.reasons
        assert (why.code, why.threshold) == (ReasonCode.TEMPERATURE_UNKNOWN, 0.6)

    def test_bales_without_plants_have_no_frost(self) -> None:
        """Nothing stands in them."""
        assert frost_on_plants(watched(night(TODAY, -5.0), state(ROW))) == ()

    def test_without_a_forecast_the_garden_is_told_once_elsewhere(self) -> None:
        """Not batch by batch."""
        assert frost_on_plants(lookout(ROW, PLANTED, None, NOW)) == ()


class TestSelfHeating:
    """Readings from 65 degC on."""

    @staticmethod
    def read(reading_c: float, hours_ago: float, batch_name: str = "Row A") -> Journal:
        """Return the journal with one reading."""
        when = NOW - timedelta(hours=hours_ago)
        kind = EntryKind.TEMPERATURE
        return (JournalEntry(when, "Orchard corner", TODAY, kind, batch_name, value=reading_c),)

    @pytest.mark.parametrize(("reading_c", "warned"), [(64.9, False), (65.0, True), (65.1, True)])
    def test_it_is_warned_of_from_the_limit_on(self, reading_c: float, warned: bool) -> None:
        """At the threshold counts as reached."""
        found = self_heating(lookout(ROW, PLANTED, None, NOW, self.read(reading_c, 1)))
        assert bool(found) is warned
        if warned:
            (why,) = found[0].reasons
            assert (why.value, why.threshold, why.unit) == (reading_c, 65.0, "degC")

    @pytest.mark.parametrize(("hours", "warned"), [(71.9, True), (72.0, True), (72.1, False)])
    def test_a_reading_speaks_for_three_days(self, hours: float, warned: bool) -> None:
        """Older ones say nothing of today."""
        assert (
            bool(self_heating(lookout(ROW, PLANTED, None, NOW, self.read(70.0, hours)))) is warned
        )

    def test_the_last_reading_counts(self) -> None:
        """It has cooled since."""
        journal = (*self.read(70.0, 5), *self.read(40.0, 1))
        assert self_heating(lookout(ROW, PLANTED, None, NOW, journal)) == ()

    def test_another_batchs_reading_is_its_own(self) -> None:
        """Heat in row B says nothing of row A."""
        assert self_heating(lookout(ROW, PLANTED, None, NOW, self.read(70.0, 1, "Row B"))) == ()


def test_the_most_urgent_comes_first() -> None:
    """Frost on plants before the freeze of the hose."""
    found = alerts(watched(night(TODAY, -1.0)))
    assert [each.code for each in found] == [AlertCode.FROST, AlertCode.FREEZE]


def test_a_mild_day_has_no_alerts() -> None:
    """Nothing is said where nothing is."""
    assert alerts(watched()) == ()
