"""Reads a forecast so many times: run as `python FILE SERVICE parse|loads ROUNDS`."""

from __future__ import annotations

import json
import random
import sys
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from strawbell.edges.forecasts import met_norway, nws, open_meteo
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Place
from support.forecast_server import met_norway_body, nws_grid_body, open_meteo_body

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
PLACE = Place(47.05, 8.31, "Europe/Zurich")
AMERICAN = Place(40.71, -74.0, "America/New_York")

SERVICES: Mapping[str, tuple[Callable[..., bytes], Callable[..., Forecast], Place]] = {
    "open-meteo": (open_meteo_body, open_meteo.parse, PLACE),
    "nws": (nws_grid_body, nws.parse, AMERICAN),
    "met-norway": (met_norway_body, met_norway.parse, PLACE),
}


def weather(rng: random.Random, hour: datetime) -> Mapping[str, float | None]:
    """Return an hour with whole numbers where a service has them."""
    whole = ("rain_chance_percent", "relative_humidity_percent", "cloud_percent")
    other = (
        *("temperature_c", "rain_mm", "dew_point_c", "wind_m_s"), *("radiation_w_m2", "snow_cm"),
    )  # fmt: skip
    del hour
    return {
        **{name: float(rng.randrange(101)) for name in whole},
        **{name: round(rng.uniform(0.0, 12.0), 1) for name in other},
        "dew_point_c": 0.5,
    }


def main(service: str, work: str, rounds: int) -> None:
    """Do one of the two so often."""
    body_of, parse, place = SERVICES[service]
    body = body_of(partial(weather, random.Random(1)), NOW, place.latitude, place.longitude)
    for _ in range(rounds):
        if work == "parse":
            parse(body, place, NOW)
        else:
            json.loads(body)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
