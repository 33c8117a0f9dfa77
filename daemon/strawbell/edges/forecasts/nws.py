"""The US National Weather Service: raw grid data of api.weather.gov, public domain."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

from strawbell.edges.forecasts import checks
from strawbell.edges.forecasts.checks import column
from strawbell.edges.forecasts.http import Asker, Question, Refused
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Place

SERVICE = checks.Service(
    name="nws",
    attribution_url="https://www.weather.gov/",
)
BASE_URL = "https://api.weather.gov"
ACCEPT = "application/geo+json"
GRID_INTERVAL = timedelta(minutes=30)
"""The grid is renewed about hourly; used where Cache-Control asks for less."""
LOOKUP_INTERVAL = timedelta(days=7)
"""Grid cells move rarely; a moved one is looked up anew at once when it answers 404 or 301."""
MOVED = frozenset({301, 302, 307, 308, 404, 410})
AHEAD_LEAST = timedelta(hours=48)
"""A grid whose validity ends sooner is an old one; they reach a week ahead."""
LAYER_MOST = timedelta(days=40)
"""Longest sum of the intervals of a layer; more is no forecast but an attack on memory."""

REGIONS: tuple[tuple[float, float, float, float], ...] = (
    (24.3, 49.5, -125.0, -66.8),  # contiguous states
    (51.0, 71.6, -180.0, -129.9),  # Alaska
    (51.0, 53.6, 172.0, 180.0),  # Aleutians beyond the date line
    (18.7, 22.4, -160.5, -154.6),  # Hawaii
    (17.5, 18.7, -67.5, -64.4),  # Puerto Rico and Virgin Islands
    (13.1, 20.7, 144.5, 146.2),  # Guam and Northern Marianas
    (-14.7, -10.9, -171.3, -168.0),  # American Samoa
)
"""South, north, west, east [deg], rough: the look-up tells the rest (from memory of the map)."""

BESIDE_DEG = 0.03
"""How far outside a cell of 2.5 km a garden may lie [deg]: places are asked on two decimals."""

_STATES = {
    "temperature": "temperature_c",
    "dewpoint": "dew_point_c",
    "relativeHumidity": "relative_humidity_percent",
    "windSpeed": "wind_m_s",
    "skyCover": "cloud_percent",
    "probabilityOfPrecipitation": "rain_chance_percent",
}
_AMOUNTS = {"quantitativePrecipitation": "rain_mm", "snowfallAmount": "snow_cm"}
_DURATION = re.compile(
    r"P(?:(\d{1,3})D)?(?:T(?:(\d{1,4})H)?(?:(\d{1,5})M)?(?:(\d{1,6})S)?)?", re.ASCII
)


class Nws(Asker):
    """The forecast source named "nws"."""

    name = SERVICE.name
    base_url = BASE_URL

    def covers(self, place: Place) -> bool:
        """Return whether a place may be in the United States or a territory of theirs."""
        return any(
            south <= place.latitude <= north and west <= place.longitude <= east
            for south, north, west, east in REGIONS
        )

    def fetch(self, place: Place, now: datetime) -> Forecast:
        """Return the forecast of a place; see `strawbell.app.ports.ForecastSource`."""
        until = self._http.until()
        grid = self._http.ask(self._lookup(place), now, _read_grid, until=until)
        try:
            return self._ask_grid(grid, place, now, until)
        except Refused as refused:
            if refused.status not in MOVED:
                raise
            moved = self._http.ask(self._lookup(place), now, _read_grid, until=until, anew=True)
            if moved == grid:
                raise
            return self._ask_grid(moved, place, now, until)

    def last_good(self, place: Place) -> Forecast | None:
        """Return the last good forecast of a place, however old."""
        grid = self._http.last(self._lookup(place).url, _read_grid)
        if grid is None:
            return None
        return self._http.last(self._base + grid, lambda body, at: parse(body, place, at))

    def _lookup(self, place: Place) -> Question:
        where = f"{checks.coordinate(place.latitude)},{checks.coordinate(place.longitude)}"
        url = f"{self._base}/points/{where}"
        return Question(SERVICE.spoken, url, LOOKUP_INTERVAL, ACCEPT, wants_contact=True)

    def _ask_grid(self, grid: str, place: Place, now: datetime, until: float) -> Forecast:
        question = Question(
            SERVICE.spoken,
            self._base + grid,
            GRID_INTERVAL,
            ACCEPT,
            follow_redirects=False,
            wants_contact=True,
        )
        return self._http.ask(question, now, lambda body, at: parse(body, place, at), until=until)


def parse(body: bytes, place: Place, fetched_at: datetime) -> Forecast:
    """Return the forecast in a grid body; `OperationalError` where there is none for this place.

    A state holds for every hour of its interval, a chance too; an amount is that of the whole
    interval and is spread evenly over it. Layers end at different times: beyond its end a layer
    is unknown. A layer whose unit is not known stays unknown.
    """
    answer = checks.mapping(checks.read_json(SERVICE.spoken, body))
    properties = checks.mapping(answer.get("properties"))
    if not properties:
        raise SERVICE.unusable("unusable.no-forecast")
    _check_cell(place, answer.get("geometry"))
    issued_at = checks.moment(properties.get("updateTime"))
    if issued_at is None:
        raise SERVICE.unusable("unusable.no-date")
    checks.check_issue(SERVICE, issued_at, fetched_at)
    intervals = Intervals()
    valid = intervals[str(properties.get("validTimes"))]
    if valid is not None and valid[1] < fetched_at + AHEAD_LEAST:
        raise SERVICE.unusable("unusable.nearly-over")
    # Hours that an interval covers only in part stay unknown rather than half true.
    midnight = issued_at.replace(hour=0, minute=0, second=0, microsecond=0)
    grid = checks.grid_around(
        fetched_at, (midnight - checks.BEFORE_MOST, midnight + checks.AFTER_MOST)
    )
    whole: dict[tuple[datetime, datetime], range] = {}
    for layer, field in (_STATES | _AMOUNTS).items():
        places: list[int] = []
        values: list[float] = []
        for start, end, value in _entries(properties.get(layer), field, intervals):
            hours = whole.get((start, end))
            if hours is None:
                hours = whole[start, end] = grid.within(start, end)
            places += hours
            even = value / ((end - start) / checks.HOUR) if layer in _AMOUNTS else value
            values += [even] * len(hours)
        grid.put(field, places, column(values, field, checks.identity))
    found = checks.forecast_of(SERVICE, grid, issued_at, fetched_at)
    return checks.at_height(found, place, checks.mapping(properties.get("elevation")).get("value"))


class Intervals(dict[str, tuple[datetime, datetime] | None]):
    """Intervals as they were read, None for what is none; most layers have the same ones."""

    def __missing__(self, text: str) -> tuple[datetime, datetime] | None:
        """Return beginning and end of "2022-02-04T06:00:00+00:00/P1DT6H"."""
        beginning, _, duration = text.partition("/")
        start, length = checks.moment(beginning), _length(duration)
        self[text] = None if start is None or not length else (start, start + length)
        return self[text]


@lru_cache(maxsize=256)
def _length(duration: str) -> timedelta:
    """Return the length of an ISO 8601 duration, nothing for what is none."""
    found = _DURATION.fullmatch(duration)
    days, hours, minutes, seconds = map(int, found.groups("0")) if found else (0, 0, 0, 0)
    return timedelta(days=days, hours=hours, minutes=minutes, seconds=seconds)


def _entries(
    layer: object, field: str, intervals: Intervals
) -> Iterator[tuple[datetime, datetime, float]]:
    """Yield the intervals of a layer in order with the values in our unit, overlaps left out."""
    unit = checks.mapping(layer).get("uom")
    change = checks.change_of(field, unit.rpartition(":")[2]) if isinstance(unit, str) else None
    if change is None:
        return
    found: list[tuple[datetime, datetime, float]] = []
    for entry in checks.sequence(checks.mapping(layer).get("values")):
        fields = checks.mapping(entry)
        value, text = checks.number(fields.get("value")), fields.get("validTime")
        when = intervals[text] if isinstance(text, str) else None
        if value is not None and when is not None:
            found.append((*when, change(value)))
    # Sorting is stable: of two with one beginning the first given stays first.
    found.sort(key=lambda entry: entry[0])
    total = sum((end - start for start, end, _ in found), timedelta())
    if total > LAYER_MOST:
        return
    claimed: datetime | None = None
    for start, end, value in found:
        if claimed is None or start >= claimed:
            claimed = end
            yield start, end, value


def _check_cell(place: Place, geometry: object) -> None:
    """Refuse a cell of the grid that the garden does not lie in: the numbers of cells may move."""
    rings = checks.sequence(checks.mapping(geometry).get("coordinates"))
    corners = [
        (checks.number(corner[0]), checks.number(corner[1]))
        for corner in (checks.sequence(one) for one in checks.sequence(rings[0] if rings else None))
        if len(corner) > 1
    ]
    known = [(east, north) for east, north in corners if east is not None and north is not None]
    if not known or len(known) != len(corners):
        checks.check_place(SERVICE, place, None, None)
    # Seen from the garden, so that the date line parts nothing.
    easts = [(east - place.longitude + 180.0) % 360.0 - 180.0 for east, _ in known]
    norths = [north - place.latitude for _, north in known]
    if any(min(side) > BESIDE_DEG or max(side) < -BESIDE_DEG for side in (easts, norths)):
        north = (min(norths) + max(norths)) / 2 + place.latitude
        east = (min(easts) + max(easts)) / 2 + place.longitude
        raise checks.elsewhere(SERVICE, place, north, east)


def _read_grid(body: bytes, fetched_at: datetime) -> str:  # noqa: ARG001 - one signature for all
    """Return the path of the grid cell in a look-up.

    It is built from office and numbers; the address in the answer is not followed blindly.
    """
    properties: Mapping[str, Any] = checks.mapping(
        checks.mapping(checks.read_json(SERVICE.spoken, body)).get("properties")
    )
    office = properties.get("gridId")
    column, row = _whole(properties.get("gridX")), _whole(properties.get("gridY"))
    if not isinstance(office, str) or not re.fullmatch(r"[A-Z]{3}", office, re.ASCII):
        raise SERVICE.unusable("unusable.no-office")
    if column is None or row is None:
        raise SERVICE.unusable("unusable.no-cell")
    return f"/gridpoints/{office}/{column},{row}"


def _whole(value: object) -> int | None:
    """Return a grid number; some answers give it as text."""
    text = str(value) if isinstance(value, str | int) and not isinstance(value, bool) else ""
    return int(text) if re.fullmatch(r"\d{1,4}", text, re.ASCII) else None
