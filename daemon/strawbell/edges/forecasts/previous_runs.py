"""What the default service forecast in the past, by days ahead, from its previous runs.

For each hour it keeps the values of the newest run that was at least one, two ... seven days old.
So a rehearsal can replay what was really issued, and the errors of a place can be measured: against
the newest run, since that is nearest to what came.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from strawbell.edges.forecasts.http import Asker, Http, Question
from strawbell.edges.forecasts.open_meteo import SERVICE, answer_about, chunks, hours_of, url_about
from strawbell.errors import GrowerError, Problem
from strawbell.model.forecast import Hour, PastError
from strawbell.model.garden import Place

BASE_URL = "https://previous-runs-api.open-meteo.com"
DAYS_AHEAD = range(1, 8)
VARIABLES = ("temperature_2m", "precipitation")
PAST_DAYS = 92
"""Days that errors are measured over: the most that is answered backwards from today. As 16
variables it weighs as 11 ordinary requests of the 10,000 that are free in a day."""
INTERVAL = timedelta(days=7)
"""Errors of three months hardly change within a week."""
AGAIN = timedelta(days=1)
MOST_PLACES = 1000
FEWEST_DAYS = 20
"""Fewer days say nothing of errors (design choice)."""
KNOWN_HOURS = 20
"""Hours of a date that have to be known for its low and its rain to count (design choice)."""
FIRST = date(2024, 1, 1)
"""From when on most models are kept (by the service's documentation)."""
CHUNK = timedelta(days=60)

Issued = Mapping[int, Mapping[datetime, Hour]]
"""Hours by their beginning (UTC), by how many days before they were forecast; 0 is the newest."""


class PreviousRuns(Asker):
    """Asks what was forecast in the past."""

    base_url = BASE_URL

    def __init__(self, http: Http, base_url: str | None = None) -> None:
        """Ask through `http`; another `base_url` is for tests and mirrors."""
        super().__init__(http, base_url)
        self._reckoned: dict[Place, tuple[datetime, tuple[PastError, ...]]] = {}

    def errors(self, place: Place, now: datetime) -> tuple[PastError, ...]:
        """Return the errors of three months; `OperationalError` when they cannot be had.

        They are reckoned once a day; the answer itself is kept for a week.
        """
        known = self._reckoned.get(place)
        if known is None or not timedelta() <= now - known[0] < AGAIN:
            asked = {"past_days": str(PAST_DAYS), "forecast_days": "1"}
            issued = self._ask(place, asked, now)
            if len(self._reckoned) >= MOST_PLACES:
                self._reckoned.clear()
            zone = ZoneInfo(place.time_zone)
            known = now, errors_of(issued, zone, now.astimezone(zone).date())
            self._reckoned[place] = known
        return known[1]

    def issued(
        self,
        place: Place,
        dates: tuple[date, date],
        now: datetime,
        step: Callable[[date], None] = lambda _: None,
    ) -> Issued:
        """Return what was forecast for dates, both included; `step` is told each date reached.

        Raises `GrowerError` where the service does not reach there, `OperationalError` without a
        usable answer.
        """
        first, last = dates[0] - timedelta(days=1), dates[1] + timedelta(days=1)
        if first < FIRST:
            allowed = f"{FIRST + timedelta(days=1)} and later"
            raise GrowerError(
                Problem("forecasts of that time are not kept", "--from", str(dates[0]), allowed)
            )
        found: dict[int, dict[datetime, Hour]] = {}
        for start, end in chunks(first, last, CHUNK):
            asked = {"start_date": start.isoformat(), "end_date": end.isoformat()}
            for ahead, hours in self._ask(place, asked, now).items():
                found.setdefault(ahead, {}).update(hours)
            step(end)
        return found

    def _ask(self, place: Place, dates: Mapping[str, str], now: datetime) -> Issued:
        names = [
            name + (f"_previous_day{ahead}" if ahead else "")
            for ahead in (0, *DAYS_AHEAD)
            for name in VARIABLES
        ]
        url = url_about(
            place, f"{self._base}/v1/forecast", names,
            timeformat="iso8601", timezone="GMT", **dates,
        )  # fmt: skip
        question = Question(f"{SERVICE.spoken}'s list of past forecasts", url, INTERVAL)
        return self._http.ask(question, now, lambda body, _: parse(body, place))


def parse(body: bytes, place: Place) -> Issued:
    """Return the hours in a body by days ahead; `OperationalError` where it is of another place."""
    answer = answer_about(place, body)
    found = {}
    for ahead in (0, *DAYS_AHEAD):
        found[ahead] = hours_of(answer, f"_previous_day{ahead}" if ahead else "")
    if not any(hour.temperature_c is not None for hour in found[1].values()):
        raise SERVICE.unusable("sent no forecasts of the past")
    return found


def errors_of(issued: Issued, zone: ZoneInfo, before: date) -> tuple[PastError, ...]:
    """Return how the forecasts erred by days ahead, over the local dates before one."""
    dates = {ahead: _by_date(hours, zone, before) for ahead, hours in issued.items()}
    newest = dates.pop(0, {})
    return tuple(_error(dates.get(ahead, {}), newest) for ahead in DAYS_AHEAD)


def _by_date(
    hours: Mapping[datetime, Hour], zone: ZoneInfo, before: date
) -> Mapping[date, tuple[float | None, float | None]]:
    dates: dict[date, list[Hour]] = {}
    for at, hour in hours.items():
        on = at.astimezone(zone).date()
        if on < before:
            dates.setdefault(on, []).append(hour)
    return {on: _figures(of_date) for on, of_date in dates.items()}


def _error(
    said: Mapping[date, tuple[float | None, float | None]],
    came: Mapping[date, tuple[float | None, float | None]],
) -> PastError:
    both = [(said[on], came[on]) for on in said if on in came]
    lows = [
        (one[0] - other[0]) ** 2
        for one, other in both
        if one[0] is not None and other[0] is not None
    ]
    rains = [
        (math.sqrt(one[1]), math.sqrt(other[1]))
        for one, other in both
        if one[1] is not None and other[1] is not None
    ]
    from statistics import StatisticsError, correlation, fmean  # once a day is enough

    likeness = None
    if len(rains) >= FEWEST_DAYS:
        with suppress(StatisticsError):  # a drought: nothing varies
            likeness = correlation(*zip(*rains, strict=True))
    return PastError(
        days=len(lows),
        low_error_c=math.sqrt(fmean(lows)) if len(lows) >= FEWEST_DAYS else None,
        rain_likeness=likeness,
    )


def _figures(hours: list[Hour]) -> tuple[float | None, float | None]:
    """Return low [degC] and rain [mm] of a date, None where too few of its hours are known."""
    air = [hour.temperature_c for hour in hours if hour.temperature_c is not None]
    rain = [hour.rain_mm for hour in hours if hour.rain_mm is not None]
    return (
        min(air) if len(air) >= KNOWN_HOURS else None,
        sum(rain) if len(rain) >= KNOWN_HOURS else None,
    )
