"""To whom and when something is said: units, zone and the day that "tomorrow" is counted from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from zoneinfo import ZoneInfo

from strawbell.model.garden import Garden, Rules
from strawbell.words.units import Measures

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
LONG_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
LONG_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
DAY = timedelta(days=1)
LEAST_JOINED = 3
"""So many dates in a row are said as a beginning and an end."""
NIGHT_ENDS_HOUR = 9
"""Until this hour the next morning counts as tonight."""
NOON_HOUR = 12
EVENING_HOUR = 18


def day(on: date) -> str:
    """Return a date as "Fri 9 Apr", in English whatever the locale."""
    return f"{WEEKDAYS[on.weekday()]} {on.day} {MONTHS[on.month - 1]}"


def days_joined(dates: Iterable[date]) -> list[str]:
    """Return dates in order, three or more in a row as one: "Mon 12 to Fri 30 Apr"."""
    rows: list[list[date]] = []
    for on in sorted(set(dates)):
        if rows and on - rows[-1][-1] == DAY:
            rows[-1].append(on)
        else:
            rows.append([on])
    said: list[str] = []
    for row in rows:
        if len(row) < LEAST_JOINED:
            said.extend(day(on) for on in row)
        else:
            said.append(_from_to(row[0], row[-1]))
    return said


def _from_to(first: date, last: date) -> str:
    same_month = (first.year, first.month) == (last.year, last.month)
    begin = f"{WEEKDAYS[first.weekday()]} {first.day}" if same_month else day(first)
    return f"{begin} to {day(last)}"


def long_day(on: date) -> str:
    """Return a date as "Friday 9 April 2027"."""
    return f"{LONG_WEEKDAYS[on.weekday()]} {on.day} {LONG_MONTHS[on.month - 1]} {on.year}"


def clock(moment: datetime | time) -> str:
    """Return a time as "06:30"."""
    return f"{moment.hour:02d}:{moment.minute:02d}"


@dataclass(frozen=True, slots=True)
class Voice:
    """How one garden is spoken to on one date."""

    measures: Measures
    zone: tzinfo
    on: date
    rules: Rules

    @classmethod
    def of(cls, garden: Garden, on: date, *, typographic: bool = False) -> Voice:
        """Return the voice for a garden on a date."""
        measures = Measures(garden.units, typographic)
        return cls(measures, ZoneInfo(garden.place.time_zone), on, garden.rules)

    def local(self, moment: datetime) -> datetime:
        """Return a moment on the garden's own clock."""
        return moment.astimezone(self.zone)

    def at(self, moment: datetime) -> str:
        """Return a moment in a sentence: "at 05:00 tomorrow", "at 05:00 on Mon 12 Apr"."""
        local = self.local(moment)
        return f"at {clock(local)} {self.day_said(local.date())}"

    def span(self, starts_at: datetime | None, ends_at: datetime | None) -> str:
        """Return a span in a sentence, or "" when neither end is known."""
        if starts_at is None:
            return "" if ends_at is None else f"until {self.at(ends_at).removeprefix('at ')}"
        start = self.at(starts_at).removeprefix("at ")
        if ends_at is None:
            return f"from {start}"
        end = self.local(ends_at)
        if end.date() == self.local(starts_at).date():
            first = clock(self.local(starts_at))
            return f"from {first} to {clock(end)} {self.day_said(end.date())}"
        return f"from {start} to {clock(end)} {self.day_said(end.date())}"

    def about(self, moment: datetime) -> str:
        """Return a moment in a headline: "tonight", "this afternoon", "tomorrow"."""
        local = self.local(moment)
        ahead = (local.date() - self.on).days
        if ahead == 0:
            if local.hour < NOON_HOUR:
                return "this morning"
            return "this afternoon" if local.hour < EVENING_HOUR else "tonight"
        if ahead == 1:
            return "tonight" if local.hour < NIGHT_ENDS_HOUR else "tomorrow"
        return "yesterday" if ahead == -1 else f"on {day(local.date())}"

    def dusk_before(self, moment: datetime) -> str:
        """Return the dusk before a moment of the night: "dusk today", "dusk on Tue 27 Apr"."""
        local = self.local(moment)
        on = local.date() - DAY if local.hour < NOON_HOUR else local.date()
        return f"dusk {self.day_said(on)}"

    def date_said(self, on: date) -> str:
        """Return a date in a sentence: "today", "tomorrow, Sat 10 Apr", "Mon 12 Apr"."""
        ahead = (on - self.on).days
        if ahead == 0:
            return "today"
        return f"tomorrow, {day(on)}" if ahead == 1 else day(on)

    def day_said(self, on: date) -> str:
        """Return a date after a time of day: "today", "tomorrow", "on Mon 12 Apr"."""
        ahead = (on - self.on).days
        near = {-1: "yesterday", 0: "today", 1: "tomorrow"}
        return near.get(ahead, f"on {day(on)}")
