"""MET Norway's Locationforecast 2.0: the world, best in the north; NLOD 2.0 and CC BY 4.0."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from strawbell.edges.forecasts.checks import (
    HOUR,
    Gathered,
    Service,
    at_height,
    check_issue,
    check_place,
    converted,
    coordinate,
    forecast_of,
    identity,
    mapping,
    moment,
    put,
    read_json,
    sequence,
)
from strawbell.edges.forecasts.http import Http, Question
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Place

SERVICE = Service(
    name="met-norway",
    spoken="MET Norway",
    attribution="Weather data from MET Norway (NLOD 2.0, CC BY 4.0), rearranged by hour",
    attribution_url="https://api.met.no/",
)
BASE_URL = "https://api.met.no"
INTERVAL = timedelta(minutes=30)
"""The service's Expires is about half an hour ahead; this is used where it is missing."""
SIX_HOURS = 6 * HOUR

_UNITS = {
    "temperature_c": "celsius",
    "relative_humidity_percent": "%",
    "dew_point_c": "celsius",
    "wind_m_s": "m/s",
    "cloud_percent": "%",
    "rain_mm": "mm",
    "rain_chance_percent": "%",
    "rain_most_mm": "mm",
}
_INSTANTS = {
    "air_temperature": "temperature_c",
    "relative_humidity": "relative_humidity_percent",
    "dew_point_temperature": "dew_point_c",
    "wind_speed": "wind_m_s",
    "cloud_area_fraction": "cloud_percent",
}
WIDTH_OF_10_TO_90 = 2.563
"""Standard errors between the percentiles 10 and 90 of a normal error."""
Value = Callable[[Mapping[str, Any], str, str], float | None]


class MetNorway:
    """The forecast source named "met-norway"."""

    name = SERVICE.name

    def __init__(self, http: Http, base_url: str = BASE_URL) -> None:
        """Ask through `http`; another `base_url` is for tests and mirrors."""
        self._http = http
        self._base_url = base_url.rstrip("/")

    def covers(self, place: Place) -> bool:  # noqa: ARG002 - the whole world
        """Return True: the service covers the world."""
        return True

    def fetch(self, place: Place, now: datetime) -> Forecast:
        """Return the forecast of a place; see `strawbell.app.ports.ForecastSource`."""
        question = Question(SERVICE.spoken, self.url(place), INTERVAL, wants_contact=True)
        return self._http.ask(
            question, now, self._http.until(), lambda body, at: parse(body, place, at)
        )

    def last_good(self, place: Place) -> Forecast | None:
        """Return the last good forecast of a place, however old."""
        return self._http.last(self.url(place), lambda body, at: parse(body, place, at))

    def url(self, place: Place) -> str:
        """Return the request: the complete flavour, for chance of rain and lows of six hours."""
        asked = {"lat": coordinate(place.latitude), "lon": coordinate(place.longitude)}
        if place.elevation_m is not None:
            asked["altitude"] = f"{place.elevation_m:.0f}"
        return f"{self._base_url}/weatherapi/locationforecast/2.0/complete?{urlencode(asked)}"


def parse(body: bytes, place: Place, fetched_at: datetime) -> Forecast:
    """Return the forecast in a body; `OperationalError` where there is none for this place.

    Rain is that of the coming hour while the service gives it. Where steps are six hours apart,
    the amount of the six hours is spread evenly over them; the two are never added. Temperatures
    between such steps: see `_between`. Absent keys and unknown units stay unknown.
    """
    answer = mapping(read_json(SERVICE.spoken, body))
    properties = mapping(answer.get("properties"))
    if not properties:
        raise SERVICE.unusable("sent something that is no forecast")
    corner = sequence(mapping(answer.get("geometry")).get("coordinates"))
    longitude, latitude, height_m = (*corner, None, None, None)[:3]
    check_place(SERVICE, place, latitude, longitude)
    meta = mapping(properties.get("meta"))
    issued_at = moment(meta.get("updated_at")) or fetched_at
    check_issue(SERVICE, issued_at, fetched_at)
    value = _reader(mapping(meta.get("units")))
    steps = _steps(properties.get("timeseries"))
    gathered: Gathered = {}
    for number, (at, data) in enumerate(steps):
        instant = _details(data, "instant")
        for name, field in _INSTANTS.items():
            put(gathered, at, field, value(instant, name, field))
        put(gathered, at, "temperature_sd_c", _error_c(instant, value))
        after = steps[number + 1] if number + 1 < len(steps) else None
        if "next_1_hours" in data:
            _rain(gathered, at, 1, _details(data, "next_1_hours"), value)
        elif after is None or after[0] - at >= SIX_HOURS:
            six = _details(data, "next_6_hours")
            _rain(gathered, at, 6, six, value)
            if after is not None and after[0] - at == SIX_HOURS:
                _temperatures(gathered, at, six, _details(after[1], "instant"), value)
    found = forecast_of(SERVICE, gathered, issued_at, fetched_at)
    return at_height(found, place, height_m)


def _reader(units: Mapping[str, Any]) -> Value:
    """Return the function that takes a value out of details, where its unit is the known one."""

    def value(details: Mapping[str, Any], name: str, field: str) -> float | None:
        if units.get(name) != _UNITS[field]:
            return None
        return converted(details.get(name), field, identity)

    return value


def _steps(series: object) -> Sequence[tuple[datetime, Mapping[str, Any]]]:
    """Return the steps in order; the first of doubles counts."""
    steps: dict[datetime, Mapping[str, Any]] = {}
    for step in sequence(series):
        at = moment(mapping(step).get("time"))
        if at is not None:
            steps.setdefault(at, mapping(mapping(step).get("data")))
    return sorted(steps.items(), key=lambda step: step[0])


def _details(data: Mapping[str, Any], period: str) -> Mapping[str, Any]:
    return mapping(mapping(data.get(period)).get("details"))


def _rain(
    gathered: Gathered, at: datetime, hours: int, details: Mapping[str, Any], value: Value
) -> None:
    amount = value(details, "precipitation_amount", "rain_mm")
    most = value(details, "precipitation_amount_max", "rain_most_mm")
    chance = value(details, "probability_of_precipitation", "rain_chance_percent")
    for number in range(hours):
        hour = at + number * HOUR
        put(gathered, hour, "rain_mm", None if amount is None else amount / hours)
        put(gathered, hour, "rain_most_mm", None if most is None else most / hours)
        put(gathered, hour, "rain_chance_percent", chance)


def _error_c(instant: Mapping[str, Any], value: Value) -> float | None:
    """Return the standard error of a temperature from the percentiles the service gives."""
    low, high = (
        value(instant, f"air_temperature_percentile_{each}", "temperature_c") for each in (10, 90)
    )
    return None if low is None or high is None or high < low else (high - low) / WIDTH_OF_10_TO_90


def _temperatures(
    gathered: Gathered,
    at: datetime,
    six: Mapping[str, Any],
    following: Mapping[str, Any],
    value: Value,
) -> None:
    """Fill the five hours between a step and the one six hours later."""
    between = _between(
        gathered.get(at, {}).get("temperature_c"),
        value(following, "air_temperature", "temperature_c"),
        value(six, "air_temperature_min", "temperature_c"),
        value(six, "air_temperature_max", "temperature_c"),
    )
    error_c = gathered.get(at, {}).get("temperature_sd_c")
    for number, temperature in enumerate(between, start=1):
        put(gathered, at + number * HOUR, "temperature_c", temperature)
        put(gathered, at + number * HOUR, "temperature_sd_c", error_c)


def _between(
    first: float | None, last: float | None, low: float | None, high: float | None
) -> tuple[float | None, ...]:
    """Return the five hourly temperatures between two steps of six hours [degC].

    Instants six hours apart can miss a night's minimum, so they are not simply joined. Where the
    service gives lowest and highest of the six hours, a straight line is drawn, the hour beside
    the cooler end gets the lowest and the one beside the warmer end the highest: the extremes,
    on which decisions rest, are the service's own. Where it does not, the hours stay unknown,
    but for a lowest given alone.
    """
    if first is None or last is None or low is None or high is None or low > high:
        return (None, None, low, None, None)
    line = [first + (last - first) * step / 6.0 for step in range(1, 6)]
    cool, warm = (0, -1) if first <= last else (-1, 0)
    inner = [min(max(one, low), high) for one in line]
    inner[cool] = min(low, inner[cool])
    inner[warm] = max(high, inner[warm])
    return tuple(inner)
