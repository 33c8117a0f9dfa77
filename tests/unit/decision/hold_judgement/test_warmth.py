"""Whether it is warm enough for what is about to go in."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.agronomy.crop_table import CROPS
from strawbell.decision.daily_weather import DailyWeather
from strawbell.decision.hold_judgement import DAYS_TO_COME, chilly_nights, cold_bed
from strawbell.model.brief import ReasonCode
from strawbell.model.forecast import Forecast, Hour
from strawbell.weather.judgement import CLEAR
from support.gardens import RADISH, TOMATO, at, forecast, garden

TODAY = date(2027, 5, 1)
NOW = at(TODAY)
BEAN = CROPS["bean"]


def daily(seen: Forecast | None, now: datetime = NOW) -> DailyWeather:
    """Return the weather of a garden in Zurich on 1 May."""
    return DailyWeather(garden(), seen, now)


def cool(low_c: float, high_c: float = 16.0, until: date = date.max) -> Callable[[Hour], Hour]:
    """Return a change to cold nights (20:00 to 08:00) and mild days, up to a date."""

    def change(hour: Hour) -> Hour:
        local = hour.starts_at + timedelta(hours=2)
        if local.date() > until:
            return hour
        return replace(hour, temperature_c=high_c if 8 <= local.hour < 20 else low_c)

    return change


def cut(seen: Forecast, first: datetime, last: datetime) -> Forecast:
    """Return a forecast that knows no temperature between two moments."""
    hours = (
        replace(hour, temperature_c=None) if first <= hour.starts_at < last else hour
        for hour in seen.hours
    )
    return replace(seen, hours=tuple(hours))


PEPPER = replace(TOMATO, name="pepper")


class TestChillyNights:
    """Tender crops are set out when nights lie about 50 F."""

    @pytest.mark.parametrize(("low_c", "held"), [(3.0, True), (9.9, True), (10.0, False)])
    def test_they_hold_a_pepper_under_ten_degrees(self, low_c: float, held: bool) -> None:
        """Frost-free nights of 3 degC on 1 May are no nights for peppers."""
        assert chilly_nights(daily(forecast(NOW, cool(low_c))), PEPPER, TODAY).reached is held

    @pytest.mark.parametrize(("low_c", "held"), [(4.9, True), (5.0, False)])
    def test_they_hold_a_tomato_under_five(self, low_c: float, held: bool) -> None:
        """Ontario: tomatoes are chilled by 0 to 5 C, peppers by 0 to 10 C."""
        assert chilly_nights(daily(forecast(NOW, cool(low_c))), TOMATO, TODAY).reached is held

    def test_they_do_not_hold_a_hardy_crop(self) -> None:
        """A radish grows in them."""
        assert chilly_nights(daily(forecast(NOW, cool(3.0))), RADISH, TODAY) is CLEAR

    def test_one_cold_night_in_a_warm_week_holds_nothing(self) -> None:
        """The mean counts: one at 6 and six at 14 degC."""
        seen = forecast(NOW, cool(6.0, until=TODAY))
        assert chilly_nights(daily(seen), PEPPER, TODAY) is CLEAR

    def test_the_reason_has_the_mean_low_and_the_limit(self) -> None:
        """To a tenth of a degree."""
        (why,) = chilly_nights(daily(forecast(NOW, cool(7.25))), PEPPER, TODAY).reasons
        assert (why.code, why.threshold, why.unit) == (ReasonCode.CHILLY_NIGHTS, 10.0, "degC")
        assert why.value == pytest.approx(7.2)

    def test_without_a_forecast_nothing_is_cold(self) -> None:
        """Nor by a stale one."""
        assert chilly_nights(daily(None), PEPPER, TODAY) is CLEAR
        stale = forecast(NOW - timedelta(days=2), cool(3.0))
        assert chilly_nights(daily(stale), PEPPER, TODAY) is CLEAR

    def test_seven_nights_are_looked_at_from_tonight_on(self) -> None:
        """Tonight's 14 degC and six of 7 degC make 8; neither last night counts nor the eighth."""
        noon = timedelta(hours=10)  # From noon to noon there is one night, with one low.

        def change(hour: Hour) -> Hour:
            nights = (hour.starts_at - at(TODAY, 0) - noon).days
            warm_c = {0: 14.0, -1: 40.0, 7: 40.0}.get(nights, 7.0)
            return replace(hour, temperature_c=warm_c)

        (why,) = chilly_nights(daily(forecast(NOW, change, days=12)), PEPPER, TODAY).reasons
        assert why.value == 8.0

    @pytest.mark.parametrize(("nights", "held"), [(2, False), (3, True)])
    def test_unknown_nights_are_not_cold(self, nights: int, held: bool) -> None:
        """At least three have to be known."""
        first_unknown = datetime(2027, 5, 1 + nights, 10, tzinfo=UTC)
        seen = cut(forecast(NOW, cool(3.0)), first_unknown, datetime.max.replace(tzinfo=UTC))
        assert chilly_nights(daily(seen), PEPPER, TODAY).reached is held

    @pytest.mark.parametrize(("low_c", "held"), [(10.4, True), (10.5, False)])
    def test_a_hold_that_was_told_stands_half_a_degree_longer(
        self, low_c: float, held: bool
    ) -> None:
        """So that one morning's word does not flicker."""
        seen = daily(forecast(NOW, cool(low_c)))
        assert chilly_nights(seen, PEPPER, TODAY, told_hold=True).reached is held
        assert chilly_nights(seen, PEPPER, TODAY) is CLEAR


class TestColdBed:
    """Seed waits while even a warm bale is too cold for it."""

    @pytest.mark.parametrize(("low_c", "held"), [(-1.0, True), (3.0, True), (3.2, False)])
    def test_it_holds_beans_when_the_warmest_bed_is_under_60_f(
        self, low_c: float, held: bool
    ) -> None:
        """A bale is at most 6 degrees warmer than the air: days of 16 and nights of 3.1 degC."""
        assert cold_bed(daily(forecast(NOW, cool(low_c))), BEAN, TODAY).reached is held

    def test_cool_crops_are_sown_in_the_same_weather(self) -> None:
        """Radishes come up from 40 F."""
        assert cold_bed(daily(forecast(NOW, cool(-1.0))), CROPS["radish"], TODAY) is CLEAR

    def test_the_reason_has_the_bed_and_what_the_seed_wants(self) -> None:
        """The warmest the bed may be against the least for germination."""
        (why,) = cold_bed(daily(forecast(NOW, cool(0.0, 10.0))), BEAN, TODAY).reasons
        assert (why.code, why.value, why.threshold) == (ReasonCode.COLD_BED, 11.0, 15.6)

    def test_seven_days_are_looked_at_from_tomorrow_on(self) -> None:
        """Tomorrow's 14 degC and six of 7 degC make 8, and the bed 14; today is gone."""

        def change(hour: Hour) -> Hour:
            days = ((hour.starts_at + timedelta(hours=2)).date() - TODAY).days
            return replace(hour, temperature_c={1: 14.0, 0: 40.0, 8: 40.0}.get(days, 7.0))

        (why,) = cold_bed(daily(forecast(NOW, change, days=12)), BEAN, TODAY).reasons
        assert why.value == 14.0

    @pytest.mark.parametrize(("days", "held"), [(2, False), (3, True)])
    def test_three_days_have_to_be_known(self, days: int, held: bool) -> None:
        """Of the week to come."""
        short = forecast(NOW, cool(-1.0), days=days + 1)
        assert cold_bed(daily(short), BEAN, TODAY).reached is held

    @pytest.mark.parametrize(("low_c", "held"), [(3.6, True), (4.4, False)])
    def test_a_hold_that_was_told_stands_half_a_degree_longer(
        self, low_c: float, held: bool
    ) -> None:
        """Of the bed, whose air is the mean of low and high."""
        seen = daily(forecast(NOW, cool(low_c)))
        assert cold_bed(seen, BEAN, TODAY, told_hold=True).reached is held
        assert cold_bed(seen, BEAN, TODAY) is CLEAR

    def test_a_crop_whose_least_temperature_is_unknown_is_not_held(self) -> None:
        """Unknown is never cold."""
        nobody_knows = replace(BEAN, germination_min_c=None)
        assert cold_bed(daily(forecast(NOW, cool(-1.0))), nobody_knows, TODAY) is CLEAR

    def test_without_weather_it_is_not_cold(self) -> None:
        """No forecast, and none that covers three days."""
        assert cold_bed(daily(None), BEAN, TODAY) is CLEAR
        short = forecast(NOW, cool(-1.0), days=3)
        assert cold_bed(daily(short), BEAN, TODAY) is CLEAR

    def test_a_week_is_looked_at(self) -> None:
        """What comes after it is another morning's matter."""
        assert DAYS_TO_COME == 7
        warm_later = forecast(NOW, cool(0.0, 8.0, TODAY + timedelta(days=7)), days=14)
        assert cold_bed(daily(warm_later), BEAN, TODAY).reached
