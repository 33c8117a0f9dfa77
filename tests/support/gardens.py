"""A small garden of our own to plan with, and forecasts made to measure."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta

from msgspec.structs import replace

from strawbell.agronomy.bales import BALES
from strawbell.agronomy.feeds import FEEDS
from strawbell.agronomy.schedules import SCHEDULES
from strawbell.decision.brief import brief
from strawbell.decision.telling import told_entries
from strawbell.model.brief import Brief, TaskKey
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import (
    Appetite,
    Batch,
    Crop,
    FrostClass,
    Garden,
    Method,
    Place,
    Planting,
    Support,
    Times,
)
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.weather.thresholds import DEFAULT_RULES
from strawbell.words.documents import brief_json

ZONE = "Europe/Zurich"
START = date(2027, 4, 5)
TIMES = Times(
    morning=time(6, 30),
    evening=time(18, 30),
    watch_every_min=60,
    quiet_from=time(21, 30),
    quiet_to=time(6, 0),
    give_up=time(20, 0),
)
PLACE = Place(latitude=47.05, longitude=8.31, time_zone=ZONE, elevation_m=440.0)

TOMATO = Crop(
    name="tomato",
    frost_class=FrostClass.TENDER,
    cover_at_c=0.6,
    kill_at_c=0.0,
    germination_min_c=10.0,
    emergence=((10.0, 43.0), (15.0, 14.0), (20.0, 8.0), (25.0, 6.0), (30.0, 6.0)),
    depth_cm=0.6,
    spacing_cm=61.0,
    per_bale=(2, 2),
    days_to_maturity=(65, 80),
    maturity_from_transplant=True,
    mature_height_cm=200.0,
    support=Support.STAKE,
    appetite=Appetite.HEAVY,
)
RADISH = replace(
    TOMATO,
    name="radish",
    frost_class=FrostClass.HARDY,
    cover_at_c=-2.2,
    kill_at_c=-3.3,
    spacing_cm=6.0,
    per_bale=(50, 60),
    days_to_maturity=(25, 30),
    maturity_from_transplant=False,
    mature_height_cm=15.0,
    support=Support.NONE,
    appetite=Appetite.LIGHT,
)


def batch(**changes: object) -> Batch:
    """Return six bales of row A, started on 5 April 2027 on the alternate-days schedule."""
    schedule = SCHEDULES["alternate-days"]
    plain = Batch(
        name="Row A",
        bales=6,
        bale=BALES["two-string"],
        start_on=START,
        schedule=schedule,
        feed=FEEDS["Blood meal"],
        finishing_feed=FEEDS["Balanced"],
        nitrogen_per_full_dose_g=48.0,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def garden(*batches: Batch, **changes: object) -> Garden:
    """Return the garden with the given batches, or with row A alone."""
    plain = Garden(
        name="Orchard corner",
        place=PLACE,
        batches=batches or (batch(),),
        rules=DEFAULT_RULES,
        times=TIMES,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def planting(crop: Crop = TOMATO, method: Method = Method.TRANSPLANT, plants: int = 8) -> Planting:
    """Return a planting of the batch."""
    return Planting(crop=crop, plants=plants, method=method)


def at(on: date, hour: int = 6, minute: int = 30) -> datetime:
    """Return a moment of the garden's local date in UTC (Zurich summer time, two hours ahead)."""
    return datetime(on.year, on.month, on.day, hour, minute, tzinfo=UTC) - timedelta(hours=2)


def on_day(day: int) -> date:
    """Return the date of a day of the conditioning sequence when nothing was held."""
    return START + timedelta(days=day - 1)


def mild(hour: Hour) -> Hour:
    """Leave an hour as it is."""
    return hour


def forecast(
    issued: datetime, change: Callable[[Hour], Hour] = mild, days: int = 10, **values: float
) -> Forecast:
    """Return a mild, dry forecast from the midnight before `issued` on, with hours changed."""
    begins = issued.replace(hour=0, minute=0, second=0, microsecond=0)
    base: dict[str, float] = {
        "temperature_c": 14.0,
        "rain_mm": 0.0,
        "rain_chance_percent": 5.0,
        "relative_humidity_percent": 60.0,
        "dew_point_c": 6.0,
        "wind_m_s": 2.0,
        "radiation_w_m2": 200.0,
        "cloud_percent": 50.0,
        "snow_cm": 0.0,
    }
    base.update(values)
    hours = tuple(
        change(Hour(begins + timedelta(hours=number), **base)) for number in range(24 * days)
    )
    return Forecast(
        source="made-to-measure",
        issued_at=issued,
        fetched_at=issued,
        hours=hours,
        attribution="Made for a test.",
    )


def hour_at(moment: datetime, **values: float | None) -> Callable[[Hour], Hour]:
    """Return a change of the one hour that begins at a moment."""

    def change(hour: Hour) -> Hour:
        return replace(hour, **values) if hour.starts_at == moment else hour  # type: ignore[arg-type]

    return change


def tell(journal: Journal, told: Brief) -> Journal:
    """Return the journal after a brief was told as the daemon tells it."""
    return (*journal, *told_entries(told, told.as_of, {}))


def word(kind: EntryKind, key: TaskKey | str, moment: datetime, on: date) -> JournalEntry:
    """Return the grower's word about a task."""
    return JournalEntry(moment, "Orchard corner", on, kind, batch="Row A", task=str(key))


def done(key: TaskKey | str, moment: datetime, on: date) -> JournalEntry:
    """Return the grower's word that a task is done."""
    return word(EntryKind.DONE, key, moment, on)


def missed(key: TaskKey | str, moment: datetime, on: date) -> JournalEntry:
    """Return the grower's word that a task was missed."""
    return word(EntryKind.MISSED, key, moment, on)


def tell_whole(journal: Journal, plan: Garden, seen: Forecast, moment: datetime) -> Journal:
    """Return the journal after a morning was told with its whole brief kept."""
    return keep_whole(journal, plan, brief(plan, journal, seen, moment))


def keep_whole(journal: Journal, plan: Garden, told: Brief) -> Journal:
    """Return the journal after a brief was told, kept with its weather and amounts."""
    return (*journal, *told_entries(told, told.as_of, brief_json(told, plan)))


def told_until(plan: Garden, day: int) -> Journal:
    """Return the journal of a daemon that told every morning before a day of the sequence."""
    journal: Journal = ()
    for past in range(1, day):
        moment = at(on_day(past))
        journal = tell_whole(journal, plan, forecast(moment, days=7), moment)
    return journal
