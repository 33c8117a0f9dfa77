"""The springs that policies are judged on: a place, a plan, the weather that came and was foretold.

Development data: Seattle 2012 to 2015 by the day, and the three airports of New York 2013 by the
hour. Other places are judged from CSV files as `strawbell rehearse` reads them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

from msgspec.structs import replace

from strawbell.agronomy.bales import BALES
from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.doses import dosed
from strawbell.agronomy.evaporation import daily_extraterrestrial, hargreaves_et
from strawbell.agronomy.feeds import FEEDS
from strawbell.agronomy.schedules import SCHEDULES
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Batch, Garden, Method, Place, Planting, Times
from strawbell.rehearsal.course import Truth
from strawbell.rehearsal.recorded import Weather as Record
from strawbell.rehearsal.recorded import read_weather
from strawbell.rehearsal.skill import forecast_at
from strawbell.season.local_time import DAY, moment_of
from strawbell.weather.thresholds import DEFAULT_RULES
from strawbell.weather.windows import hours_between, lowest_temperature, rain_total
from tests.support.station_records import PLACES, station_csv

SKILL = "usual"
STARTS = ((3, 1), (3, 20), (4, 10), (5, 1))
"""Month and day of the first soaking (design choice: from too early to late)."""
DAYS = 42
"""How long a season is followed: a bale that is not ready by then counts with all of it [days]."""
GRAMS_DAYS = 28
"""How long what leaves a bale is counted, whatever the policy did with the days [days]."""
WATCH_MIN = 360
"""Two issues of forecasts a day: looking more often finds nothing new."""
TOMATO = Planting(CROPS["tomato"], 12, Method.TRANSPLANT)
RADISH = Planting(CROPS["radish"], 60, Method.SEED)
MEAN_LAST_FROST: Mapping[str, tuple[int, int]] = {
    "Seattle": (3, 22), "EWR": (4, 3), "JFK": (4, 1), "LGA": (3, 29),
}  # fmt: skip
"""Month and day of the last 0 degC, as climate normals print it (from memory)."""
REGION = {"EWR": "New York", "JFK": "New York", "LGA": "New York"}
"""Stations with one weather: drawn together in a bootstrap."""


class Sky(NamedTuple):
    """A day as it came, and what was said of it."""

    on: date
    low_c: float
    high_c: float
    rain_mm: float
    et0_mm: float
    rain_said_mm: float
    """Rain of the 24 h from the morning on, said the evening before."""
    low_said_c: float
    """Low of the night that begins on this date, said at dusk."""
    high_said_c: float
    """High of the day, said in its morning."""
    leaf_c: float
    """Lowest that leaves really cooled to in the night after it."""


@dataclass(frozen=True)
class Spring:
    """One start at one place, with the seed of its forecast errors."""

    place: str
    garden: Garden
    weather: Record
    start: date
    seed: int

    @property
    def cluster(self) -> str:
        """Return what it shares its weather with."""
        return f"{REGION.get(self.place, self.place)} {self.start}"

    @property
    def frost_free(self) -> date:
        """Return the date of the mean last frost in the year of the start."""
        return frost_free(self.garden, self.place, self.start.year)

    @cached_property
    def truth(self) -> Truth:
        """Return the weather that came."""
        return Truth(self.garden, self.weather)

    @cached_property
    def skies(self) -> tuple[Sky, ...]:
        """Return the days of the season."""
        return tuple(self._sky(self.start + DAY * day) for day in range(DAYS))

    def said(self, on: date, at: time) -> Forecast:
        """Return the forecast as it looked on a date."""
        moment = moment_of(on, at, self.weather.zone)
        forecast = forecast_at(self.weather, SKILL, moment, self.seed)
        assert forecast is not None
        return forecast

    def _sky(self, on: date) -> Sky:
        came, zone, times = self.truth.day(on), self.weather.zone, self.garden.times
        low_c, high_c, rain_mm = came.low_c, came.high_c, came.rain_mm or 0.0
        assert low_c is not None, f"the record has no low on {on}"
        assert high_c is not None, f"the record has no high on {on}"
        above = daily_extraterrestrial(self.garden.place.latitude, on.timetuple().tm_yday)
        et0_mm = hargreaves_et(low_c, max(low_c, high_c), above)
        morning = moment_of(on, times.morning, zone)
        dusk, dawn = moment_of(on, times.evening, zone), moment_of(on + DAY, time(8), zone)
        before, after = self.said(on - DAY, times.evening), self.said(on, times.evening)
        early = self.said(on, times.morning)
        day = hours_between(early.hours, morning, dusk)
        band = self.truth.conditions(on).night(on).leaf_band()
        low_said = lowest_temperature(after.hours, dusk, dawn).value
        return Sky(
            on,
            low_c,
            high_c,
            rain_mm,
            et0_mm,
            rain_total(before.hours, morning, morning + DAY).value or 0.0,
            99.0 if low_said is None else low_said,
            max((hour.temperature_c for hour in day if hour.temperature_c is not None), default=0),
            99.0 if band is None else sum(band) / 2.0,
        )


def frost_free(garden: Garden, place: str, year: int) -> date:
    """Return the date of the mean last frost; where nobody printed one, the middle of May."""
    del garden
    month, day = MEAN_LAST_FROST.get(place, (5, 15))
    return date(year, month, day)


def batch_on(feed: str, *plantings: Planting) -> Batch:
    """Return six two-string bales on the alternate-days schedule, called by their feed."""
    batch = Batch(
        name=feed,
        bales=6,
        bale=BALES["two-string"],
        start_on=date(2012, 4, 1),
        schedule=SCHEDULES["alternate-days"],
        feed=FEEDS[feed],
        finishing_feed=FEEDS["Balanced"],
        nitrogen_per_full_dose_g=1.0,
        plantings=plantings,
    )
    return dosed(batch)


def garden_with(place: Place, *batches: Batch) -> Garden:
    """Return a garden with the default times of the configuration."""
    clocks = time(6, 30), time(18, 30), WATCH_MIN, time(21, 30), time(6, 0), time(20, 0)
    times = Times(*clocks, weekly_routine=True)
    return Garden("Judged", place, batches, DEFAULT_RULES, times)


def starting(garden: Garden, start: date) -> Garden:
    """Return a garden whose batches start on a date."""
    return replace(
        garden, batches=tuple(replace(batch, start_on=start) for batch in garden.batches)
    )


def records(files: Sequence[Path], place: Place | None, folder: Path) -> dict[str, tuple]:
    """Return name, place and weather: of the files, or of the development data."""
    if files:
        assert place is not None
        zone = place.zone
        return {path.stem: (place, read_weather(path, zone)) for path in files}
    return {
        name: (there, read_weather(station_csv(folder, name), there.zone))
        for name, there in PLACES.items()
    }


def springs(known: Mapping[str, tuple], feed: str, every: int = 1) -> Iterator[Spring]:
    """Yield the springs of the records on a feed, or each so many-th of them."""
    number = 0
    for name, (place, weather) in known.items():
        garden = garden_with(place, batch_on(feed, TOMATO))
        south = timedelta(days=184 if place.latitude < 0 else 0)
        for year in range(weather.report.first.year, weather.report.last.year + 1):
            for month, day in STARTS:
                start = date(year, month, day) + south
                first, last = weather.report.first, weather.report.last
                if start - 3 * DAY < first or start + (DAYS + 12) * DAY > last:
                    continue
                number += 1
                if number % every == 0:
                    yield Spring(name, starting(garden, start), weather, start, number)
