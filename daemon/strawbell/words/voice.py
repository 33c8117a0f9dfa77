"""To whom and when something is said, and how days, weather, crops and feeds are called there.

A voice has units, zone and the day that "tomorrow" is counted from. A name that the grower gave is
left letter for letter.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time, timedelta, tzinfo

from msgspec import Struct

from strawbell.model.forecast import DayWeather, ForecastStatus, ForecastUse
from strawbell.model.garden import Garden, Rules
from strawbell.words.catalogue import Place, Tongue
from strawbell.words.escaping import NAME_LIMIT, clean, cut, name
from strawbell.words.units import Measures

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
QUARTER_MIN = 15
DAY_ENDS = time(20)
"""When the day of a bale's top ends (design choice): it takes up the evening's dew after it."""


def days_joined(dates: Iterable[date], tongue: Tongue) -> list[str]:
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
            said.extend(tongue.day(on) for on in row)
        else:
            said.append(_from_to(row[0], row[-1], tongue))
    return said


def _from_to(first: date, last: date, tongue: Tongue) -> str:
    same_month = (first.year, first.month) == (last.year, last.month)
    begin = tongue.date("date.in_a_row" if same_month else "date.day", first)
    return tongue.say("when.from_to", first=begin, last=tongue.day(last))


def dry_time(at: time | None) -> time | None:
    """Return when a top is dry as it is told: to the quarter before, as no model knows the minute.

    None where that is not on the day of who waters.
    """
    if at is None or at >= DAY_ENDS:
        return None
    return time(at.hour, at.minute // QUARTER_MIN * QUARTER_MIN)


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
        zone = garden.place.zone
        return cls(measures, zone, on, garden.rules, garden.times.morning, places)

    @property
    def tongue(self) -> Tongue:
        """Return the locale that the garden is spoken to in."""
        return self.measures.tongue

    def say(self, key: str, /, **places: Place) -> str:
        """Return a message of the catalogue with its places filled."""
        return self.tongue.say(key, **places)

    def clock(self, moment: datetime | time) -> str:
        """Return a time of day: "17:00", in US words "5 PM"."""
        return self.tongue.clock(moment)

    def day(self, on: date) -> str:
        """Return a date in short: "Fri 9 Apr", in US words "Fri, Apr 9"."""
        return self.tongue.day(on)

    def heading(self, on: date) -> str:
        """Return a date as it heads a page: "Friday 9 April", in US words "Friday, April 9"."""
        return self.tongue.date("date.heading", on)

    def nearness(self, on: date) -> str:
        """Return how near a date is, for a message to choose by."""
        return _NEAR.get((on - self.on).days, "far")

    def near_day(self, on: date) -> str:
        """Return a date as one says it: "today", "tomorrow", "Wednesday", "5 April"."""
        is_near = abs((on - self.on).days) < WEEK_DAYS
        said = self.tongue.date("date.weekday" if is_near else "date.month_day", on)
        return self.say("when.near", near=self.nearness(on), day=said)

    def horizon(self, hours: float) -> str:
        """Return the end of the hours that a rule looks ahead: "tomorrow morning"."""
        end = datetime.combine(self.on, self.morning) + timedelta(hours=hours)
        part = "evening"
        if end.hour < AFTERNOON_BEGINS_HOUR:
            part = "morning" if end.hour < MORNING_ENDS_HOUR else "noon"
        on = end.date()
        return self.say("when.horizon", near=self.nearness(on), day=self.near_day(on), part=part)

    def local(self, moment: datetime) -> datetime:
        """Return a moment on the garden's own clock."""
        return moment.astimezone(self.zone)

    def at(self, moment: datetime) -> str:
        """Return a moment in a sentence: "at 05:00 tomorrow", "at 05:00 on Mon 12 Apr"."""
        local = self.local(moment)
        on, said = local.date(), self.clock(local)
        return self.say("when.at", clock=said, near=self.nearness(on), day=self.day(on))

    def about(self, moment: datetime) -> str:
        """Return a moment in a headline: "tonight", "this afternoon", "tomorrow"."""
        local = self.local(moment)
        near = self.nearness(local.date())
        if near == "today":
            near = "afternoon" if local.hour < EVENING_HOUR else "night"
            near = "morning" if local.hour < NOON_HOUR else near
        elif near == "tomorrow" and local.hour < NIGHT_ENDS_HOUR:
            near = "night"
        return self.say("when.about", part=near, day=self.day(local.date()))

    def dark_before(self, moment: datetime | None) -> str:
        """Return the dusk before a moment of the night: "dark", "dark on Tue 27 Apr"."""
        on = self.on
        if moment is not None:
            local = self.local(moment)
            on = local.date() - DAY if local.hour < NOON_HOUR else local.date()
        # A frost that has begun goes on, or the hose would have to be empty since yesterday.
        on = max(on, self.on)
        return self.say("when.dark", near=self.nearness(on), day=self.day(on))

    def date_said(self, on: date) -> str:
        """Return a date in a sentence: "today", "tomorrow, Sat 10 Apr", "Mon 12 Apr"."""
        return self.say("when.dated", near=self.nearness(on), day=self.day(on))

    def day_said(self, on: date) -> str:
        """Return a date after a time of day: "today", "tomorrow", "on Mon 12 Apr"."""
        return self.say("when.on", near=self.nearness(on), day=self.day(on))


_NEAR: Mapping[int, str] = {-1: "yesterday", 0: "today", 1: "tomorrow"}


LINK_LIMIT = 300
"""Longest link of an attribution that is shown [characters]."""


def weather_words(weather: DayWeather, voice: Voice) -> str:
    """Return a day's weather as "-3 to 9 °C, 2 mm of rain", "" when all of it is unknown."""
    measures = voice.measures
    low, high, rain = weather.low_c, weather.high_c, weather.rain_mm
    if low is None and high is None and rain is None:
        return ""
    span = None
    if low is not None and high is not None:
        lowest, highest = map(measures.whole_degrees, (low, high))
        span = voice.say("weather.span", low=lowest, high=highest)
        span = measures.joined(measures.degree, span)
    partly = low is not None or high is not None
    return voice.say(
        "weather.day",
        span=span,
        low=measures.temperature(low, 0) if partly else None,
        high=measures.temperature(high, 0),
        dry=rain == 0,
        rain=None if rain is None else measures.rain(rain),
        complete=weather.complete,
    )


def forecast_words(use: ForecastUse, voice: Voice) -> str:
    """Return which forecast the brief rests on, and how old it is."""
    issued = None if use.issued_at is None else voice.local(use.issued_at)
    return voice.say(
        "weather.forecast",
        source=use.source and name(use.source),
        day=None if issued is None else voice.day(issued.date()),
        clock=None if issued is None else voice.clock(issued),
        age=None if use.age_h is None else voice.measures.hours(max(use.age_h, 0.0)),
        fresh=use.status is ForecastStatus.FRESH,
    )


def attribution_words(use: ForecastUse) -> tuple[str, str]:
    """Return the attribution a service asks for and its link, "" for what there is none of.

    A link that is not plain http or https, or holds a blank, is not shown as one.
    """
    link = use.attribution_url
    whole = link == clean(link) and " " not in link and len(link) <= LINK_LIMIT
    safe = whole and link.startswith(("https://", "http://"))
    return clean(use.attribution)[:LINK_LIMIT], link if safe else ""


def feed_name(feed: str, tongue: Tongue) -> str:
    """Return a feed as it is said in a sentence."""
    return tongue.known(f"feed.{_row(feed)}") or name(feed)


def crops_name(crop: str, tongue: Tongue, limit: int = NAME_LIMIT) -> str:
    """Return a crop of which there are several: "tomatoes", "kale"."""
    sort, _, last = name(crop).rpartition(" ")
    known = tongue.known(f"crop.{_row(crop)}.many", sort=None)
    return cut(known or tongue.known(f"crop.{last}.many", sort=sort) or name(crop), limit)


def counted_crop(number: int, crop: str, tongue: Tongue) -> str:
    """Return a number of plants: "8 tomatoes", "1 tomato", "8 kale plants"."""
    sort, _, last = name(crop).rpartition(" ")
    known = tongue.known(f"crop.{_row(crop)}.counted", count=number, sort=None)
    known = known or tongue.known(f"crop.{last}.counted", count=number, sort=sort)
    return known or tongue.say("crop.other.counted", count=number, sort=name(crop))


def _row(known: str) -> str:
    return known.replace(" ", "-")
