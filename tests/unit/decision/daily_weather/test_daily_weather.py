"""A date is judged as the garden has it, and neighbours share what was judged."""

from __future__ import annotations

from datetime import time, timedelta

import pytest
from msgspec.structs import replace

from strawbell.decision.daily_weather import DailyWeather, SharedWeather, was_clear
from strawbell.model.brief import ReasonCode
from strawbell.model.forecast import Hour
from strawbell.weather.chance import Colder, Site
from strawbell.weather.judgement import Standing
from support.gardens import at, forecast, garden, hour_at, on_day

NOW = at(on_day(5))
SEEN = forecast(NOW)
HERE = garden()


def test_the_same_forecast_rules_and_times_share_what_was_judged() -> None:
    """Whatever the garden is called and grows."""
    next_door = replace(HERE, name="Next door", batches=())
    shared = SharedWeather()
    assert shared.of(next_door, SEEN, NOW) is shared.of(HERE, SEEN, NOW)


def test_anything_that_could_judge_differently_has_weather_of_its_own() -> None:
    """Another forecast, an equal one, another moment, a brief told, a rule, a time, a zone."""
    shared = SharedWeather()
    mine = shared.of(HERE, SEEN, NOW)
    others = [
        (HERE, replace(SEEN), NOW, None),
        (HERE, None, NOW, None),
        (HERE, SEEN, NOW + timedelta(minutes=1), None),
        (HERE, SEEN, NOW, NOW),
        (replace(HERE, rules=replace(HERE.rules, rain_hold_mm=5.0)), SEEN, NOW, None),
        (replace(HERE, times=replace(HERE.times, morning=time(7))), SEEN, NOW, None),
        (replace(HERE, place=replace(HERE.place, time_zone="Etc/UTC")), SEEN, NOW, None),
    ]
    for where, seen, now, decided in others:
        assert shared.of(where, seen, now, decided) is not mine
        mine = shared.of(HERE, SEEN, NOW)


CLEAR_AND_CALM = {"cloud_percent": 0.0, "wind_m_s": 0.5}
COLDER = Colder(4.0, 1.0)


@pytest.mark.parametrize(
    ("site", "air", "freezes"),
    [
        (Site(clear_night=COLDER), CLEAR_AND_CALM, True),
        (Site(clear_night=COLDER), {}, False),
        (Site(other_night=COLDER), CLEAR_AND_CALM, False),
        (Site(other_night=COLDER), {}, True),
        (Site(any_night=COLDER), CLEAR_AND_CALM, True),
        (Site(any_night=COLDER), {}, True),
        (Site(), {}, False),
    ],
)
def test_a_freeze_is_judged_by_the_kind_of_night_where_that_matters(
    site: Site, air: dict[str, float], freezes: bool
) -> None:
    """2 degC forecast: in a frost hollow a clear calm night is 4 degC colder."""
    seen = forecast(NOW, temperature_c=2.0, **air)
    assert DailyWeather(HERE, seen, NOW, site=site).on(on_day(5)).freezing.reached is freezes


@pytest.mark.parametrize(("chance", "counted_mm"), [(None, 6.0), (49.0, 0.0), (50.0, 6.0)])
def test_rain_is_counted_on_from_even_odds_on(chance: float | None, counted_mm: float) -> None:
    """Where the service says no chance, it is; where no forecast may be decided on, none is."""
    wet = hour_at(at(on_day(5), 15, 0), rain_mm=6.0, rain_chance_percent=chance)
    dry = forecast(NOW, rain_chance_percent=chance)
    seen = replace(dry, hours=tuple(map(wet, dry.hours)))
    today = DailyWeather(HERE, seen, NOW).on(on_day(5))
    assert (today.is_trusted, today.counted_rain_mm) == (True, counted_mm)
    late = NOW + timedelta(hours=13)
    stale = DailyWeather(HERE, seen, late).on(on_day(5))
    assert (stale.is_trusted, stale.counted_rain_mm) == (False, 0.0)
    assert {each.standing for each in (stale.rain, stale.freezing, stale.hot)} == {Standing.UNKNOWN}
    assert stale.weather.rain_mm == 6.0


@pytest.mark.parametrize(
    ("hour", "counts"), [(17, False), (18, True), (23, True), (32, True), (33, False)]
)
def test_a_night_is_from_six_in_the_evening_to_nine(hour: int, counts: bool) -> None:
    """In the garden's own hours; the air of 17:00 and of 9:00 is the day's."""
    cold = hour_at(at(on_day(6), 0, 0) + timedelta(hours=hour), temperature_c=-7.0)
    night = DailyWeather(HERE, forecast(NOW, cold), NOW).night(on_day(6))
    assert night.air.low_c == (-7.0 if counts else 14.0)


def test_a_night_that_has_begun_is_what_is_left_of_it() -> None:
    """At two in the morning the frost of midnight is over."""
    evening = at(on_day(5), 20, 0)
    seen = forecast(evening, hour_at(at(on_day(6), 0, 0), temperature_c=-7.0))
    for now, low_c in ((evening, -7.0), (at(on_day(6), 2, 0), 14.0)):
        assert DailyWeather(HERE, seen, now).night(on_day(5)).air.low_c == low_c


def test_a_night_with_an_hour_missing_is_unknown() -> None:
    """That hour may have been the coldest."""
    whole = forecast(NOW)
    gap = at(on_day(6), 3, 0)
    holed = replace(whole, hours=tuple(hour for hour in whole.hours if hour.starts_at != gap))
    for seen, known in ((whole, True), (holed, False), (None, False)):
        night = DailyWeather(HERE, seen, NOW).night(on_day(5))
        assert (night.air.low_c is not None) is known
        assert (night.leaf_chance(0.0) is not None) is known


@pytest.mark.parametrize(("cloud_percent", "clear"), [(0.0, True), (100.0, False), (None, None)])
def test_it_is_kept_whether_the_night_that_ends_on_a_date_was_clear(
    cloud_percent: float | None, clear: bool | None
) -> None:
    """To nine in the morning; without a forecast nobody knows."""
    zone = HERE.place.zone
    nine = at(on_day(6), 9, 0)

    def change(hour: Hour) -> Hour:
        night = at(on_day(6), 0, 0) <= hour.starts_at < nine
        return replace(hour, wind_m_s=0.5, cloud_percent=cloud_percent if night else 50.0)

    assert was_clear(forecast(NOW, change), on_day(6), zone) is clear
    assert was_clear(None, on_day(6), zone) is None


@pytest.mark.parametrize(
    ("hours_old", "code"),
    [(0.0, None), (12.0, None), (12.1, ReasonCode.STALE_FORECAST), (None, ReasonCode.NO_FORECAST)],
)
def test_what_is_wrong_with_a_forecast_is_said_in_one_place(
    hours_old: float | None, code: ReasonCode | None
) -> None:
    seen = None if hours_old is None else forecast(NOW - timedelta(hours=hours_old))
    trouble = DailyWeather(HERE, seen, NOW).trouble()
    assert [why.code for why in trouble] == ([] if code is None else [code])
