"""Open-Meteo: the world, one request, no key; free for non-commercial use, data CC BY 4.0."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from strawbell.edges.forecasts import checks
from strawbell.edges.forecasts.http import Question, WorldSource
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Place

SERVICE = checks.Service(
    name="open-meteo",
    spoken="Open-Meteo",
    attribution="Weather data by Open-Meteo.com (CC BY 4.0), rearranged by hour",
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
        words = checks.safe_words(reason) if isinstance(reason, str) else "no reason given"
        raise SERVICE.unusable(f"reports an error ({words})")
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


def hours_of(answer: Mapping[str, Any], suffix: str | None = None) -> dict[datetime, Hour]:
    """Return the hours of an answer about the past; `suffix` as in `fill`."""
    times = times_of(answer)
    first = next((at for at in times if at is not None), None)
    if first is None:
        return {}
    grid = checks.Grid(first - checks.HOUR, len(times) + 1)
    fill(grid, answer, times, suffix)
    return {hour.starts_at: hour for hour in grid.hours()}


def fill(
    grid: checks.Grid, answer: Mapping[str, Any], times: Times, suffix: str | None = None
) -> None:
    """Put the values of an answer into a grid; those in unknown units stay unknown.

    `suffix` stands behind each name; None finds that of the model.
    """
    hourly, units = checks.mapping(answer.get("hourly")), checks.mapping(answer.get("hourly_units"))
    suffix = _model_suffix(hourly) if suffix is None else suffix
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
            raise SERVICE.unusable("sent something that is no forecast")
        return answers
    found = [one for one in answers if isinstance(one, dict)]
    if not found:
        raise SERVICE.unusable("sent an empty list")

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
        raise SERVICE.unusable("did not say in which time zone its hours are")
    rows = checks.sequence(hourly.get("time"))
    if units.get("time") == "unixtime":
        return [_unix_moment(row) for row in rows]
    if units.get("time") != "iso8601":
        raise SERVICE.unusable("gives its times in a way we do not know")
    return checks.moments(rows, timedelta(seconds=seconds))


def _unix_moment(value: object) -> datetime | None:
    seconds = checks.number(value)
    if seconds is None or seconds < 0:
        return None
    return datetime.fromtimestamp(seconds, UTC)


def _model_suffix(hourly: Mapping[str, Any]) -> str:
    """Return what is added to the names where a model was asked for ("_gfs_seamless")."""
    if "temperature_2m" in hourly:
        return ""
    marked = (key for key in hourly if key.startswith("temperature_2m_"))
    return next(marked, "temperature_2m").removeprefix("temperature_2m")
