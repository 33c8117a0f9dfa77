"""Whether a forecast may be decided on."""

from __future__ import annotations

from datetime import datetime, timedelta

from strawbell.model.forecast import Forecast, ForecastStatus, ForecastUse
from strawbell.model.garden import Rules

FUTURE_TOLERANCE = timedelta(hours=1)
"""How far in the future a forecast may claim to be issued: clocks differ, CDNs more so."""


def use_of(forecast: Forecast | None, moment: datetime, rules: Rules) -> ForecastUse:
    """Return whether a forecast is fresh, stale or missing at a moment.

    Args:
        forecast: What could be had.
        moment: Moment of the decision, aware.
        rules: `stale_after_h` [h]: over this age a forecast is shown but not decided on.

    Returns:
        The age [h] is counted from the older of issue and fetch, so that an old answer served anew
        by a cache does not look young. Where the service says how often its model runs, a run of
        normal age is not stale, however old, until newer ones are overdue; the limit then holds for
        the fetch alone. A forecast from the future beyond an hour, or without an hour ahead of the
        moment, counts as stale.

    Source: Services issue a forecast at least every 6 h (their documentation); twice that is the
        default limit (design choice). A run of a world model is 7 to 11 h old before it can be had,
        and 15 to 17 h when the next one comes.
    """
    if forecast is None:
        return ForecastUse(ForecastStatus.MISSING)
    oldest = min(forecast.issued_at, forecast.fetched_at)
    age = moment - oldest
    ends = forecast.hours[-1].starts_at if forecast.hours else moment
    limit = timedelta(hours=rules.stale_after_h)
    if forecast.good_until is None:
        in_time = age <= limit
    else:
        in_time = moment <= forecast.good_until and moment - forecast.fetched_at <= limit
    fresh = age >= -FUTURE_TOLERANCE and in_time and ends > moment
    ensemble = forecast.ensemble
    return ForecastUse(
        status=ForecastStatus.FRESH if fresh else ForecastStatus.STALE,
        source=forecast.source,
        issued_at=forecast.issued_at,
        age_h=round(age / timedelta(hours=1), 2),
        attribution=forecast.attribution,
        attribution_url=forecast.attribution_url,
        members=0 if ensemble is None else len(ensemble.members),
        members_source=None if ensemble is None else ensemble.source,
    )
