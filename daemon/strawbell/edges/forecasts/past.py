"""What came and what was forecast in the past, by the default service; and lows of a file.

The open archive has the weather that came, as hours or as daily lows; lows of many years may come
from a file of the grower's too. The previous runs have what was forecast, by days ahead: for each
hour the values of the newest run that was at least one, two ... seven days old. So a rehearsal can
replay what was really issued, and the errors of a place can be measured: against the newest run,
since that is nearest to what came.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from datetime import date, datetime, time, timedelta
from pathlib import Path
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from strawbell.edges.forecasts.checks import coordinate, mapping, number
from strawbell.edges.forecasts.checks import sequence as listed
from strawbell.edges.forecasts.http import Asker, Http, Question
from strawbell.edges.forecasts.open_meteo import (
    IN_OUR_UNITS,
    SERVICE,
    answer_about,
    chunks,
    hours_of,
    url_about,
)
from strawbell.errors import GrowerError, Problem
from strawbell.model.forecast import Hour, PastError
from strawbell.model.garden import Place
from strawbell.words.catalogue import BRITISH

ARCHIVE_URL = "https://archive-api.open-meteo.com"
YEARS = 30
"""Years asked of the archive: the length of a climate normal (WMO)."""
ARCHIVE_INTERVAL = timedelta(days=30)
"""The past does not change; a kept answer is good for a month."""
COLDEST_C, HOTTEST_C = -90.0, 60.0
"""Outside these a figure is no air temperature."""
DATE_COLUMNS = ("date", "day")
CELSIUS_COLUMNS = ("low_c", "temp_min", "tmin_c")
FAHRENHEIT_COLUMNS = ("low_f", "tmin_f")

Minima = Mapping[date, float | None]
"""The low of each local date [degC], None where it is unknown."""
ARCHIVE_VARIABLES = (
    "temperature_2m",
    "relative_humidity_2m",
    "dew_point_2m",
    "precipitation",
    "wind_speed_10m",
    "cloud_cover",
    "shortwave_radiation",
)
"""What is asked for; the archive knows no chance of rain."""
HOURS_AT_ONCE = timedelta(days=150)
"""How much is asked at once: a fraction of what an answer may be long."""
LATENESS = timedelta(days=5)
"""The archive is that far behind (by its documentation); nearer days are asked of nobody."""
FIRST_DAY = date(1940, 1, 1)
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
    zone = place.zone
    first, last = dates
    _check_dates(first, last, now.astimezone(zone).date())
    hours: dict[datetime, Hour] = {}
    # A day more on either side: the archive counts dates in Greenwich.
    for start, end in chunks(first - timedelta(days=1), last + timedelta(days=1), HOURS_AT_ONCE):
        hours.update(_ask_hours(http, base_url, place, start, end, now))
        step(min(end, last))
    begins = datetime.combine(first, time(0), zone)
    ends = datetime.combine(last + timedelta(days=1), time(0), zone)
    return {at: hour for at, hour in sorted(hours.items()) if begins <= at < ends}


def _check_dates(first: date, last: date, today: date) -> None:
    newest = today - LATENESS
    for name, on in (("--from", first), ("--to", last)):
        if not FIRST_DAY < on <= newest:
            raise GrowerError(
                Problem(
                    BRITISH.say("past.not-there"),
                    name,
                    str(on),
                    BRITISH.say(
                        "past.between", first=str(FIRST_DAY + timedelta(days=1)), last=str(newest)
                    ),
                    BRITISH.say("past.give"),
                )
            )


def _ask_hours(
    http: Http, base_url: str | None, place: Place, start: date, end: date, now: datetime
) -> Hours:
    url = url_about(
        place,
        f"{(base_url or ARCHIVE_URL).rstrip('/')}/v1/archive",
        ARCHIVE_VARIABLES,
        start_date=start,
        end_date=end,
        **IN_OUR_UNITS,
    )
    spoken = BRITISH.say("asked.archive", service=SERVICE.spoken)
    question = Question(spoken, url, ARCHIVE_INTERVAL)
    return http.ask(question, now, lambda body, _at: parse_hours(body, place))


def parse_hours(body: bytes, place: Place) -> Hours:
    """Return the hours in an answer; `OperationalError` where it is none for this place."""
    found = hours_of(answer_about(place, body))
    if not any(hour.temperature_c is not None for hour in found.values()):
        raise SERVICE.unusable("unusable.no-temperatures")
    return found


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
    question = Question(SERVICE.spoken, url, ARCHIVE_INTERVAL)
    return http.ask(question, now, lambda body, _at: _lows_in(body, place))


def from_file(path: Path) -> tuple[Minima, int]:
    """Return the lows of a CSV file, and how many impossible values were left out.

    The first line names the columns: `date` (YYYY-MM-DD) and `low_c` or `low_f`; others are
    passed over. Raises `GrowerError` with what is wrong and where.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        found = error.strerror if isinstance(error, OSError) else None
        raise _problem(path, BRITISH.say("past.unreadable"), found or str(error)) from error
    import csv  # few commands read one

    rows = csv.DictReader(text.splitlines())
    names = {name.strip().lower(): name for name in rows.fieldnames or ()}
    day_column = next((names[each] for each in DATE_COLUMNS if each in names), None)
    low_column = next(
        (names[each] for each in (*CELSIUS_COLUMNS, *FAHRENHEIT_COLUMNS) if each in names), None
    )
    if day_column is None or low_column is None:
        found = ", ".join(names) or BRITISH.say("past.no-columns")
        raise _problem(path, BRITISH.say("past.no-column"), found, BRITISH.say("past.columns"))
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
        raise _problem(path, BRITISH.say("past.no-days"), BRITISH.say("past.heading"))
    return minima, left_out


def _lows_in(body: bytes, place: Place) -> Minima:
    answer = answer_about(place, body)
    daily, units = mapping(answer.get("daily")), mapping(answer.get("daily_units"))
    if units.get("temperature_2m_min") != "°C":
        raise SERVICE.unusable("unusable.no-lows")
    found = dict(_pairs(listed(daily.get("time")), listed(daily.get("temperature_2m_min"))))
    if not found:
        raise SERVICE.unusable("unusable.no-days")
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
        what = BRITISH.say("past.no-date", line=line)
        allowed = BRITISH.say("past.dates", date="2027-04-09")
        raise _problem(path, what, repr(text), allowed) from None


def _low(path: Path, line: int, text: str | None, *, fahrenheit: bool) -> float | None:
    if text is None or not text.strip():
        return None
    try:
        value = float(text)
    except ValueError:
        what = BRITISH.say("past.no-temperature", line=line)
        raise _problem(path, what, repr(text), BRITISH.say("past.number")) from None
    return (value - 32.0) / 1.8 if fahrenheit else value


def _problem(path: Path, what: str, found: str = "", allowed: str = "") -> GrowerError:
    return GrowerError(Problem(what=what, where=path.name, found=found, allowed=allowed))


ISSUED_URL = "https://previous-runs-api.open-meteo.com"
DAYS_AHEAD = range(1, 8)
ISSUED_VARIABLES = ("temperature_2m", "precipitation")
PAST_DAYS = 92
"""Days that errors are measured over: the most that is answered backwards from today. As 16
variables it weighs as 11 ordinary requests of the 10,000 that are free in a day."""
ERRORS_INTERVAL = timedelta(days=7)
"""Errors of three months hardly change within a week."""
AGAIN = timedelta(days=1)
MOST_PLACES = 1000
FEWEST_DAYS = 20
"""Fewer days say nothing of errors (design choice)."""
KNOWN_HOURS = 20
"""Hours of a date that have to be known for its low and its rain to count (design choice)."""
FIRST_ISSUED = date(2024, 1, 1)
"""From when on most models are kept (by the service's documentation)."""
ISSUED_AT_ONCE = timedelta(days=60)

Issued = Mapping[int, Mapping[datetime, Hour]]
"""Hours by their beginning (UTC), by how many days before they were forecast; 0 is the newest."""


class PreviousRuns(Asker):
    """Asks what was forecast in the past."""

    base_url = ISSUED_URL

    def __init__(self, http: Http, base_url: str | None = None) -> None:
        """Ask through `http`; another `base_url` is for tests and mirrors."""
        super().__init__(http, base_url)
        self._reckoned: dict[Place, tuple[datetime, tuple[PastError, ...]]] = {}

    def errors(self, place: Place, now: datetime) -> tuple[PastError, ...]:
        """Return the errors of three months; `OperationalError` when they cannot be had.

        They are reckoned once a day; the answer itself is kept for a week.
        """
        known = self._reckoned.get(place)
        if known is None or not timedelta() <= now - known[0] < AGAIN:
            asked = {"past_days": str(PAST_DAYS), "forecast_days": "1"}
            issued = self._ask(place, asked, now)
            if len(self._reckoned) >= MOST_PLACES:
                self._reckoned.clear()
            zone = place.zone
            known = now, errors_of(issued, zone, now.astimezone(zone).date())
            self._reckoned[place] = known
        return known[1]

    def issued(
        self,
        place: Place,
        dates: tuple[date, date],
        now: datetime,
        step: Callable[[date], None] = lambda _: None,
    ) -> Issued:
        """Return what was forecast for dates, both included; `step` is told each date reached.

        Raises `GrowerError` where the service does not reach there, `OperationalError` without a
        usable answer.
        """
        first, last = dates[0] - timedelta(days=1), dates[1] + timedelta(days=1)
        if first < FIRST_ISSUED:
            allowed = BRITISH.say("past.later", first=str(FIRST_ISSUED + timedelta(days=1)))
            what = BRITISH.say("past.not-kept")
            raise GrowerError(Problem(what, "--from", str(dates[0]), allowed))
        found: dict[int, dict[datetime, Hour]] = {}
        for start, end in chunks(first, last, ISSUED_AT_ONCE):
            asked = {"start_date": start.isoformat(), "end_date": end.isoformat()}
            for ahead, hours in self._ask(place, asked, now).items():
                found.setdefault(ahead, {}).update(hours)
            step(end)
        return found

    def _ask(self, place: Place, dates: Mapping[str, str], now: datetime) -> Issued:
        names = [
            name + (f"_previous_day{ahead}" if ahead else "")
            for ahead in (0, *DAYS_AHEAD)
            for name in ISSUED_VARIABLES
        ]
        url = url_about(
            place, f"{self._base}/v1/forecast", names,
            timeformat="iso8601", timezone="GMT", **dates,
        )  # fmt: skip
        spoken = BRITISH.say("asked.past", service=SERVICE.spoken)
        question = Question(spoken, url, ERRORS_INTERVAL)
        return self._http.ask(question, now, lambda body, _: parse_issued(body, place))


def parse_issued(body: bytes, place: Place) -> Issued:
    """Return the hours in a body by days ahead; `OperationalError` where it is of another place."""
    answer = answer_about(place, body)
    found = {}
    for ahead in (0, *DAYS_AHEAD):
        found[ahead] = hours_of(answer, f"_previous_day{ahead}" if ahead else "")
    if not any(hour.temperature_c is not None for hour in found[1].values()):
        raise SERVICE.unusable("unusable.no-past")
    return found


def errors_of(issued: Issued, zone: ZoneInfo, before: date) -> tuple[PastError, ...]:
    """Return how the forecasts erred by days ahead, over the local dates before one."""
    dates = {ahead: _by_date(hours, zone, before) for ahead, hours in issued.items()}
    newest = dates.pop(0, {})
    return tuple(_error(dates.get(ahead, {}), newest) for ahead in DAYS_AHEAD)


def _by_date(
    hours: Mapping[datetime, Hour], zone: ZoneInfo, before: date
) -> Mapping[date, tuple[float | None, float | None]]:
    dates: dict[date, list[Hour]] = {}
    for at, hour in hours.items():
        on = at.astimezone(zone).date()
        if on < before:
            dates.setdefault(on, []).append(hour)
    return {on: _figures(of_date) for on, of_date in dates.items()}


def _error(
    said: Mapping[date, tuple[float | None, float | None]],
    came: Mapping[date, tuple[float | None, float | None]],
) -> PastError:
    both = [(said[on], came[on]) for on in said if on in came]
    lows = [
        (one[0] - other[0]) ** 2
        for one, other in both
        if one[0] is not None and other[0] is not None
    ]
    rains = [
        (math.sqrt(one[1]), math.sqrt(other[1]))
        for one, other in both
        if one[1] is not None and other[1] is not None
    ]
    from statistics import StatisticsError, correlation, fmean  # once a day is enough

    likeness = None
    if len(rains) >= FEWEST_DAYS:
        with suppress(StatisticsError):  # a drought: nothing varies
            likeness = correlation(*zip(*rains, strict=True))
    return PastError(
        days=len(lows),
        low_error_c=math.sqrt(fmean(lows)) if len(lows) >= FEWEST_DAYS else None,
        rain_likeness=likeness,
    )


def _figures(hours: list[Hour]) -> tuple[float | None, float | None]:
    """Return low [degC] and rain [mm] of a date, None where too few of its hours are known."""
    air = [hour.temperature_c for hour in hours if hour.temperature_c is not None]
    rain = [hour.rain_mm for hour in hours if hour.rain_mm is not None]
    return (
        min(air) if len(air) >= KNOWN_HOURS else None,
        sum(rain) if len(rain) >= KNOWN_HOURS else None,
    )
