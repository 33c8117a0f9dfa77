"""To whom and when something is said: units, zone and the day that "tomorrow" is counted from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time, timedelta, tzinfo
from zoneinfo import ZoneInfo

from msgspec import Struct

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
MORNING_ENDS_HOUR, AFTERNOON_BEGINS_HOUR = 11, 14
"""Between these hours it is "noon"."""
WEEK_DAYS = 7
"""A date nearer than this is known by its weekday."""


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


class Voice(Struct, frozen=True):
    """How one garden is spoken to on one date."""

    measures: Measures
    zone: tzinfo
    on: date
    rules: Rules
    morning: time
    places: Mapping[str, int]
    """The batches of the garden, and how many bales each has."""

    @classmethod
    def of(cls, garden: Garden, on: date, *, typographic: bool = False) -> Voice:
        """Return the voice for a garden on a date."""
        measures = Measures(garden.units, typographic)
        places = {batch.name: batch.bales for batch in garden.batches}
        zone = ZoneInfo(garden.place.time_zone)
        return cls(measures, zone, on, garden.rules, garden.times.morning, places)

    def clock(self, moment: datetime | time) -> str:
        """Return a time of day: "17:00", in US words "5 PM"."""
        if not self.measures.us:
            return clock(moment)
        minutes = f":{moment.minute:02d}" if moment.minute else ""
        half = "AM" if moment.hour < NOON_HOUR else "PM"
        return f"{(moment.hour - 1) % NOON_HOUR + 1}{minutes} {half}"

    def day(self, on: date) -> str:
        """Return a date in short: "Fri 9 Apr", in US words "Fri, Apr 9"."""
        if not self.measures.us:
            return day(on)
        return f"{WEEKDAYS[on.weekday()]}, {MONTHS[on.month - 1]} {on.day}"

    def long_day(self, on: date) -> str:
        """Return a date as it heads a page: "Friday 9 April", in US words "Friday, April 9"."""
        weekday, month = LONG_WEEKDAYS[on.weekday()], LONG_MONTHS[on.month - 1]
        return f"{weekday}, {month} {on.day}" if self.measures.us else f"{weekday} {on.day} {month}"

    def near_day(self, on: date) -> str:
        """Return a date as one says it: "today", "tomorrow", "Wednesday", "5 April"."""
        ahead = (on - self.on).days
        if ahead in _NEAR:
            return _NEAR[ahead]
        if abs(ahead) < WEEK_DAYS:
            return LONG_WEEKDAYS[on.weekday()]
        month = LONG_MONTHS[on.month - 1]
        return f"{month} {on.day}" if self.measures.us else f"{on.day} {month}"

    def horizon(self, hours: float) -> str:
        """Return the end of the hours that a rule looks ahead: "tomorrow morning"."""
        end = datetime.combine(self.on, self.morning) + timedelta(hours=hours)
        if end.hour < MORNING_ENDS_HOUR:
            part = "morning"
        elif end.hour < AFTERNOON_BEGINS_HOUR:
            part = "noon"
        else:
            part = "evening"
        said = self.near_day(end.date())
        return f"this {part}" if said == "today" else f"{said} {part}"

    def local(self, moment: datetime) -> datetime:
        """Return a moment on the garden's own clock."""
        return moment.astimezone(self.zone)

    def at(self, moment: datetime) -> str:
        """Return a moment in a sentence: "at 05:00 tomorrow", "at 05:00 on Mon 12 Apr"."""
        local = self.local(moment)
        return f"at {self.clock(local)} {self.day_said(local.date())}"

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
        return "yesterday" if ahead == -1 else f"on {self.day(local.date())}"

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
        return f"tomorrow, {self.day(on)}" if ahead == 1 else self.day(on)

    def day_said(self, on: date) -> str:
        """Return a date after a time of day: "today", "tomorrow", "on Mon 12 Apr"."""
        ahead = (on - self.on).days
        return _NEAR.get(ahead, f"on {self.day(on)}")


_NEAR: Mapping[int, str] = {-1: "yesterday", 0: "today", 1: "tomorrow"}
