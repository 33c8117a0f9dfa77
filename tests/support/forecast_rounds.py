"""Reads a week's answer so many times: run as `python FILE parse|loads ROUNDS`."""

from __future__ import annotations

import json
import random
import sys
from datetime import UTC, datetime, timedelta

from strawbell.edges.forecasts.open_meteo import parse
from strawbell.model.garden import Place

FETCHED = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
PLACE = Place(47.05, 8.31, "Europe/Zurich")
UNITS = {
    "temperature_2m": "°C",
    "relative_humidity_2m": "%",
    "dew_point_2m": "°C",
    "wind_speed_10m": "m/s",
    "cloud_cover": "%",
    "precipitation": "mm",
    "precipitation_probability": "%",
    "snowfall": "cm",
    "shortwave_radiation": "W/m²",
}
HOURS = 9 * 24
"""Yesterday and eight days, as the default service is asked."""


def answer() -> bytes:
    """Return an answer as the default service words it, with whole numbers where it has them."""
    rng = random.Random(1)
    begins = datetime(2027, 4, 8)
    hourly: dict[str, list[object]] = {
        name: [
            rng.randrange(101) if unit == "%" else round(rng.uniform(0.0, 20.0), 1)
            for _ in range(HOURS)
        ]
        for name, unit in UNITS.items()
    }
    hourly["time"] = [
        (begins + timedelta(hours=number)).strftime("%Y-%m-%dT%H:%M") for number in range(HOURS)
    ]
    whole = {
        "latitude": PLACE.latitude,
        "longitude": PLACE.longitude,
        "utc_offset_seconds": 0,
        "hourly_units": {"time": "iso8601", **UNITS},
        "hourly": hourly,
    }
    return json.dumps(whole, ensure_ascii=False, separators=(",", ":")).encode()


def main(work: str, rounds: int) -> None:
    """Do one of the two so often."""
    body = answer()
    for _ in range(rounds):
        if work == "parse":
            parse(body, PLACE, FETCHED)
        else:
            json.loads(body)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
