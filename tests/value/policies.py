"""The growers that are compared: by a plain calendar, by deficit, attentive, and told by Strawbell.

Every one has the same plan, feed and doses, and a batch of the same bales. The calendar pours the
litres that published sequences print; it plants at the end of its plan, but no sooner than the
mean last frost that every calendar prints, and covers nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from msgspec.structs import replace

from strawbell.agronomy.balance import NOTHING, Body, State, Work
from strawbell.agronomy.bales import top_area_m2
from strawbell.agronomy.doses import dose_of, feed_of
from strawbell.agronomy.feeds import nitrogen_forms
from strawbell.agronomy.watering import first_soak_l, refill, wash_in
from strawbell.app.pipeline import Told
from strawbell.model.brief import State as TaskState
from strawbell.model.feeds import Feed
from strawbell.model.garden import Batch, Garden, RainCover, ScheduleDay
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.rehearsal.course import Course, Truth, course_of, feeding_keys
from strawbell.rehearsal.recorded import Weather
from strawbell.rehearsal.rehearse import rehearse
from strawbell.season.conditioning import is_feeding
from strawbell.season.due_times import Occasion
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import DAY
from strawbell.weather.thresholds import RAIN_HOLD_MM
from tests.value.bales import Deed
from tests.value.journal_only import JournalOnly
from tests.value.springs import DAYS, SKILL, Sky, Spring

SOAK_L, WATER_L, WASH_IN_L = 56.8, 3.8, 5.3
"""What printed sequences pour on a bale: 15 US gal, then a gallon a day, and what washes a feed in
(common practice) [L]."""
CAN_L = 4.0
"""What an attentive grower gives a bale that feels dry [L] (design choice)."""
FEELS_DRY = 0.85
"""Share of the working moisture under which no drop comes out of a squeezed handful (design
choice: the composter's squeeze test tells 50 from 60 %)."""
COVER_AT_C = 3.0
"""Forecast low at which an attentive grower covers (common practice)."""
FILLS_MM = 5.0
"""What a watering of the top without an amount is taken as (design choice) [mm]."""


class Grower:
    """Does the steps of the plan one a day; what holds a feeding, and the litres, are by kind."""

    def __init__(self, spring: Spring, body: Body) -> None:
        """Begin with a dry bale."""
        self.over: int | None = None
        self._spring = spring
        self._body = body
        self._batch = spring.garden.batches[0]
        self._at = 0
        self._stands = False

    def day(self, day: int, sky: Sky, bale: State) -> Deed:
        """Do the day's step or wait with it, plant when it is time, cover or not."""
        batch, steps = self._batch, self._batch.schedule.days
        step = steps[self._at] if self._at < len(steps) else None
        held = step is not None and is_feeding(step) and day > 0 and self.waits(sky)
        work = NOTHING if step is None or held else fed(batch, step)
        feeds = step is not None and is_feeding(step) and not held
        if step is not None and not held:
            self._at += 1
            if self._at == len(steps):
                self.over = day + batch.schedule.plant_from_day - steps[-1].day
        work = work._replace(poured_l=self.pours_l(day, bale, feeds=feeds))
        puts_in = self._plants(day, sky.on)
        self._stands = self._stands or puts_in
        return Deed(work, held, covers=self._stands and self.covers(sky), puts_in=puts_in)

    def _plants(self, day: int, on: date) -> bool:
        over = self.over
        return (
            not self._stands
            and over is not None
            and day >= over
            and on >= (self._spring.frost_free)
        )

    def waits(self, sky: Sky) -> bool:
        """Return whether a feeding waits."""
        del sky
        return False

    def covers(self, sky: Sky) -> bool:
        """Return whether what stands is covered for the night."""
        del sky
        return False

    def pours_l(self, day: int, bale: State, *, feeds: bool) -> float:
        """Return the litres of a day."""
        del bale
        return SOAK_L if day == 0 else WASH_IN_L if feeds else WATER_L


class ByDeficit(Grower):
    """A calendar that soaks as printed and then pours what is really missing."""

    def pours_l(self, day: int, bale: State, *, feeds: bool) -> float:
        """Return the litres of a day."""
        if day == 0:
            return SOAK_L
        rule = wash_in if feeds else refill
        return rule(self._batch.bale, bale.water_l, 0.0).litres


class Attentive(Grower):
    """Squeezes a handful, hears the evening news, covers at a forecast 3 degC."""

    def waits(self, sky: Sky) -> bool:
        """Return whether the news said half an inch."""
        return sky.rain_said_mm >= RAIN_HOLD_MM

    def covers(self, sky: Sky) -> bool:
        """Return whether the news said a cold night."""
        return sky.low_said_c <= COVER_AT_C

    def pours_l(self, day: int, bale: State, *, feeds: bool) -> float:
        """Soak until it runs, wash in as printed, else a can where it feels dry."""
        if day == 0:
            return first_soak_l(self._batch.bale)
        if feeds:
            return WASH_IN_L
        return CAN_L if bale.water_l < FEELS_DRY * self._body.works_l else 0.0


class AsTold:
    """Does what was done in a list of days, whatever the bale feels like."""

    def __init__(self, deeds: list[Deed], over: int | None) -> None:
        """Take the days of a season and when its plan was over."""
        self.deeds = deeds
        self.over = over

    def day(self, day: int, sky: Sky, bale: State) -> Deed:
        """Return what was done on a day."""
        del sky, bale
        return self.deeds[day]


def told_by_strawbell(spring: Spring, *, tarp: bool) -> AsTold:
    """Return what a grower, with a tarp or none, does who does all that Strawbell says.

    Nothing is answered. Each morning the low of the night before is recorded, as whoever has a
    thermometer would.
    """
    batch, last = spring.garden.batches[0], spring.start + DAY * (DAYS - 1)
    batch = replace(batch, rain_cover=RainCover.TARP if tarp else RainCover.NONE)
    garden = replace(spring.garden, batches=(batch,))
    store, told = told_season(garden, spring.weather, (spring.start, last), spring.seed)
    journal = store.journal(garden.name)
    index = JournalIndex.of(journal)
    course = course_of(spring.truth, batch, journal, index, last)
    messages: dict[date, int] = {}
    for each in told:
        messages[each.on] = messages.get(each.on, 0) + len(each.notices)
    keys, own = feeding_keys(batch), index.batch(batch.name).told
    puts_in = {on for _, on in course.planted}
    under = {on: after.tarped for on, _, after in course.walk}
    deeds = [
        Deed(
            work._replace(covered=under[on]),
            held=any(
                each is TaskState.HELD and key in keys for key, each in own.get(on, {}).items()
            ),
            covers=on in course.covered,
            puts_in=on in puts_in,
            messages=messages.get(on, 0),
        )
        for on, work in works_of(batch, course, spring.truth)
    ]
    if course.finished_on is None:
        return AsTold(deeds, None)
    gap = batch.schedule.plant_from_day - batch.schedule.days[-1].day
    return AsTold(deeds, (course.finished_on - spring.start).days + gap)


def told_season(
    garden: Garden, weather: Weather, dates: tuple[date, date], seed: int
) -> tuple[JournalOnly, list[Told]]:
    """Return the journal of a season told by the very cycle of the daemon, and what was told."""
    store, truth, told = JournalOnly(), Truth(garden, weather), []
    for each in rehearse(
        (garden,), {garden.place.time_zone: weather}, store, (), dates, SKILL, seed
    ):
        told.append(each)
        if Occasion.MORNING in each.occasions:
            store.write(measured_low(truth, garden.name, each.on - DAY))
    return store, told


def measured_low(truth: Truth, garden: str, on: date) -> Iterator[JournalEntry]:
    """Yield the grower's own reading of the low of a date, read the next morning."""
    low_c = truth.day(on).low_c
    if low_c is not None:
        at = truth.morning(on + DAY) + timedelta(minutes=1)
        yield JournalEntry(at, garden, on, EntryKind.LOW, value=low_c)


def works_of(batch: Batch, course: Course, truth: Truth) -> Iterator[tuple[date, Work]]:
    """Yield the days of a course with what was fed and poured."""
    area_m2, poured = top_area_m2(batch.bale), dict[date, float]()
    for given in course.waterings:
        on = given.at.astimezone(truth.zone).date()
        mm = FILLS_MM if given.mm is None else given.mm
        poured[on] = poured.get(on, 0.0) + mm * area_m2
    for on, _, _ in course.walk:
        work = NOTHING
        for each in course.fed:
            if each.feeding.on == on and each.feeding.feed is not None:
                work = with_feed(work, each.feeding.feed, each.feeding.nitrogen_per_bale_g)
        yield on, work._replace(poured_l=poured.get(on, 0.0))


def fed(batch: Batch, step: ScheduleDay) -> Work:
    """Return the feed of a day of the plan."""
    dose, feed = dose_of(batch, step), feed_of(batch, step)
    return (
        NOTHING
        if dose is None or feed is None
        else with_feed(NOTHING, feed, dose.nitrogen_per_bale_g)
    )


def with_feed(work: Work, feed: Feed, grams: float) -> Work:
    """Return a day's work with a feed [g N] beside it."""
    forms = nitrogen_forms(feed)
    return work._replace(
        urea_g=work.urea_g + grams * forms.urea,
        ammonium_g=work.ammonium_g + grams * forms.ammonium,
        nitrate_g=work.nitrate_g + grams * forms.nitrate,
        organic_g=work.organic_g + grams * forms.organic,
    )


GROWERS = {"calendar": Grower, "calendar by deficit": ByDeficit, "attentive": Attentive}
"""Who needs no word of Strawbell, by name; the first is what all are measured against."""
