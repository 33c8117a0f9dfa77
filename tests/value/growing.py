"""What is told of what stands in the bales: covers on frosty nights, and water for the top.

Each morning and each dusk the real `brief` is asked about bales that were planted, so that every
night of a spring is judged and none is lost to a planting that waits or to plants that froze. The
grower records the low of every night.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from msgspec.structs import asdict, replace

from strawbell.agronomy.bales import top_area_m2
from strawbell.agronomy.surface import LAST_WATERING, watered_at
from strawbell.decision.brief import brief
from strawbell.decision.daily_weather import was_clear
from strawbell.model.brief import Action, Also, Brief, State
from strawbell.model.garden import Garden, Method, Place, Planting
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.rehearsal.course import (
    FILLS_MM,
    FIRST_WEEKS,
    Course,
    Give,
    Truth,
    Watering,
    dry_top_hours,
    given_by,
)
from strawbell.rehearsal.recorded import Weather
from strawbell.rehearsal.skill import forecast_at
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import DAY, moment_of
from strawbell.weather.thresholds import HOT_DAY_C
from strawbell.weather.windows import hours_between, lowest_temperature
from tests.value.policies import COVER_AT_C, measured_low
from tests.value.springs import RADISH, SKILL, TOMATO, batch_on, garden_with, starting

NIGHTS = ((3, 15), (5, 31))
"""First and last night of each spring that is judged (month, day)."""
TOPS_FROM = ((5, 1), (5, 22), (6, 12))
"""When the bales are planted whose tops are followed: late starts dry the most."""
FAR_C = 1.0
"""A frost by so much and more is not to be missed [K]."""
FAR_OVER_C = 2.0
"""A cover with the leaf so far over the limit was surely for nothing [K]."""
AT_NOON = timedelta(hours=6, minutes=30)
"""From the morning's watering to that of 13:00."""


@dataclass(frozen=True, slots=True)
class Night:
    """One night: what leaves cooled to, the limit, and who covered."""

    cluster: str
    leaf_c: float
    limit_c: float
    covered: Mapping[str, bool]


@dataclass(frozen=True, slots=True)
class Top:
    """The first three weeks of a planting under one policy."""

    cluster: str
    kind: str
    policy: str
    dry_h: float
    waterings: int


class Mornings:
    """The briefs of a garden whose bales stand planted, one year at one place."""

    def __init__(self, name: str, place: Place, weather: Weather, year: int, seed: int) -> None:
        """Keep where and when."""
        self.cluster = f"{name} {year}"
        self.year = year
        self._place, self._weather, self._seed = place, weather, seed
        self._bare = garden_with(place, batch_on("Urea"))
        self.truth = Truth(self._bare, weather)
        self._index = JournalIndex.of(())

    def planted(self, planting: Planting, on: date) -> Garden:
        """Return the garden with something that went in as planned on a date."""
        batch = batch_on("Urea", planting)
        start = on - timedelta(days=batch.schedule.plant_from_day - 1)
        return starting(garden_with(self._place, batch), start)

    def asked(self, garden: Garden, at: datetime) -> Brief:
        """Return the brief of a moment, keeping the weather of its date."""
        forecast = forecast_at(self._weather, SKILL, at, self._seed)
        today = brief(garden, self._index, forecast, at, whole=False)
        clear = was_clear(forecast, today.on, self.truth.zone)
        data = {**asdict(today.weather), "clear_night": clear}
        row = JournalEntry(at.astimezone(UTC), garden.name, today.on, EntryKind.WEATHER, data=data)
        if today.on not in self._index.weather:
            self._index.take((row, *measured_low(self.truth, garden.name, today.on - DAY)))
        return today

    def said_low_c(self, at: datetime) -> float:
        """Return the low of the night that a forecast at dusk says."""
        forecast = forecast_at(self._weather, SKILL, at, self._seed)
        hours = () if forecast is None else forecast.hours
        low = lowest_temperature(hours, at, at + timedelta(hours=14)).value
        return 99.0 if low is None else low

    def said_high_c(self, on: date) -> float:
        """Return the high of a date that its morning says."""
        at = self.truth.morning(on)
        forecast = forecast_at(self._weather, SKILL, at, self._seed)
        hours = () if forecast is None else hours_between(forecast.hours, at, at + DAY / 2)
        return max((each.temperature_c or -99.0 for each in hours), default=-99.0)


def nights(of: Mornings) -> Iterator[Night]:
    """Yield the nights of a spring."""
    on, last = (date(of.year, *each) for each in NIGHTS)
    while on <= last:
        garden = of.planted(TOMATO, on - DAY)
        dusk = moment_of(on, garden.times.evening, of.truth.zone)
        told = any(
            task.action is Action.PROTECT and task.state is State.DUE
            for at in (of.truth.morning(on), dusk)
            for task in of.asked(garden, at).tasks
        )
        band = of.truth.conditions(on).night(on).leaf_band()
        if band is not None:
            by_news = of.said_low_c(dusk) <= COVER_AT_C
            covered = {"attentive": by_news, "Strawbell": told}
            yield Night(of.cluster, sum(band) / 2.0, TOMATO.crop.cover_at_c, covered)
        on += DAY


def tops(of: Mornings) -> Iterator[Top]:
    """Yield the tops of rooted plants and of seed under every policy."""
    for month, day in TOPS_FROM:
        since = date(of.year, month, day)
        for planting in (TOMATO, RADISH):
            garden = of.planted(planting, since)
            course = _course(garden, planting, since)
            kind = "seed" if planting.method is Method.SEED else "rooted"
            for policy, waterings in _policies(of, garden, since):
                give = given_by(replace(course, waterings=waterings))
                dry = dry_top_hours(of.truth, course, give)
                if dry is not None:
                    yield Top(of.cluster, kind, policy, dry, len(waterings))
            dry = dry_top_hours(of.truth, course, _beside_it(of.truth))
            if dry is not None:
                yield Top(of.cluster, kind, "oracle", dry, 0)


def _policies(
    of: Mornings, garden: Garden, since: date
) -> Iterator[tuple[str, tuple[Watering, ...]]]:
    days = [since + DAY * number for number in range(FIRST_WEEKS.days)]
    mornings = [of.truth.morning(on) for on in days]
    twice = [at + AT_NOON for at in mornings]
    hot = [at for on, at in zip(days, twice, strict=True) if of.said_high_c(on) >= HOT_DAY_C]
    yield "calendar", _full(mornings)
    yield "twice a day", _full([*mornings, *twice])
    yield "attentive", _full([*mornings, *hot])
    yield "Strawbell", tuple(_told(of, garden, mornings))


def _full(moments: list[datetime]) -> tuple[Watering, ...]:
    return tuple(Watering(at) for at in moments)


def _told(of: Mornings, garden: Garden, mornings: list[datetime]) -> Iterator[Watering]:
    """Yield the waterings of the top that each morning tells."""
    area_m2 = top_area_m2(garden.batches[0].bale)
    for at in mornings:
        for task in of.asked(garden, at).tasks:
            if task.action is Action.SURFACE_WATER and task.state is State.DUE:
                litres = task.water_per_bale_l
                mm = None if litres is None else litres / area_m2
                for moment in watered_at(at, task.times_a_day):
                    yield Watering(moment, mm)
            elif Also.WATER_AGAIN in task.also and task.state is State.DUE:
                # Sowing waters it in; the top is followed from then on.
                yield Watering(watered_at(at, 2)[-1])


def _course(garden: Garden, planting: Planting, since: date) -> Course:
    return Course(
        batch=garden.batches[0],
        last=since + FIRST_WEEKS,
        fed=(),
        bales=(),
        finished_on=None,
        planted=((planting, since),),
        waterings=(),
        covered=frozenset(),
        walk=[],
    )


def _beside_it(truth: Truth) -> Give:
    """Return the waterings of one who stands beside the bales all day, the bound for all others."""

    def give(begins: datetime, dry: bool) -> float:
        since = begins - truth.morning(begins.astimezone(truth.zone).date())
        evening = LAST_WATERING - timedelta(hours=1) < since <= LAST_WATERING
        awake = timedelta(hours=-1) < since <= LAST_WATERING
        return FILLS_MM if evening or (dry and awake) else 0.0

    return give
