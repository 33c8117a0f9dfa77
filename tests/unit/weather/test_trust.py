"""Whether a forecast may be decided on."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from strawbell.model.forecast import ForecastStatus
from strawbell.weather.thresholds import DEFAULT_RULES
from strawbell.weather.trust import use_of
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


def test_a_forecast_that_has_ended_is_stale() -> None:
    """Without an hour ahead there is nothing to decide on."""
    ended = replace(forecast(NOW), hours=forecast(NOW).hours[:2])
    assert use_of(ended, NOW, DEFAULT_RULES).status is ForecastStatus.STALE


def test_none_is_missing() -> None:
    """Nothing is nothing."""
    assert use_of(None, NOW, DEFAULT_RULES).status is ForecastStatus.MISSING
