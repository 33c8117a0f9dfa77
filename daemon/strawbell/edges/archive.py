"""The weather that came, hour by hour, from the open archive of the default service."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from strawbell.edges.forecasts.http import Http, Question
from strawbell.edges.forecasts.open_meteo import (
    IN_OUR_UNITS,
    SERVICE,
    answer_about,
    hours_of,
    url_about,
)
from strawbell.edges.minima import ARCHIVE_URL, INTERVAL
from strawbell.errors import GrowerError, Problem
from strawbell.model.forecast import Hour
from strawbell.model.garden import Place

VARIABLES = (
    "temperature_2m",
    "relative_humidity_2m",
    "dew_point_2m",
    "precipitation",
    "wind_speed_10m",
    "cloud_cover",
    "shortwave_radiation",
)
"""What is asked for; the archive knows no chance of rain."""
CHUNK = timedelta(days=150)
"""How much is asked at once: a fraction of what an answer may be long."""
LATENESS = timedelta(days=5)
"""The archive is that far behind (by its documentation); nearer days are asked of nobody."""
FIRST = date(1940, 1, 1)
"""First day of the archive (by its documentation)."""

Hours = Mapping[datetime, Hour]
"""Hours by their beginning (UTC); what the archive does not know is absent or None."""


def hours_from_archive(
    http: Http,
    base_url: str | None,
    place: Place,
    dates: tuple[date, date],
    now: datetime,
    step: Callable[[date], None] = lambda _: None,
) -> Hours:
    """Return the hours of local dates, both included; `step` is told each date reached.

    Raises `GrowerError` where the dates are not in the archive and
    `strawbell.errors.OperationalError` when it gives no usable answer.
    """
    zone = ZoneInfo(place.time_zone)
    first, last = dates
    _check_dates(first, last, now.astimezone(zone).date())
    hours: dict[datetime, Hour] = {}
    # A day more on either side: the archive counts dates in Greenwich.
    for start, end in _chunks(first - timedelta(days=1), last + timedelta(days=1)):
        hours.update(_ask(http, base_url, place, start, end, now))
        step(min(end, last))
    begins = datetime.combine(first, time(0), zone)
    ends = datetime.combine(last + timedelta(days=1), time(0), zone)
    return {at: hour for at, hour in sorted(hours.items()) if begins <= at < ends}


def _check_dates(first: date, last: date, today: date) -> None:
    newest = today - LATENESS
    for name, on in (("--from", first), ("--to", last)):
        if not FIRST < on <= newest:
            raise GrowerError(
                Problem(
                    "the archive does not reach there",
                    name,
                    str(on),
                    f"{FIRST + timedelta(days=1)} to {newest}",
                    "Give dates of the past, or recorded weather of your own with --weather.",
                )
            )


def _chunks(first: date, last: date) -> Iterator[tuple[date, date]]:
    while first <= last:
        end = min(last, first + CHUNK - timedelta(days=1))
        yield first, end
        first = end + timedelta(days=1)


def _ask(
    http: Http, base_url: str | None, place: Place, start: date, end: date, now: datetime
) -> Hours:
    url = url_about(
        place,
        f"{(base_url or ARCHIVE_URL).rstrip('/')}/v1/archive",
        VARIABLES,
        start_date=start,
        end_date=end,
        **IN_OUR_UNITS,
    )
    question = Question(f"The archive of {SERVICE.spoken}", url, INTERVAL)
    return http.ask(question, now, lambda body, _at: parse(body, place))


def parse(body: bytes, place: Place) -> Hours:
    """Return the hours in an answer; `OperationalError` where it is none for this place."""
    found = hours_of(answer_about(place, body))
    if not any(hour.temperature_c is not None for hour in found.values()):
        raise SERVICE.unusable("sent an archive without temperatures")
    return found
