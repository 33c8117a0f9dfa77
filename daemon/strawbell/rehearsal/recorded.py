"""Recorded weather out of a CSV file: by the day or by the hour, metric or US.

The first line names the columns; names that are not known are passed over.

Daily: `date` (YYYY-MM-DD, garden-local), `low_c` and `high_c` (or `low_f`, `high_f`), `rain_mm`
(or `rain_in`), and if there is one `wind_m_s` (or `wind_mph`). A day becomes hours by one sine
wave between its low (at 03:00) and its high (at 15:00), its rain spread evenly over the local
day; so a downpour is drawn out and no hour is as wet as it was.

Hourly: `time` (ISO, garden-local where it has no offset, taken to the nearest full hour),
`temperature_c` (or `_f`), `rain_mm` (or `rain_in`) of the hour that begins there, and if there
are any `humidity_percent`, `dew_point_c` (or `_f`), `wind_m_s` (or `wind_mph`), `cloud_percent`,
`radiation_w_m2`.

An empty field is unknown, "T" in a column of rain is a trace: none worth measuring. A figure that
no weather has is rejected, counted, and unknown too; so is the temperature of a single hour that
stands far off both its neighbours, as a slipped digit does.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from msgspec import Struct
from msgspec.structs import replace

from strawbell.errors import GrowerError, Problem
from strawbell.model.forecast import Hour
from strawbell.season.local_time import bounds_of
from strawbell.weather.windows import HOUR

COLDEST_AT_H, WARMEST_AT_H = 3, 15
"""Local hours of the low and the high of a day given as two figures (design choice: half a day
apart, so that one wave goes through both)."""
MOST_PROBLEMS = 20
"""Problems listed before reading stops: more of one file are mostly the same one."""
UNKNOWN_WORDS = frozenset({"", "na", "nan", "null", "none", "m", "-"})
"""What stations write where they have no figure (from memory)."""
TRACE_WORDS = frozenset({"t", "tr", "trace"})
"""What stations write of rain under their gauge's smallest step (from memory)."""
NEIGHBOURS = 2
RAIN_FIELDS = frozenset({"rain_mm", "day_rain_mm"})
SPIKE_C = 15.0
"""How far a single hour has to stand off both its neighbours, to the same side, to be rejected
[degC] (design choice: fronts bring as much within an hour, but not back again within the next)."""

_LIMITS: Mapping[str, tuple[float, float]] = {
    # World records are -89.2 and 56.7 degC, 1825 mm of rain a day and 305 mm an hour (WMO
    # Archive of Weather and Climate Extremes, from memory); the rest by definition or generous.
    "low": (-90.0, 60.0),
    "high": (-90.0, 60.0),
    "temperature_c": (-90.0, 60.0),
    "dew_point_c": (-90.0, 60.0),
    "day_rain_mm": (0.0, 1900.0),
    "rain_mm": (0.0, 310.0),
    "relative_humidity_percent": (0.0, 100.0),
    "cloud_percent": (0.0, 100.0),
    "wind_m_s": (0.0, 115.0),
    "radiation_w_m2": (0.0, 1500.0),
}


def _same(value: float) -> float:
    return value


def _from_f(value: float) -> float:
    return (value - 32.0) / 1.8


def _from_in(value: float) -> float:
    return value * 25.4


def _from_mph(value: float) -> float:
    return value * 0.44704


_Column = tuple[str, Callable[[float], float]]
_DAILY: Mapping[str, _Column] = {
    "low_c": ("low", _same),
    "low_f": ("low", _from_f),
    "high_c": ("high", _same),
    "high_f": ("high", _from_f),
    "rain_mm": ("day_rain_mm", _same),
    "rain_in": ("day_rain_mm", _from_in),
    "wind_m_s": ("wind_m_s", _same),
    "wind_mph": ("wind_m_s", _from_mph),
}
_HOURLY: Mapping[str, _Column] = {
    "temperature_c": ("temperature_c", _same),
    "temperature_f": ("temperature_c", _from_f),
    "rain_mm": ("rain_mm", _same),
    "rain_in": ("rain_mm", _from_in),
    "humidity_percent": ("relative_humidity_percent", _same),
    "dew_point_c": ("dew_point_c", _same),
    "dew_point_f": ("dew_point_c", _from_f),
    "wind_m_s": ("wind_m_s", _same),
    "wind_mph": ("wind_m_s", _from_mph),
    "cloud_percent": ("cloud_percent", _same),
    "radiation_w_m2": ("radiation_w_m2", _same),
}
_NEEDED = {
    "date": {
        "low": "low_c or low_f",
        "high": "high_c or high_f",
        "day_rain_mm": "rain_mm or rain_in",
    },
    "time": {"temperature_c": "temperature_c or temperature_f", "rain_mm": "rain_mm or rain_in"},
}


class Gap(Struct, frozen=True):
    """Hours in [start, end) (UTC) of which the temperature or the rain is unknown."""

    start: datetime
    end: datetime

    @property
    def hours(self) -> int:
        """Return how many hours it is long."""
        return (self.end - self.start) // HOUR


class Rejected(Struct, frozen=True):
    """A figure that no weather has, as it stood in the file."""

    line: int
    column: str
    text: str


class Report(Struct, frozen=True):
    """What a file held: its local dates, what it does not know, what was not believed.

    `doubles` are lines of a date or time that had been before; the first one counts.
    """

    first: date
    last: date
    daily: bool
    gaps: tuple[Gap, ...]
    rejected: tuple[Rejected, ...]
    doubles: int = 0

    @property
    def unknown_hours(self) -> int:
        """Return how many hours are not known whole."""
        return sum(gap.hours for gap in self.gaps)


class Weather(Struct, frozen=True, eq=False):
    """What really was, by the beginning of each hour (UTC); an absent hour is unknown."""

    hours: Mapping[datetime, Hour]
    report: Report
    zone: ZoneInfo
    issued: Mapping[int, Mapping[datetime, Hour]] = {}
    """Hours by how many days before they were really forecast, where that is known."""


_Line = tuple[int, Mapping[str, str | None]]


class _Reading:
    """One pass through a file: its columns, and every problem met on the way."""

    def __init__(self, path: Path, names: Mapping[str, str]) -> None:
        self.path = path
        self.names = names
        self.problems: list[Problem] = []
        self.rejected: list[Rejected] = []
        self.doubles = 0
        self.key = next((each for each in ("date", "time") if each in names), "")
        known = _DAILY if self.key == "date" else _HOURLY
        self.columns = {name: known[name] for name in names if name in known}
        self._check_heading()

    def _check_heading(self) -> None:
        found = ", ".join(self.names) or "no columns"
        where = f"{self.path.name}: line 1"
        if not self.key:
            raise GrowerError(
                Problem("no column says when it was", where, found, "date, or time for hours")
            )
        for field, allowed in _NEEDED[self.key].items():
            given = [name for name, (meant, _) in self.columns.items() if meant == field]
            if not given:
                self.problems.append(Problem("a column is missing", where, found, allowed))
        for field in {meant for meant, _ in self.columns.values()}:
            given = [name for name, (meant, _) in self.columns.items() if meant == field]
            if len(given) > 1:
                what = "two columns say the same"
                self.problems.append(Problem(what, where, " and ".join(given), "one of them"))
        self.stop_if(len(self.problems))

    def stop_if(self, count: int) -> None:
        """Raise what was found once it is that much."""
        if self.problems and len(self.problems) >= count:
            raise GrowerError(self.problems)

    def wrong(self, line: int, column: str, what: str, found: str, allowed: str) -> None:
        """Note what the grower has to mend."""
        where = f"{self.path.name}: line {line}, column {column}"
        self.problems.append(Problem(what, where, repr(found), allowed))
        self.stop_if(MOST_PROBLEMS)

    def figures(self, line: _Line) -> dict[str, float | None]:
        """Return the figures of a line by field, in metric units."""
        number, row = line
        return {
            field: self._figure(number, name, field, convert, row.get(self.names[name]))
            for name, (field, convert) in self.columns.items()
        }

    def _figure(
        self, line: int, name: str, field: str, convert: Callable[[float], float], text: str | None
    ) -> float | None:
        text = (text or "").strip()
        if text.lower() in UNKNOWN_WORDS:
            return None
        if field in RAIN_FIELDS and text.lower() in TRACE_WORDS:
            return 0.0
        try:
            value = convert(float(text))
        except ValueError:
            self.wrong(line, name, "not a number", text, "a number, or nothing where unknown")
            return None
        low, high = _LIMITS[field]
        if not (math.isfinite(value) and low <= value <= high):
            self.reject(line, name, text)
            return None
        return round(value, 4)

    def reject(self, line: int, name: str, text: str) -> None:
        """Count a figure that cannot be."""
        self.rejected.append(Rejected(line, name, text))


def read_weather(path: Path, zone: ZoneInfo) -> Weather:
    """Return the weather of a file for a garden in `zone`.

    Raises `GrowerError` with file, line and column of everything that is wrong.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        what = f"the file cannot be read ({error.strerror or error})"
        raise GrowerError(Problem(what, str(path))) from error
    except UnicodeDecodeError as error:
        raise GrowerError(
            Problem("the file is not text in UTF-8", str(path), remedy="Save it as UTF-8 CSV.")
        ) from error
    rows = csv.DictReader(text.splitlines())
    try:
        names = {name.strip().lower(): name for name in rows.fieldnames or () if name}
        reading = _Reading(path, names)
        lines: list[_Line] = [(rows.line_num, row) for row in rows]
    except csv.Error as error:
        where = f"{path.name}: line {rows.line_num}"
        raise GrowerError(Problem(f"not CSV ({error})", where)) from error
    daily = reading.key == "date"
    hours = _by_day(reading, lines, zone) if daily else _by_hour(reading, lines, zone)
    reading.stop_if(1)
    if not hours:
        raise GrowerError(Problem("the file holds no weather", path.name, "only a heading"))
    rejected, doubles = tuple(reading.rejected), reading.doubles
    report = _report(hours, zone, daily=daily, rejected=rejected, doubles=doubles)
    return Weather(hours, report, zone)


def _by_day(reading: _Reading, lines: list[_Line], zone: ZoneInfo) -> dict[datetime, Hour]:
    hours: dict[datetime, Hour] = {}
    seen: set[date] = set()
    for number, row in lines:
        text = (row.get(reading.names["date"]) or "").strip()
        try:
            on = date.fromisoformat(text)
        except ValueError:
            reading.wrong(number, "date", "not a date", text, "dates such as 2027-04-09")
            continue
        figures = reading.figures((number, row))
        if on in seen:
            reading.doubles += 1
            continue
        seen.add(on)
        low, high = figures["low"], figures["high"]
        if low is not None and high is not None and low > high:
            reading.reject(number, "low over high", f"{low:g} > {high:g}")
            figures |= {"low": None, "high": None}
        hours.update((hour.starts_at, hour) for hour in _hours_of_day(on, figures, zone))
    return dict(sorted(hours.items()))


def _hours_of_day(on: date, day: Mapping[str, float | None], zone: ZoneInfo) -> Iterator[Hour]:
    start, end = bounds_of(on, zone)
    low, high, rain = day["low"], day["high"], day["day_rain_mm"]
    count = (end - start) // HOUR
    for ahead in range(count):
        moment = start + HOUR * ahead
        temperature = None
        if low is not None and high is not None:
            turn = (moment.astimezone(zone).hour - WARMEST_AT_H) / (WARMEST_AT_H - COLDEST_AT_H)
            temperature = (high + low) / 2 + (high - low) / 2 * math.cos(turn * math.pi)
        yield Hour(
            starts_at=moment,
            temperature_c=None if temperature is None else round(temperature, 2),
            rain_mm=None if rain is None else rain / count,
            wind_m_s=day.get("wind_m_s"),
        )


def _by_hour(reading: _Reading, lines: list[_Line], zone: ZoneInfo) -> dict[datetime, Hour]:
    hours: dict[datetime, Hour] = {}
    lines_of: dict[datetime, int] = {}
    for number, row in lines:
        text = (row.get(reading.names["time"]) or "").strip()
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            reading.wrong(number, "time", "not a time", text, "times such as 2027-04-09T06:00")
            continue
        figures = reading.figures((number, row))
        at = _full_hour(moment, zone)
        if at in hours and moment.tzinfo is None:
            # In autumn a local hour comes twice; the second line of it is the second pass.
            at = _full_hour(moment.replace(fold=1), zone)
        if at in hours:
            reading.doubles += 1
            continue
        hours[at] = Hour(starts_at=at, **figures)
        lines_of[at] = number
    return _without_spikes(reading, dict(sorted(hours.items())), lines_of)


def _without_spikes(
    reading: _Reading, hours: dict[datetime, Hour], lines_of: Mapping[datetime, int]
) -> dict[datetime, Hour]:
    """Return the hours without temperatures that leap away and back within two hours."""
    column = next(name for name, (field, _) in reading.columns.items() if field == "temperature_c")
    found = dict(hours)
    for at, hour in hours.items():
        neighbours = [
            each.temperature_c
            for beside in (at - HOUR, at + HOUR)
            if (each := hours.get(beside)) is not None and each.temperature_c is not None
        ]
        if hour.temperature_c is None or len(neighbours) != NEIGHBOURS:
            continue
        under, over = min(neighbours) - hour.temperature_c, hour.temperature_c - max(neighbours)
        if under >= SPIKE_C or over >= SPIKE_C:
            text = f"{hour.temperature_c:.1f} C between {neighbours[0]:.1f} and {neighbours[1]:.1f}"
            reading.reject(lines_of[at], column, text)
            found[at] = replace(hour, temperature_c=None, dew_point_c=None)
    return found


def _full_hour(moment: datetime, zone: ZoneInfo) -> datetime:
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=zone)
    half_past = moment.astimezone(UTC) + timedelta(minutes=30)
    return half_past.replace(minute=0, second=0, microsecond=0)


def weather_of(hours: Mapping[datetime, Hour], zone: ZoneInfo) -> Weather:
    """Return hours that came from elsewhere than a file, with the report of what they lack."""
    if not hours:
        raise GrowerError(Problem("the archive holds no weather of these dates", "--from"))
    return Weather(hours, _report(hours, zone, daily=False), zone)


def _report(
    hours: Mapping[datetime, Hour],
    zone: ZoneInfo,
    *,
    daily: bool,
    rejected: tuple[Rejected, ...] = (),
    doubles: int = 0,
) -> Report:
    moments = list(hours)
    return Report(
        first=moments[0].astimezone(zone).date(),
        last=moments[-1].astimezone(zone).date(),
        daily=daily,
        gaps=tuple(_gaps(hours, moments[0], moments[-1])),
        rejected=rejected,
        doubles=doubles,
    )


def _gaps(hours: Mapping[datetime, Hour], first: datetime, last: datetime) -> Iterator[Gap]:
    begun: datetime | None = None
    moment = first
    while moment <= last:
        hour = hours.get(moment)
        known = hour is not None and hour.temperature_c is not None and hour.rain_mm is not None
        if known and begun is not None:
            yield Gap(begun, moment)
            begun = None
        elif not known and begun is None:
            begun = moment
        moment += HOUR
    if begun is not None:
        yield Gap(begun, last + HOUR)
