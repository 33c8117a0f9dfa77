"""MET Norway's Locationforecast 2.0: the world, best in the north; NLOD 2.0 and CC BY 4.0."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import zip_longest
from typing import Any
from urllib.parse import urlencode

from strawbell.edges.forecasts import checks
from strawbell.edges.forecasts.http import Question, WorldSource
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Place

SERVICE = checks.Service(
    name="met-norway",
    attribution_url="https://api.met.no/",
)
BASE_URL = "https://api.met.no"
INTERVAL = timedelta(minutes=30)
"""The service's Expires is about half an hour ahead; this is used where it is missing."""
SIX_HOURS = 6 * checks.HOUR

_INSTANTS = {
    "air_temperature": "temperature_c",
    "relative_humidity": "relative_humidity_percent",
    "dew_point_temperature": "dew_point_c",
    "wind_speed": "wind_m_s",
    "cloud_area_fraction": "cloud_percent",
}
WIDTH_OF_10_TO_90 = 2.563
"""Standard errors between the percentiles 10 and 90 of a normal error."""
Details = Sequence[Mapping[str, Any]]
Read = Callable[[Details, str, str], list[float | None]]
Spells = dict[datetime, Mapping[str, Any]]
"""What is told of the coming hours, by the hour it begins with."""


class MetNorway(WorldSource):
    """The forecast source named "met-norway"."""

    name = SERVICE.name
    base_url = BASE_URL

    def question(self, place: Place) -> Question:
        """Return the question: the complete flavour, for chance of rain and lows of six hours."""
        asked = {
            "lat": checks.coordinate(place.latitude),
            "lon": checks.coordinate(place.longitude),
        }
        if place.elevation_m is not None:
            asked["altitude"] = f"{place.elevation_m:.0f}"
        url = f"{self._base}/weatherapi/locationforecast/2.0/complete?{urlencode(asked)}"
        return Question(SERVICE.spoken, url, INTERVAL, wants_contact=True)

    def parse(self, place: Place, body: bytes, fetched_at: datetime) -> Forecast:
        """Return the forecast in a body; see the function."""
        return parse(body, place, fetched_at)


def parse(body: bytes, place: Place, fetched_at: datetime) -> Forecast:
    """Return the forecast in a body; `OperationalError` where there is none for this place.

    Rain is that of the coming hour while the service gives it. Where steps are six hours apart,
    the amount of the six hours is spread evenly over them; the two are never added. Temperatures
    between such steps: see `_between`. Absent keys and unknown units stay unknown.
    """
    answer = checks.mapping(checks.read_json(SERVICE.spoken, body))
    properties = checks.mapping(answer.get("properties"))
    if not properties:
        raise SERVICE.unusable("unusable.no-forecast")
    corner = checks.sequence(checks.mapping(answer.get("geometry")).get("coordinates"))
    longitude, latitude, height_m = (*corner, None, None, None)[:3]
    checks.check_place(SERVICE, place, latitude, longitude)
    meta = checks.mapping(properties.get("meta"))
    issued_at = checks.moment(meta.get("updated_at")) or fetched_at
    checks.check_issue(SERVICE, issued_at, fetched_at)
    read = _reader(checks.mapping(meta.get("units")))
    steps = _steps(properties.get("timeseries"))
    starts = [at for at, _ in steps]
    instants = [_details(data, "instant") for _, data in steps]
    grid = checks.grid_around(fetched_at, starts)
    places = grid.places(starts)
    for name, field in _INSTANTS.items():
        grid.put(field, places, read(instants, name, field))
    grid.put("temperature_sd_c", places, _errors_c(instants, read))
    ones: Spells = {}
    sixes: Spells = {}
    for (at, data), after in zip_longest(steps, starts[1:]):
        if "next_1_hours" in data:
            ones[at] = _details(data, "next_1_hours")
        elif after is None or after - at >= SIX_HOURS:
            sixes[at] = _details(data, "next_6_hours")
    _rain(grid, 1, ones, read)
    _rain(grid, 6, sixes, read)
    followed = {at + SIX_HOURS for at in sixes} & set(starts)
    _temperatures(grid, {at: sixes[at] for at in sixes if at + SIX_HOURS in followed}, read)
    found = checks.forecast_of(SERVICE, grid, issued_at, fetched_at)
    return checks.at_height(found, place, height_m)


def _reader(units: Mapping[str, Any]) -> Read:
    """Return the function that takes values out of details, where their unit is the known one."""

    def read(details: Details, name: str, field: str) -> list[float | None]:
        change = checks.change_of(field, units.get(name))
        if change is None:
            return [None] * len(details)
        return checks.column([each.get(name) for each in details], field, change)

    return read


def _steps(series: object) -> Sequence[tuple[datetime, Mapping[str, Any]]]:
    """Return the steps in order; the first of doubles counts."""
    steps: dict[datetime, Mapping[str, Any]] = {}
    for step in checks.sequence(series):
        at = checks.moment(checks.mapping(step).get("time"))
        if at is not None:
            steps.setdefault(at, checks.mapping(checks.mapping(step).get("data")))
    return sorted(steps.items(), key=lambda step: step[0])


def _details(data: Mapping[str, Any], period: str) -> Mapping[str, Any]:
    return checks.mapping(checks.mapping(data.get(period)).get("details"))


def _rain(grid: checks.Grid, hours: int, spells: Spells, read: Read) -> None:
    details = list(spells.values())
    starts = [at + number * checks.HOUR for at in spells for number in range(hours)]
    places = grid.places(starts)
    for name, field, parts in (
        ("precipitation_amount", "rain_mm", hours),
        ("precipitation_amount_max", "rain_most_mm", hours),
        ("probability_of_precipitation", "rain_chance_percent", 1),
    ):
        values = read(details, name, field)
        grid.put(field, places, [each and each / parts for each in values for _ in range(hours)])


def _errors_c(instants: Details, read: Read) -> list[float | None]:
    """Return the standard errors of temperatures from the percentiles the service gives."""
    lows, highs = (
        read(instants, f"air_temperature_percentile_{each}", "temperature_c") for each in (10, 90)
    )
    return [
        None if low is None or high is None or high < low else (high - low) / WIDTH_OF_10_TO_90
        for low, high in zip(lows, highs, strict=True)
    ]


def _temperatures(grid: checks.Grid, sixes: Spells, read: Read) -> None:
    """Fill the five hours between steps and those six hours later."""
    details = list(sixes.values())
    lows = read(details, "air_temperature_min", "temperature_c")
    highs = read(details, "air_temperature_max", "temperature_c")
    known, errors = grid.columns["temperature_c"], grid.columns["temperature_sd_c"]
    inner: list[int] = []
    between: list[float | None] = []
    error: list[float | None] = []
    for place, low, high in zip(grid.places(list(sixes)), lows, highs, strict=True):
        if place is not None:
            last = known[place + 6] if place + 6 in grid.numbers else None
            inner += range(place + 1, min(place + 6, len(known)))
            between += _between(known[place], last, low, high)
            error += [errors[place]] * 5
    grid.put("temperature_c", inner, between)
    grid.put("temperature_sd_c", inner, error)


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
