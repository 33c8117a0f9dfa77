"""Forecasts out of the record: perfect, persistence, and wrong as usual."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta
from functools import cache
from statistics import correlation, fmean, stdev
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from strawbell.model.forecast import Forecast, Hour
from strawbell.rehearsal.recorded import Report, Weather
from strawbell.rehearsal.skill import PARAMETERS, SKILLS, forecast_at, issue_of
from strawbell.rehearsal.usual import fate_of

BEGINS = datetime(2014, 1, 1, tzinfo=UTC)
DAYS = 400
NOW = datetime(2014, 6, 1, 6, 30, tzinfo=UTC)


@cache
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


@pytest.mark.parametrize("skill", sorted(SKILLS))
def test_yesterday_is_as_it_came(skill: str) -> None:
    """Whatever the skill: it is no forecast any more."""
    truth = weather()
    for hour in asked(skill).hours[:24]:
        came = truth.hours[hour.starts_at]
        assert (hour.temperature_c, hour.rain_mm) == (came.temperature_c, came.rain_mm)


@pytest.mark.parametrize(("lead_days", "sd_c"), [(1, 1.37), (4, 1.9), (9, 3.15)])
def test_lows_err_as_the_table_says(lead_days: int, sd_c: float) -> None:
    """Place and lead together, over many gardens; half a day less to the night than to noon."""
    truth, squares = weather(), []
    for seed in range(20):
        for day in range(12, 332, 32):
            at = BEGINS + timedelta(days=day, hours=3)
            now = at - timedelta(days=lead_days, hours=3)
            hours = {hour.starts_at: hour for hour in asked("usual", now, seed, truth).hours}
            said, came = hours[at].temperature_c, truth.hours[at].temperature_c
            assert said is not None
            assert came is not None
            squares.append((said - came) ** 2)
    assert math.sqrt(fmean(squares)) == pytest.approx(sd_c, rel=0.15)


@pytest.mark.parametrize(("apart", "alike"), [(1, 0.60), (2, 0.45), (4, 0.25), (6, 0.14)])
def test_issues_of_one_date_err_the_less_alike_the_further_they_are_apart(
    apart: int, alike: float
) -> None:
    """Correlations after 12, 24, 48 and 72 h, as measured on three ensembles."""
    dates = [date(2014, 1, 1) + timedelta(days=day) for day in range(800)]
    paths = [path for on in dates for path in fate_of(1, on).paths]
    pairs = [(path[8], path[8 + apart]) for path in paths]
    assert correlation(*zip(*pairs, strict=True)) == pytest.approx(alike, abs=0.06)


def test_some_nights_err_far_more_than_most() -> None:
    """Excess kurtosis, which a normal error has none of, and a spread of one all the same."""
    dates = [date(2000, 1, 1) + timedelta(days=day) for day in range(4000)]
    errors = [(fate := fate_of(1, on)).tail * fate.paths[0][10] for on in dates]
    assert fmean(each**2 for each in errors) == pytest.approx(1.0, abs=0.1)
    assert fmean(each**4 for each in errors) > 3.6


def test_a_place_errs_the_same_way_for_good() -> None:
    """Over gardens by 1 degC, as few seeds show already."""
    biases, truth = [], weather()
    for seed in range(12):
        errors = []
        for day in range(5, 365, 15):
            now = BEGINS + timedelta(days=day)
            low = asked("usual", now, seed, truth).hours[24 + 24 + 3]
            came = truth.hours[low.starts_at].temperature_c
            assert low.temperature_c is not None
            assert came is not None
            errors.append(low.temperature_c - came)
        biases.append(fmean(errors))
    assert stdev(biases) == pytest.approx(1.0, abs=0.25)


def test_an_ensemble_spreads_about_its_forecast() -> None:
    """Its mean is the forecast, its hours are those of the six days ahead."""
    found = asked("ensemble")
    assert found.hours == asked("usual").hours
    assert found.ensemble is not None
    assert len(found.ensemble.members) == PARAMETERS["ensemble"]["members"]
    assert len(found.ensemble.members[0].temperature_c) == 24 * 6
    begins = found.ensemble.starts_at
    at = NOW.replace(hour=3, minute=0) + timedelta(days=3)
    number = (at - begins) // timedelta(hours=1)
    said = [member.temperature_c[number] for member in found.ensemble.members]
    known = [each for each in said if each is not None]
    center = next(hour.temperature_c for hour in found.hours if hour.starts_at == at)
    assert center is not None
    assert fmean(known) == pytest.approx(center, abs=0.8)
    assert 0.6 < stdev(known) < 2.0
    assert asked("usual").ensemble is None


def test_a_hollow_is_colder_than_forecast_in_clear_nights_only() -> None:
    """Here by the range of the day, as the record knows no cloud."""
    wide = weather()
    hours = {
        at: replace(hour, temperature_c=(10.0 if at.day % 2 else 4.0) * (at.hour > 10))
        for at, hour in wide.hours.items()
    }
    truth = Weather(hours, wide.report, ZoneInfo("UTC"))
    pairs = zip(asked("hollow", truth=truth).hours, asked("usual", truth=truth).hours, strict=True)
    for low, usual in pairs:
        if low.starts_at.hour != 3 or low.starts_at < NOW:
            continue
        assert low.temperature_c is not None
        assert usual.temperature_c is not None
        deeper_c = low.temperature_c - usual.temperature_c
        assert (1.9 <= deeper_c <= 4.1) if low.starts_at.day % 2 else deeper_c == 0.0


def test_what_was_really_issued_is_replayed_by_what_was_out_at_the_moment() -> None:
    """An hour 30 h after the issue by the run two days before it; beyond a week nothing."""
    came = weather()
    issued = {
        ahead: {at: replace(hour, temperature_c=100.0 * ahead) for at, hour in came.hours.items()}
        for ahead in range(1, 8)
    }
    at = issue_of(NOW)
    found = {
        hour.starts_at: hour.temperature_c
        for hour in asked("issued", truth=replace(came, issued=issued)).hours
    }
    assert found[at] == came.hours[at].temperature_c
    assert [found[at + timedelta(hours=ahead)] for ahead in (1, 24, 25, 30)] == [
        100.0,
        100.0,
        200.0,
        200.0,
    ]
    assert max(found) == at + timedelta(hours=7 * 24)


def test_what_came_before_the_issue_is_known() -> None:
    """The day of the issue is half over."""
    truth = weather()
    now = NOW.replace(hour=18)
    for hour in asked("usual", now).hours:
        if hour.starts_at < issue_of(now):
            assert hour.temperature_c == truth.hours[hour.starts_at].temperature_c


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
    assert PARAMETERS["usual"]["place_bias_c"] == 1.0
