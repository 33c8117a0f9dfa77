"""A loopback forecast service with the documented shapes of the three real ones.

In a test::

    with FakeOpenMeteo(calm, now=DAWN) as service:        # weather: a function of the UTC hour
        source = OpenMeteo(http, service.base_url)
        service.set_weather(from_hours(DAWN_HOUR, [{"temperature_c": -3.0}, ...]))
        service.fail(503)                                  # until service.mend()

`FakeNws` and `FakeMetNorway` are the same for the other two; each answers all three services'
addresses, so one server can stand for a whole chain. The weather is given as a mapping with the
names of `strawbell.model.forecast.Hour` (without starts_at); what is absent is null or absent in
the answer. Amounts are those of the hour that *begins*: the server translates into each
service's own stamping.

By hand: ``python tests/support/forecast_server.py --port 8099 --weather freeze``
(calm, freeze, rain, heat), then base_urls.open-meteo = "http://127.0.0.1:8099".
"""

from __future__ import annotations

import argparse
import json
import re
import socket
import socketserver
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Self
from urllib.parse import parse_qs, urlsplit

HOUR = timedelta(hours=1)
Weather = Callable[[datetime], Mapping[str, float | None]]
"""The weather of the hour that begins at a UTC datetime; an empty mapping is unknown."""

OPEN_METEO = {  # variable: (field, unit, stamped at the end of the hour)
    "temperature_2m": ("temperature_c", "°C", False),
    "relative_humidity_2m": ("relative_humidity_percent", "%", False),
    "dew_point_2m": ("dew_point_c", "°C", False),
    "wind_speed_10m": ("wind_m_s", "m/s", False),
    "cloud_cover": ("cloud_percent", "%", False),
    "precipitation": ("rain_mm", "mm", True),
    "precipitation_probability": ("rain_chance_percent", "%", True),
    "snowfall": ("snow_cm", "cm", True),
    "shortwave_radiation": ("radiation_w_m2", "W/m²", True),
}
NWS = {  # layer: (field, unit, factor from our unit)
    "temperature": ("temperature_c", "wmoUnit:degC", 1.0),
    "dewpoint": ("dew_point_c", "wmoUnit:degC", 1.0),
    "relativeHumidity": ("relative_humidity_percent", "wmoUnit:percent", 1.0),
    "windSpeed": ("wind_m_s", "wmoUnit:km_h-1", 3.6),
    "skyCover": ("cloud_percent", "wmoUnit:percent", 1.0),
    "probabilityOfPrecipitation": ("rain_chance_percent", "wmoUnit:percent", 1.0),
    "quantitativePrecipitation": ("rain_mm", "wmoUnit:mm", 1.0),
    "snowfallAmount": ("snow_cm", "wmoUnit:mm", 10.0),
}
MET_INSTANT = {  # name: (field, unit)
    "air_temperature": ("temperature_c", "celsius"),
    "relative_humidity": ("relative_humidity_percent", "%"),
    "dew_point_temperature": ("dew_point_c", "celsius"),
    "wind_speed": ("wind_m_s", "m/s"),
    "cloud_area_fraction": ("cloud_percent", "%"),
}
MET_HOURLY_STEPS = 54


def calm(hour: datetime) -> Mapping[str, float | None]:
    """A mild dry day: 8 to 18 degC."""
    noon = 1.0 - abs(hour.hour - 14) / 14.0
    return {
        "temperature_c": round(8.0 + 10.0 * noon, 1),
        "rain_mm": 0.0,
        "rain_chance_percent": 5.0,
        "relative_humidity_percent": 60.0,
        "dew_point_c": 4.0,
        "wind_m_s": 2.0,
        "radiation_w_m2": round(600.0 * max(0.0, noon - 0.3), 1),
        "cloud_percent": 20.0,
        "snow_cm": 0.0,
    }


def freeze(hour: datetime) -> Mapping[str, float | None]:
    """Calm, but -3 degC from 02 to 05 UTC."""
    return {**calm(hour), **({"temperature_c": -3.0} if 2 <= hour.hour < 6 else {})}


def rain(hour: datetime) -> Mapping[str, float | None]:
    """Calm, but 3 mm an hour at 90 % from 10 to 15 UTC."""
    wet = {"rain_mm": 3.0, "rain_chance_percent": 90.0} if 10 <= hour.hour < 16 else {}
    return {**calm(hour), **wet}


def heat(hour: datetime) -> Mapping[str, float | None]:
    """Calm, but 16 degC warmer and dry."""
    mild = calm(hour)
    return {**mild, "temperature_c": (mild["temperature_c"] or 0.0) + 16.0}


WEATHERS: Mapping[str, Weather] = {"calm": calm, "freeze": freeze, "rain": rain, "heat": heat}


def from_hours(start: datetime, hours: Sequence[Mapping[str, float | None]]) -> Weather:
    """Return the weather that begins at a UTC hour with the first of a list; unknown outside."""
    listed = {start + number * HOUR: hour for number, hour in enumerate(hours)}
    return lambda hour: listed.get(hour, {})


# The answers, as bytes -------------------------------------------------------------------


def open_meteo_body(
    weather: Weather,
    now: datetime,
    latitude: float,
    longitude: float,
    *,
    days: int = 8,
    variables: Sequence[str] = tuple(OPEN_METEO),
    offset_s: int = 0,
    elevation_m: float | None = 430.0,
) -> bytes:
    """Return an Open-Meteo answer from yesterday 00:00 on, stamped at a fixed offset."""
    offset = timedelta(seconds=offset_s)
    start = _day(now + offset) - offset - timedelta(days=1)
    times = [start + number * HOUR for number in range((days + 1) * 24)]
    hourly: dict[str, Any] = {"time": [f"{at + offset:%Y-%m-%dT%H:%M}" for at in times]}
    for variable in variables:
        name, _, at_the_end = OPEN_METEO[variable]
        shift = HOUR if at_the_end else timedelta()
        hourly[variable] = [weather(at - shift).get(name) for at in times]
    units = {variable: OPEN_METEO[variable][1] for variable in variables}
    return _json(
        {
            "latitude": latitude + 0.01,
            "longitude": longitude - 0.01,
            "generationtime_ms": 0.31,
            "utc_offset_seconds": offset_s,
            "timezone": "GMT",
            "timezone_abbreviation": "GMT",
            **({} if elevation_m is None else {"elevation": elevation_m}),
            "hourly_units": {"time": "iso8601", **units},
            "hourly": hourly,
        }
    )


def nws_points_body(base_url: str, latitude: float, longitude: float, cell: str) -> bytes:
    """Return the look-up answer of a point; `cell` is "OKX/33,35"."""
    office, _, numbers = cell.partition("/")
    column, _, row = numbers.partition(",")
    grid = f"{base_url}/gridpoints/{cell}"
    return _json(
        {
            "id": f"{base_url}/points/{latitude},{longitude}",
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [longitude, latitude]},
            "properties": {
                "@type": "wx:Point",
                "cwa": office,
                "type": "land",
                "gridId": office,
                "gridX": int(column),
                "gridY": int(row),
                "forecastGridData": grid,
                "forecastHourly": f"{grid}/forecast/hourly",
                "timeZone": "America/New_York",
            },
        }
    )


def nws_grid_body(
    weather: Weather,
    now: datetime,
    latitude: float,
    longitude: float,
    *,
    updated_at: datetime | None = None,
    hours: int = 168,
) -> bytes:
    """Return raw grid data from three hours ago on; rain and snow as six-hour amounts."""
    start = _hour(now) - 3 * HOUR
    properties: dict[str, Any] = {
        "@type": "wx:Gridpoint",
        "updateTime": (updated_at or now - HOUR).isoformat(timespec="seconds"),
        "validTimes": f"{start.isoformat()}/P{hours // 24}DT{hours % 24}H",
        "elevation": {"unitCode": "wmoUnit:m", "value": 12.0},
        "gridX": "33",
        "gridY": 35,
        "heatIndex": {"values": []},
    }
    for layer, (name, unit, factor) in NWS.items():
        step = 6 if layer in ("quantitativePrecipitation", "snowfallAmount") else 1
        values = []
        for number in range(0, hours, step):
            at = start + number * HOUR
            known = [weather(at + inner * HOUR).get(name) for inner in range(step)]
            whole = None if None in known else sum(one or 0.0 for one in known) * factor
            values.append({"validTime": f"{at.isoformat()}/PT{step}H", "value": whole})
        properties[layer] = {"uom": unit, "values": values}
    west, east, south, north = (
        longitude - 0.013,
        longitude + 0.013,
        latitude - 0.011,
        latitude + 0.011,
    )
    ring = [[west, north], [west, south], [east, south], [east, north], [west, north]]
    return _json(
        {
            "id": "https://api.weather.gov/gridpoints/OKX/33,35",
            "type": "Feature",
            "geometry": {"type": "Polygon", "coordinates": [ring]},
            "properties": properties,
        }
    )


def met_norway_body(
    weather: Weather,
    now: datetime,
    latitude: float,
    longitude: float,
    *,
    updated_at: datetime | None = None,
    days: int = 9,
) -> bytes:
    """Return a complete Locationforecast: hourly for two days, then six-hourly, last one bare."""
    times = [_hour(now) + number * HOUR for number in range(MET_HOURLY_STEPS)]
    while times[-1].hour % 6 != 5:
        times.append(times[-1] + HOUR)
    hourly_until = times[-1]
    while times[-1] < now + timedelta(days=days):
        times.append(times[-1] + (HOUR if times[-1] == hourly_until else 6 * HOUR))
    series = [
        {"time": f"{at:%Y-%m-%dT%H:%M:%SZ}", "data": _met_step(weather, at, at <= hourly_until)}
        for at in times
    ]
    last = series[-1]["data"]
    for period in ("next_1_hours", "next_6_hours", "next_12_hours"):
        if isinstance(last, dict):
            last.pop(period, None)
    units = {name: unit for name, (_, unit) in MET_INSTANT.items()}
    units |= {"precipitation_amount": "mm", "probability_of_precipitation": "%"}
    units |= {"air_temperature_min": "celsius", "air_temperature_max": "celsius"}
    return _json(
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [longitude, latitude, 430]},
            "properties": {
                "meta": {
                    "updated_at": f"{updated_at or now - HOUR:%Y-%m-%dT%H:%M:%SZ}",
                    "units": units,
                },
                "timeseries": series,
            },
        }
    )


def _met_step(weather: Weather, at: datetime, hourly: bool) -> dict[str, Any]:
    here = weather(at)
    instant = {
        name: here[key] for name, (key, _) in MET_INSTANT.items() if here.get(key) is not None
    }
    data: dict[str, Any] = {
        "instant": {"details": instant},
        "next_12_hours": {"summary": {"symbol_code": "cloudy"}, "details": {}},
        "next_6_hours": _met_period(weather, at, 6),
    }
    if hourly:
        data["next_1_hours"] = _met_period(weather, at, 1)
    return data


def _met_period(weather: Weather, at: datetime, hours: int) -> dict[str, Any]:
    inside = [weather(at + number * HOUR) for number in range(hours)]
    details: dict[str, Any] = {}
    amounts = [one.get("rain_mm") for one in inside]
    if None not in amounts:
        details["precipitation_amount"] = sum(one or 0.0 for one in amounts)
    chances = [one["rain_chance_percent"] or 0.0 for one in inside if "rain_chance_percent" in one]
    if chances:
        details["probability_of_precipitation"] = max(chances)
    warmth = [one.get("temperature_c") for one in inside]
    if hours > 1 and None not in warmth:
        details["air_temperature_min"] = min(one for one in warmth if one is not None)
        details["air_temperature_max"] = max(one for one in warmth if one is not None)
    return {"summary": {"symbol_code": "cloudy"}, "details": details}


# The servers -----------------------------------------------------------------------------


@dataclass(slots=True)
class Hit:
    """One request that came in."""

    path: str
    headers: dict[str, str]


@dataclass(slots=True)
class Answer:
    """What is answered instead of the weather."""

    status: int = 200
    body: bytes = b""
    headers: dict[str, str] = field(default_factory=dict)


class FakeService:
    """A loopback server for all three services; `base_url` is what an adapter is given.

    `hits` lists the requests; `headers` are added to every good answer (Expires, ETag ...);
    with `validator` set, a request that brings the same value back gets 304.
    """

    name = ""

    def __init__(
        self, weather: Weather = calm, *, now: datetime | None = None, port: int = 0
    ) -> None:
        self.weather = weather
        self.now = now
        self.updated_at: datetime | None = None
        self.cell = "OKX/33,35"
        self.headers: dict[str, str] = {}
        self.validator: dict[str, str] = {}
        self.hits: list[Hit] = []
        self._instead: list[Answer] = []
        self._for_ever: Answer | None = None
        self._by_path: dict[str, Answer] = {}
        self._server = ThreadingHTTPServer(("127.0.0.1", port), _handler(self))
        self._server.daemon_threads = True
        self.base_url = f"http://127.0.0.1:{self._server.server_address[1]}"
        self._thread = threading.Thread(
            target=self._server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True
        )
        self._thread.start()

    def set_weather(self, weather: Weather) -> None:
        """Answer with other weather from now on."""
        self.weather = weather

    def set_hours(self, start: datetime, hours: Sequence[Mapping[str, float | None]]) -> None:
        """Answer with listed hours from a UTC hour on; outside them nothing is known."""
        self.weather = from_hours(start, hours)

    def set_now(self, now: datetime | None) -> None:
        """Move the service's idea of now; None is the machine's clock."""
        self.now = now

    def fail(
        self, status: int, body: bytes = b"", headers: Mapping[str, str] | None = None
    ) -> None:
        """Answer every request so, until `mend`."""
        self._for_ever = Answer(status, body, dict(headers or {}))

    def fail_at(self, path: str, answer: Answer) -> None:
        """Answer so where the path begins with `path`, until `mend`."""
        self._by_path[path] = answer

    def mend(self) -> None:
        """Answer with the weather again."""
        self._for_ever = None
        self._by_path.clear()
        self._instead.clear()

    def answer_next(self, *answers: Answer) -> None:
        """Answer the next requests so, one each, then as before."""
        self._instead.extend(answers)

    def close(self) -> None:
        """Stop listening."""
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(5)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def answer(self, path: str, headers: Mapping[str, str]) -> Answer:
        """Return the answer to a request."""
        self.hits.append(Hit(path, dict(headers)))
        if self._instead:
            return self._instead.pop(0)
        for beginning, scripted in self._by_path.items():
            if path.startswith(beginning):
                return scripted
        if self._for_ever is not None:
            return self._for_ever
        if self.validator and any(headers.get(k) == v for k, v in self.validator.items()):
            return Answer(304, b"", dict(self.headers))
        body = self._body(path)
        if body is None:
            return Answer(404, b'{"title": "Not Found", "status": 404}')
        return Answer(200, body, {"Content-Type": "application/json", **self.headers})

    def _body(self, path: str) -> bytes | None:
        parts = urlsplit(path)
        asked = {key: values[0] for key, values in parse_qs(parts.query).items()}
        now = self.now or datetime.now(UTC)
        if parts.path == "/v1/forecast":
            return open_meteo_body(
                self.weather,
                now,
                float(asked["latitude"]),
                float(asked["longitude"]),
                days=int(asked.get("forecast_days", "7")),
                variables=asked["hourly"].split(","),
                elevation_m=float(asked.get("elevation", "430")),
            )
        if point := re.fullmatch(r"/points/(-?[\d.]+),(-?[\d.]+)", parts.path):
            self._point = (float(point[1]), float(point[2]))
            return nws_points_body(self.base_url, *self._point, self.cell)
        if parts.path == f"/gridpoints/{self.cell}":
            return nws_grid_body(self.weather, now, *self._point, updated_at=self.updated_at)
        if re.fullmatch(r"/weatherapi/locationforecast/2\.0/(compact|complete)", parts.path):
            return met_norway_body(
                self.weather,
                now,
                float(asked["lat"]),
                float(asked["lon"]),
                updated_at=self.updated_at,
            )
        return None

    _point = (40.7, -74.0)


class FakeOpenMeteo(FakeService):
    """A fake of Open-Meteo."""

    name = "open-meteo"


class FakeNws(FakeService):
    """A fake of the US National Weather Service."""

    name = "nws"


class FakeMetNorway(FakeService):
    """A fake of MET Norway."""

    name = "met-norway"


def _handler(service: FakeService) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            answer = service.answer(self.path, dict(self.headers))
            self.send_response(answer.status)
            for name, value in answer.headers.items():
                self.send_header(name, value)
            if "Content-Length" not in answer.headers:
                self.send_header("Content-Length", str(len(answer.body)))
            self.end_headers()
            try:
                self.wfile.write(answer.body)
            except OSError:
                return

        def log_message(self, format: str, *args: Any) -> None:
            return

    return Handler


class RawServer:
    """A loopback server that hands each connection to a function: for what HTTP forbids.

    The function gets the socket after the request head has been read, and a `gone` event that
    is set when the test is over, to wait on instead of sleeping.
    """

    def __init__(
        self,
        behave: Callable[[socket.socket, threading.Event], None],
        *,
        wrap: Callable[[socket.socket], socket.socket] | None = None,
        read_request: bool = True,
    ) -> None:
        self.gone = threading.Event()
        self.connections = 0
        outer = self

        class Handler(socketserver.BaseRequestHandler):
            def handle(self) -> None:
                outer.connections += 1
                try:
                    connection = wrap(self.request) if wrap else self.request
                    with connection:
                        if read_request:
                            connection.recv(65536)
                        behave(connection, outer.gone)
                except OSError:
                    return

        class Server(socketserver.ThreadingTCPServer):
            allow_reuse_address = True
            daemon_threads = True

        self._server = Server(("127.0.0.1", 0), Handler)
        self.port = self._server.server_address[1]
        self._thread = threading.Thread(
            target=self._server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True
        )
        self._thread.start()

    @property
    def base_url(self) -> str:
        """Where it listens."""
        return f"http://127.0.0.1:{self.port}"

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.gone.set()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(5)


def _hour(moment: datetime) -> datetime:
    return moment.replace(minute=0, second=0, microsecond=0)


def _day(moment: datetime) -> datetime:
    return _hour(moment).replace(hour=0)


def _json(value: object) -> bytes:
    return json.dumps(value, ensure_ascii=False).encode()


def main() -> None:
    """Serve until interrupted."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--port", type=int, default=8099)
    parser.add_argument("--weather", choices=sorted(WEATHERS), default="calm")
    parser.add_argument("--now", type=datetime.fromisoformat, help="ISO 8601 with offset")
    chosen = parser.parse_args()
    with FakeService(WEATHERS[chosen.weather], now=chosen.now, port=chosen.port) as service:
        print(f"Forecasts of {chosen.weather} weather at {service.base_url}", flush=True)
        try:
            threading.Event().wait()
        except KeyboardInterrupt:
            return


if __name__ == "__main__":
    main()
