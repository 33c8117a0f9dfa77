"""Open-Meteo: the world, one request, no key; free for non-commercial use, data CC BY 4.0.

Beside its forecast it tells of its newest run, and has an ensemble: the same days forecast many
times over. Neither is needed to get through a day.

Its answers carry no time of issue. They mix several models; the one whose runs are asked about
covers every place and every day of them and comes every six hours, so an answer is at least as old
as that run.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise, takewhile
from typing import Any
from urllib.parse import urlencode

from msgspec import Struct

from strawbell.edges.forecasts import checks
from strawbell.edges.forecasts.http import Asker, Question, WorldSource
from strawbell.model.forecast import Ensemble, Forecast, Hour, Member
from strawbell.model.garden import Place
from strawbell.words.catalogue import BRITISH

SERVICE = checks.Service(
    name="open-meteo",
    attribution_url="https://open-meteo.com/",
)
BASE_URL = "https://api.open-meteo.com"
INTERVAL = timedelta(hours=1)
"""The service names no interval; its models are renewed every one to six hours."""
PAST_DAYS = 1
"""So that today's first hours are there when the garden's date is behind that of Greenwich."""
FORECAST_DAYS = 8
OFFSET_MOST = timedelta(hours=15)

Times = Sequence[datetime | None]
"""When the rows of an answer are (UTC), None where one does not say."""
_INSTANTS = {
    "temperature_2m": "temperature_c",
    "relative_humidity_2m": "relative_humidity_percent",
    "dew_point_2m": "dew_point_c",
    "wind_speed_10m": "wind_m_s",
    "cloud_cover": "cloud_percent",
}
_PRECEDING_HOUR = {
    "precipitation": "rain_mm",
    "precipitation_probability": "rain_chance_percent",
    "snowfall": "snow_cm",
    "shortwave_radiation": "radiation_w_m2",
}


class OpenMeteo(WorldSource):
    """The forecast source named "open-meteo"."""

    name = SERVICE.name
    base_url = BASE_URL

    def question(self, place: Place) -> Question:
        """Return the one question about a place; times in GMT, so no clock change can matter."""
        url = url_about(
            place,
            f"{self._base}/v1/forecast",
            hourly=[*_INSTANTS, *_PRECEDING_HOUR],
            past_days=PAST_DAYS,
            forecast_days=FORECAST_DAYS,
            **IN_OUR_UNITS,
        )
        return Question(SERVICE.spoken, url, INTERVAL)

    def parse(self, place: Place, body: bytes, fetched_at: datetime) -> Forecast:
        """Return the forecast in a body; see the function."""
        return parse(body, place, fetched_at)


IN_OUR_UNITS = {
    "temperature_unit": "celsius",
    "wind_speed_unit": "ms",
    "precipitation_unit": "mm",
    "timeformat": "iso8601",
    "timezone": "GMT",
}


def url_about(place: Place, address: str, hourly: Iterable[str], **asked: object) -> str:
    """Return the address of a question about a place to one of the service's interfaces."""
    where = {
        "latitude": checks.coordinate(place.latitude),
        "longitude": checks.coordinate(place.longitude),
    }
    if place.elevation_m is not None:
        where["elevation"] = f"{place.elevation_m:.0f}"
    whole = {**where, "hourly": ",".join(hourly), **asked}
    return f"{address}?{urlencode(whole, safe=',')}"


def chunks(first: date, last: date, size: timedelta) -> Iterator[tuple[date, date]]:
    """Yield the first and last dates of questions of a size, which together cover all dates."""
    while first <= last:
        end = min(last, first + size - timedelta(days=1))
        yield first, end
        first = end + timedelta(days=1)


def answer_about(place: Place, body: bytes) -> Mapping[str, Any]:
    """Return the answer in a body; `OperationalError` where it is not of this place."""
    answer = _answer_for(checks.read_json(SERVICE.spoken, body), place)
    if answer.get("error"):
        reason = answer.get("reason")
        words = checks.safe_words(reason) if isinstance(reason, str) else ""
        said = words or BRITISH.say("unusable.no-reason")
        raise SERVICE.unusable("unusable.error", reason=said)
    checks.check_place(SERVICE, place, answer.get("latitude"), answer.get("longitude"))
    return answer


def parse(body: bytes, place: Place, fetched_at: datetime) -> Forecast:
    """Return the forecast in a body; `OperationalError` where there is none for this place.

    Amounts, chances and radiation are stamped with the end of their hour by the service, so they
    are taken from the row one hour later. A variable whose unit is not known stays unknown.
    """
    answer = answer_about(place, body)
    times = times_of(answer)
    grid = checks.grid_around(fetched_at, times)
    fill(grid, answer, times)
    found = checks.forecast_of(SERVICE, grid, fetched_at, fetched_at)
    return checks.at_height(found, place, answer.get("elevation"))


def hours_of(answer: Mapping[str, Any], suffix: str = "") -> dict[datetime, Hour]:
    """Return the hours of an answer about the past; `suffix` stands behind each name."""
    times = times_of(answer)
    first = next((at for at in times if at is not None), None)
    if first is None:
        return {}
    grid = checks.Grid(first - checks.HOUR, len(times) + 1)
    fill(grid, answer, times, suffix)
    return {hour.starts_at: hour for hour in grid.hours()}


def fill(grid: checks.Grid, answer: Mapping[str, Any], times: Times, suffix: str = "") -> None:
    """Put the values of an answer into a grid; those in unknown units stay unknown."""
    hourly, units = checks.mapping(answer.get("hourly")), checks.mapping(answer.get("hourly_units"))
    instants = grid.places(times)
    for variables, places in (
        (_INSTANTS, instants),
        (_PRECEDING_HOUR, checks.hour_before(instants)),
    ):
        for variable, field in variables.items():
            key = variable + suffix
            change = checks.change_of(field, units.get(key))
            if change is not None:
                grid.put(
                    field, places, checks.column(checks.sequence(hourly.get(key)), field, change)
                )


def _answer_for(answers: Any, place: Place) -> Mapping[str, Any]:
    """Return the answer; several places come as a list, of which the nearest is meant."""
    if not isinstance(answers, list):
        if not isinstance(answers, dict):
            raise SERVICE.unusable("unusable.no-forecast")
        return answers
    found = [one for one in answers if isinstance(one, dict)]
    if not found:
        raise SERVICE.unusable("unusable.empty-list")

    def distance(one: Mapping[str, Any]) -> float:
        latitude, longitude = (
            checks.number(one.get("latitude")),
            checks.number(one.get("longitude")),
        )
        if latitude is None or longitude is None:
            return 1e6
        return abs(latitude - place.latitude) + abs(longitude - place.longitude)

    return min(found, key=distance)


def times_of(answer: Mapping[str, Any]) -> Times:
    """Return the rows' times as UTC.

    The service applies one fixed offset to all rows, over clock changes too, so its times are
    never read in a time zone; only that offset is taken off.
    """
    hourly, units = checks.mapping(answer.get("hourly")), checks.mapping(answer.get("hourly_units"))
    seconds = checks.number(answer.get("utc_offset_seconds"))
    if seconds is None or abs(seconds) > OFFSET_MOST.total_seconds():
        raise SERVICE.unusable("unusable.no-zone")
    rows = checks.sequence(hourly.get("time"))
    if units.get("time") == "unixtime":
        return [_unix_moment(row) for row in rows]
    if units.get("time") != "iso8601":
        raise SERVICE.unusable("unusable.odd-times")
    return checks.moments(rows, timedelta(seconds=seconds))


def _unix_moment(value: object) -> datetime | None:
    seconds = checks.number(value)
    if seconds is None or seconds < 0:
        return None
    return datetime.fromtimestamp(seconds, UTC)


MODEL = "ecmwf_ifs025"
"""Whose runs and members are asked for: 51 of the European Centre that cover the world, and are
steps of three hours for longest (the service's table of models). One request of them weighs as 10.2
ordinary ones of the 10,000 that are free in a day."""
RUNS_INTERVAL = timedelta(hours=1)
SETTLES = timedelta(minutes=10)
"""How long after a run is said to be there all servers have it (the service's documentation)."""
LATE_AFTER_INTERVALS = 2
LATE_MARGIN = timedelta(minutes=20)
"""A run is old two intervals and 20 minutes after it was there, as the service's own page of model
updates has it; a later one has then failed twice."""
INTERVAL_LEAST, INTERVAL_MOST = timedelta(minutes=30), timedelta(days=2)


class Run(Struct, frozen=True):
    """One run of a model: when it began, when it could be had, and how often one comes."""

    began_at: datetime
    available_at: datetime
    every: timedelta

    def as_of(self, fetched_at: datetime) -> Run:
        """Return the run that an answer fetched earlier came from: this one, or one before it."""
        behind = max(math.ceil((self.available_at + SETTLES - fetched_at) / self.every), 0)
        return Run(
            self.began_at - behind * self.every, self.available_at - behind * self.every, self.every
        )

    @property
    def good_until(self) -> datetime:
        """Return when the run counts as old, since newer ones are overdue."""
        return self.available_at + LATE_AFTER_INTERVALS * self.every + LATE_MARGIN


class Runs(Asker):
    """Asks the default service about its newest run."""

    base_url = BASE_URL

    def newest(self, now: datetime) -> Run:
        """Return the newest run; `strawbell.errors.OperationalError` where it is not told."""
        url = f"{self._base}/data/{MODEL}/static/meta.json"
        spoken = BRITISH.say("asked.runs", service=SERVICE.spoken)
        question = Question(spoken, url, RUNS_INTERVAL)
        return self._http.ask(question, now, lambda body, _: parse_run(body))


def parse_run(body: bytes) -> Run:
    """Return the run that a body tells of; `OperationalError` where it tells of none."""
    answer = checks.mapping(checks.read_json(SERVICE.spoken, body))
    began, available, every = (
        checks.number(answer.get(name))
        for name in (
            "last_run_initialisation_time",
            "last_run_availability_time",
            "update_interval_seconds",
        )
    )
    if began is None or available is None or every is None or not 0 < began <= available:
        raise SERVICE.unusable("unusable.no-run")
    interval = timedelta(seconds=every)
    if not INTERVAL_LEAST <= interval <= INTERVAL_MOST:
        raise SERVICE.unusable("unusable.no-interval")
    return Run(datetime.fromtimestamp(began, UTC), datetime.fromtimestamp(available, UTC), interval)


ENSEMBLE_URL = "https://ensemble-api.open-meteo.com"
ENSEMBLE_INTERVAL = timedelta(hours=6)
"""A new run comes every six hours: a cell is asked four times a day at most."""
ENSEMBLE_DAYS = 6
"""Days asked: from 144 h on the steps are six hours long, and the night's lowest temperature, which
lies between two of them, is 1 to 2 degC too warm in all members at once."""
FEWEST_MEMBERS = 5
"""Fewer say too little of what is rare (design choice)."""
MOST_MEMBERS = 200
HOURS_MOST = 24 * 36

TEMPERATURE, RAIN = "temperature_2m", "precipitation"
_MEMBER_UNITS = {TEMPERATURE: "°C", RAIN: "mm"}
_MEMBER_FIELDS = {TEMPERATURE: "temperature_c", RAIN: "rain_mm"}
_MEMBER_KEY = re.compile(r"(temperature_2m|precipitation)(?:_member(\d{2}))?")
_NOT_COVERED = re.compile(rb'"latitude"\s*:\s*nan\b')
"""A regional model's body for a place outside it: status 200, and no JSON."""

Series = dict[int, dict[str, tuple[float | None, ...]]]
"""By number of the member its values by variable; number 0 is the control run."""


class Ensembles(Asker):
    """Asks for the members over a place."""

    base_url = ENSEMBLE_URL

    def fetch(self, place: Place, now: datetime) -> Ensemble:
        """Return the members; `strawbell.errors.OperationalError` when none could be had."""
        spoken = BRITISH.say("asked.ensemble", service=SERVICE.spoken)
        question = Question(spoken, self.url(place), ENSEMBLE_INTERVAL)
        return self._http.ask(question, now, lambda body, _: parse_ensemble(body, place))

    def url(self, place: Place) -> str:
        """Return the one request for a place."""
        return url_about(
            place,
            f"{self._base}/v1/ensemble",
            hourly=(TEMPERATURE, RAIN),
            models=MODEL,
            timezone="GMT",
            timeformat="unixtime",
            forecast_days=ENSEMBLE_DAYS,
        )


def parse_ensemble(body: bytes, place: Place) -> Ensemble:
    """Return the members in a body; `OperationalError` where there are none for this place.

    Rain is stamped with the end of its hour. A variable in another unit than asked, and whatever
    cannot be, stays unknown.
    """
    if _NOT_COVERED.search(body):
        raise SERVICE.unusable("unusable.no-ensemble")
    answer = answer_about(place, body)
    hourly, units = checks.mapping(answer.get("hourly")), checks.mapping(answer.get("hourly_units"))
    rows = takewhile(lambda at: at is not None, times_of(answer)[:HOURS_MOST])
    times = [at for at in rows if at is not None]
    if not times or any(after - before != checks.HOUR for before, after in pairwise(times)):
        raise SERVICE.unusable("unusable.no-hours")
    series = _member_series(hourly, units, len(times))
    members = tuple(_members(series, len(times)))
    if len(members) < FEWEST_MEMBERS:
        raise SERVICE.unusable("unusable.few-members", members=len(members))
    # A rain row tells of the hour before its stamp, so the series begins an hour earlier.
    return Ensemble(MODEL, times[0] - checks.HOUR, members)


def _member_series(hourly: Mapping[str, Any], units: Mapping[str, Any], hours: int) -> Series:
    found: Series = {}
    for key, values in hourly.items():
        named = _MEMBER_KEY.fullmatch(key)
        if named is None or units.get(key) != _MEMBER_UNITS[named[1]]:
            continue
        known = checks.column(
            checks.sequence(values)[:hours], _MEMBER_FIELDS[named[1]], checks.identity
        )
        known += [None] * (hours - len(known))
        found.setdefault(int(named[2] or 0), {})[named[1]] = tuple(known)
    return found


def _members(series: Series, hours: int) -> Iterator[Member]:
    nothing = (None,) * hours
    for _, values in sorted(series.items())[:MOST_MEMBERS]:
        temperature, rain = values.get(TEMPERATURE, nothing), values.get(RAIN, nothing)
        if any(each is not None for each in (*temperature, *rain)):
            yield Member(1.0 / len(series), (None, *temperature), (*rain, None))
