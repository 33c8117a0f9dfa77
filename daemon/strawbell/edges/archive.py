"""The weather that came, from the open archive of the default service: hours, or daily lows alone.

Lows of many years may come from a file of the grower's too.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime, time, timedelta
from pathlib import Path
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from strawbell.edges.forecasts.checks import coordinate, mapping, number
from strawbell.edges.forecasts.checks import sequence as listed
from strawbell.edges.forecasts.http import Http, Question
from strawbell.edges.forecasts.open_meteo import (
    IN_OUR_UNITS,
    SERVICE,
    answer_about,
    chunks,
    hours_of,
    url_about,
)
from strawbell.errors import GrowerError, Problem
from strawbell.model.forecast import Hour
from strawbell.model.garden import Place

ARCHIVE_URL = "https://archive-api.open-meteo.com"
YEARS = 30
"""Years asked of the archive: the length of a climate normal (WMO)."""
INTERVAL = timedelta(days=30)
"""The past does not change; a kept answer is good for a month."""
COLDEST_C, HOTTEST_C = -90.0, 60.0
"""Outside these a figure is no air temperature."""
DATE_COLUMNS = ("date", "day")
CELSIUS_COLUMNS = ("low_c", "temp_min", "tmin_c")
FAHRENHEIT_COLUMNS = ("low_f", "tmin_f")

Minima = Mapping[date, float | None]
"""The low of each local date [degC], None where it is unknown."""


def from_archive(http: Http, base_url: str | None, place: Place, now: datetime) -> Minima:
    """Return the lows of the last full thirty years of a place.

    Raises `strawbell.errors.OperationalError` when the archive gives no usable answer.
    """
    last = date(now.year - 1, 12, 31)
    first = date(last.year - YEARS + 1, 1, 1)
    asked = {
        "latitude": coordinate(place.latitude),
        "longitude": coordinate(place.longitude),
        "start_date": first.isoformat(),
        "end_date": last.isoformat(),
        "daily": "temperature_2m_min",
        "temperature_unit": "celsius",
        "timezone": place.time_zone,
    }
    url = f"{base_url or ARCHIVE_URL}/v1/archive?{urlencode(asked)}"
    question = Question(SERVICE.spoken, url, INTERVAL)
    return http.ask(question, now, lambda body, _at: _parse(body, place))


def from_file(path: Path) -> tuple[Minima, int]:
    """Return the lows of a CSV file, and how many impossible values were left out.

    The first line names the columns: `date` (YYYY-MM-DD) and `low_c` or `low_f`; others are
    passed over. Raises `GrowerError` with what is wrong and where.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        found = error.strerror if isinstance(error, OSError) else None
        raise _problem(path, "the file cannot be read", found or str(error)) from error
    rows = csv.DictReader(text.splitlines())
    names = {name.strip().lower(): name for name in rows.fieldnames or ()}
    day_column = next((names[each] for each in DATE_COLUMNS if each in names), None)
    low_column = next(
        (names[each] for each in (*CELSIUS_COLUMNS, *FAHRENHEIT_COLUMNS) if each in names), None
    )
    if day_column is None or low_column is None:
        found = ", ".join(names) or "no columns"
        raise _problem(path, "a column is missing", found, "date and low_c (or low_f)")
    fahrenheit = low_column.strip().lower() in FAHRENHEIT_COLUMNS
    minima: dict[date, float | None] = {}
    left_out = 0
    for line, row in enumerate(rows, start=2):
        on = _date(path, line, row.get(day_column))
        low = _low(path, line, row.get(low_column), fahrenheit=fahrenheit)
        if low is not None and not COLDEST_C <= low <= HOTTEST_C:
            left_out += 1
            low = None
        minima.setdefault(on, low)
    if not minima:
        raise _problem(path, "the file holds no days", "only a heading")
    return minima, left_out


def _parse(body: bytes, place: Place) -> Minima:
    answer = answer_about(place, body)
    daily, units = mapping(answer.get("daily")), mapping(answer.get("daily_units"))
    if units.get("temperature_2m_min") != "°C":
        raise SERVICE.unusable("sent an archive without lows in degrees Celsius")
    found = dict(_pairs(listed(daily.get("time")), listed(daily.get("temperature_2m_min"))))
    if not found:
        raise SERVICE.unusable("sent an empty archive")
    return found


def _pairs(times: object, lows: object) -> Iterator[tuple[date, float | None]]:
    for day, low in zip(listed(times), listed(lows), strict=False):
        try:
            on = date.fromisoformat(day)
        except (TypeError, ValueError):
            continue
        value = number(low)
        known = value is not None and COLDEST_C <= value <= HOTTEST_C
        yield on, value if known else None


def _date(path: Path, line: int, text: str | None) -> date:
    try:
        return date.fromisoformat((text or "").strip()[:10])
    except ValueError:
        raise _problem(
            path, f"line {line}: not a date", repr(text), "dates such as 2027-04-09"
        ) from None


def _low(path: Path, line: int, text: str | None, *, fahrenheit: bool) -> float | None:
    if text is None or not text.strip():
        return None
    try:
        value = float(text)
    except ValueError:
        raise _problem(
            path, f"line {line}: not a temperature", repr(text), "a number, or nothing"
        ) from None
    return (value - 32.0) / 1.8 if fahrenheit else value


def _problem(path: Path, what: str, found: str = "", allowed: str = "") -> GrowerError:
    return GrowerError(Problem(what=what, where=path.name, found=found, allowed=allowed))


VARIABLES = (
    "temperature_2m",
    "relative_humidity_2m",
    "dew_point_2m",
    "precipitation",
    "wind_speed_10m",
    "cloud_cover",
    "shortwave_radiation",
)
"""What is asked for; the archive knows no chance of rain."""
CHUNK = timedelta(days=150)
"""How much is asked at once: a fraction of what an answer may be long."""
LATENESS = timedelta(days=5)
"""The archive is that far behind (by its documentation); nearer days are asked of nobody."""
FIRST = date(1940, 1, 1)
"""First day of the archive (by its documentation)."""

Hours = Mapping[datetime, Hour]
"""Hours by their beginning (UTC); what the archive does not know is absent or None."""


def hours_from_archive(
    http: Http,
    base_url: str | None,
    place: Place,
    dates: tuple[date, date],
    now: datetime,
    step: Callable[[date], None] = lambda _: None,
) -> Hours:
    """Return the hours of local dates, both included; `step` is told each date reached.

    Raises `GrowerError` where the dates are not in the archive and
    `strawbell.errors.OperationalError` when it gives no usable answer.
    """
    zone = ZoneInfo(place.time_zone)
    first, last = dates
    _check_dates(first, last, now.astimezone(zone).date())
    hours: dict[datetime, Hour] = {}
    # A day more on either side: the archive counts dates in Greenwich.
    for start, end in chunks(first - timedelta(days=1), last + timedelta(days=1), CHUNK):
        hours.update(_ask(http, base_url, place, start, end, now))
        step(min(end, last))
    begins = datetime.combine(first, time(0), zone)
    ends = datetime.combine(last + timedelta(days=1), time(0), zone)
    return {at: hour for at, hour in sorted(hours.items()) if begins <= at < ends}


def _check_dates(first: date, last: date, today: date) -> None:
    newest = today - LATENESS
    for name, on in (("--from", first), ("--to", last)):
        if not FIRST < on <= newest:
            raise GrowerError(
                Problem(
                    "the archive does not reach there",
                    name,
                    str(on),
                    f"{FIRST + timedelta(days=1)} to {newest}",
                    "Give dates of the past, or recorded weather of your own with --weather.",
                )
            )


def _ask(
    http: Http, base_url: str | None, place: Place, start: date, end: date, now: datetime
) -> Hours:
    url = url_about(
        place,
        f"{(base_url or ARCHIVE_URL).rstrip('/')}/v1/archive",
        VARIABLES,
        start_date=start,
        end_date=end,
        **IN_OUR_UNITS,
    )
    question = Question(f"The archive of {SERVICE.spoken}", url, INTERVAL)
    return http.ask(question, now, lambda body, _at: parse(body, place))


def parse(body: bytes, place: Place) -> Hours:
    """Return the hours in an answer; `OperationalError` where it is none for this place."""
    found = hours_of(answer_about(place, body))
    if not any(hour.temperature_c is not None for hour in found.values()):
        raise SERVICE.unusable("sent an archive without temperatures")
    return found
