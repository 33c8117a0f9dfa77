"""Forecasts out of the record: perfect, persistence, and wrong as usual."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from statistics import stdev
from zoneinfo import ZoneInfo

import pytest

from strawbell.model.forecast import Forecast, Hour
from strawbell.rehearsal.recorded import Report, Weather
from strawbell.rehearsal.skill import PARAMETERS, SKILLS, forecast_at, issue_of

BEGINS = datetime(2014, 1, 1, tzinfo=UTC)
DAYS = 400
NOW = datetime(2014, 6, 1, 6, 30, tzinfo=UTC)


def weather(rain_every_days: int = 3) -> Weather:
    """Return hours that each have their own temperature, with 12 mm every few days."""
    hours = {}
    for number in range(24 * DAYS):
        moment = BEGINS + timedelta(hours=number)
        rain = 0.5 if (number // 24) % rain_every_days == 0 else 0.0
        hours[moment] = Hour(moment, temperature_c=number / 1000, rain_mm=rain, wind_m_s=2.0)
    report = Report(date(2014, 1, 1), date(2015, 2, 4), daily=False, gaps=(), rejected=())
    return Weather(hours, report, ZoneInfo("UTC"))


def asked(skill: str, now: datetime = NOW, seed: int = 1, truth: Weather | None = None) -> Forecast:
    """Return a forecast that is there."""
    found = forecast_at(truth or weather(), skill, now, seed)
    assert found is not None
    return found


def test_perfect_is_what_came() -> None:
    """Yesterday, and ten days from the local midnight on."""
    truth = weather()
    found = asked("perfect")
    assert len(found.hours) == 264
    assert found.hours[0].starts_at == datetime(2014, 5, 31, tzinfo=UTC)
    assert all(
        (hour.temperature_c, hour.rain_mm)
        == (truth.hours[hour.starts_at].temperature_c, truth.hours[hour.starts_at].rain_mm)
        for hour in found.hours
    )


def test_persistence_knows_nothing_after_its_issue() -> None:
    """Every hour from the issue on is one of the 24 before it, at the same time of day."""
    truth = weather()
    issued = issue_of(NOW)
    by_temperature = {hour.temperature_c: moment for moment, hour in truth.hours.items()}
    for hour in asked("persistence").hours:
        came_from = by_temperature[hour.temperature_c]
        assert came_from < issued or hour.starts_at < issued
        assert came_from >= issued - timedelta(hours=24)
        assert came_from.hour == hour.starts_at.hour


@pytest.mark.parametrize("skill", sorted(SKILLS))
def test_the_same_seed_gives_the_same_forecast(skill: str) -> None:
    """At every moment of one issue."""
    assert asked(skill).hours == asked(skill, NOW + timedelta(hours=3)).hours


def test_another_seed_gives_other_errors() -> None:
    """Only the usual skill has any."""
    assert asked("usual", seed=1).hours != asked("usual", seed=2).hours
    assert asked("perfect", seed=1).hours == asked("perfect", seed=2).hours


def from_midnight(found: Forecast, now: datetime) -> list[Hour]:
    """Return the hours that are not over; `now` is a midnight."""
    return [hour for hour in found.hours if hour.starts_at >= now]


@pytest.mark.parametrize("skill", sorted(SKILLS))
def test_yesterday_is_as_it_came(skill: str) -> None:
    """Whatever the skill: it is no forecast any more."""
    truth = weather()
    for hour in asked(skill).hours[:24]:
        came = truth.hours[hour.starts_at]
        assert (hour.temperature_c, hour.rain_mm) == (came.temperature_c, came.rain_mm)


def errors_c(lead_days: int) -> list[float]:
    """Return the errors of a lead over many issues [degC]."""
    truth = weather()
    found = []
    for day in range(300):
        now = BEGINS + timedelta(days=day, hours=0)
        hour = from_midnight(asked("usual", now, truth=truth), now)[24 * lead_days]
        real = truth.hours[hour.starts_at].temperature_c
        assert hour.temperature_c is not None
        assert real is not None
        found.append(hour.temperature_c - real)
    return found


@pytest.mark.parametrize(("lead_days", "sd_c"), [(0, 1.5), (4, 2.9), (9, 4.65)])
def test_temperature_errors_grow_with_the_lead_as_stated(lead_days: int, sd_c: float) -> None:
    """Within what three hundred draws leave open."""
    assert stdev(errors_c(lead_days)) == pytest.approx(sd_c, rel=0.15)


def test_wet_days_are_missed_and_dry_ones_called_wet_as_stated() -> None:
    """On the day of issue 92 % hits and 8 % false alarms."""
    truth = weather(rain_every_days=2)
    said: dict[bool, list[bool]] = {True: [], False: []}
    for day in range(DAYS - 10):
        now = BEGINS + timedelta(days=day)
        hours = from_midnight(asked("usual", now, truth=truth), now)[:24]
        said[day % 2 == 0].append(any(hour.rain_mm for hour in hours))
    assert sum(said[True]) / len(said[True]) == pytest.approx(0.92, abs=0.06)
    assert sum(said[False]) / len(said[False]) == pytest.approx(0.08, abs=0.06)


@pytest.mark.parametrize("skill", sorted(SKILLS))
def test_unknown_weather_stays_unknown_in_the_forecast(skill: str) -> None:
    """Neither dry nor warm is made up for it."""
    hours = {moment: Hour(moment, temperature_c=None, rain_mm=None) for moment in weather().hours}
    blank = Weather(hours, weather().report, ZoneInfo("UTC"))
    found = asked(skill, truth=blank)
    assert all(hour.temperature_c is None and hour.rain_mm is None for hour in found.hours)


def test_beyond_the_record_there_is_no_forecast() -> None:
    """Rather than an empty one."""
    assert forecast_at(weather(), "perfect", NOW + timedelta(days=2 * DAYS), 1) is None


def test_every_skill_states_what_it_was_made_with() -> None:
    """Figures without their error model say nothing."""
    assert set(PARAMETERS) == set(SKILLS)
    assert PARAMETERS["usual"]["temperature_sd_c_per_day"] > 0
