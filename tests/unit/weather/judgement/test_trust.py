"""Whether a forecast may be decided on."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace

from strawbell.model.forecast import Ensemble, ForecastStatus, Member
from strawbell.weather.judgement import use_of
from strawbell.weather.thresholds import DEFAULT_RULES
from support.gardens import at, forecast, on_day

NOW = at(on_day(5))


@pytest.mark.parametrize(
    ("age_min", "status"),
    [
        (0, ForecastStatus.FRESH),
        (12 * 60, ForecastStatus.FRESH),
        (12 * 60 + 1, ForecastStatus.STALE),
        (-60, ForecastStatus.FRESH),
        (-61, ForecastStatus.STALE),
    ],
)
def test_age_decides(age_min: int, status: ForecastStatus) -> None:
    """Twelve hours are fresh; a forecast from over an hour in the future is not believed."""
    seen = forecast(NOW - timedelta(minutes=age_min))
    assert use_of(seen, NOW, DEFAULT_RULES).status is status


def test_an_old_issue_served_anew_is_old() -> None:
    """The age counts from the older of issue and fetch."""
    served = replace(forecast(NOW - timedelta(hours=20)), fetched_at=NOW)
    use = use_of(served, NOW, DEFAULT_RULES)
    assert (use.status, use.age_h) == (ForecastStatus.STALE, 20.0)


@pytest.mark.parametrize(
    ("run_h", "fetched_h", "good_for_min", "status"),
    [
        (17.0, 0.5, 1, ForecastStatus.FRESH),
        (17.0, 0.5, 0, ForecastStatus.FRESH),
        (17.0, 0.5, -1, ForecastStatus.STALE),
        (17.0, 12.0, 60, ForecastStatus.FRESH),
        (17.0, 12.1, 60, ForecastStatus.STALE),
    ],
)
def test_a_run_of_normal_age_is_fresh_until_newer_ones_are_overdue(
    run_h: float, fetched_h: float, good_for_min: int, status: ForecastStatus
) -> None:
    """Seventeen hours are usual of a world model; the limit of the grower holds for the fetch."""
    seen = replace(
        forecast(NOW - timedelta(hours=run_h)),
        fetched_at=NOW - timedelta(hours=fetched_h),
        good_until=NOW + timedelta(minutes=good_for_min),
    )
    use = use_of(seen, NOW, DEFAULT_RULES)
    assert (use.status, use.age_h) == (status, run_h)


def test_the_members_beside_a_forecast_are_told() -> None:
    """How many, and whose."""
    seen = replace(forecast(NOW), ensemble=Ensemble("a model", NOW, (Member(1.0, (), ()),) * 51))
    use = use_of(seen, NOW, DEFAULT_RULES)
    assert (use.members, use.members_source) == (51, "a model")
    assert use_of(forecast(NOW), NOW, DEFAULT_RULES).members == 0


@pytest.mark.parametrize(("left_h", "fresh"), [(-1, False), (0, False), (1, True)])
def test_a_forecast_without_an_hour_ahead_is_stale(left_h: int, fresh: bool) -> None:
    """That of this very hour leaves nothing to decide on."""
    hours = [
        hour for hour in forecast(NOW).hours if hour.starts_at <= NOW + timedelta(hours=left_h)
    ]
    use = use_of(replace(forecast(NOW), hours=tuple(hours)), NOW, DEFAULT_RULES)
    assert (use.status is ForecastStatus.FRESH) is fresh


def test_none_is_missing() -> None:
    """Nothing is nothing."""
    assert use_of(None, NOW, DEFAULT_RULES).status is ForecastStatus.MISSING
