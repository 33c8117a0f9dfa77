"""A batch with plants in it on a date, as the stages of the season see it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

from msgspec.structs import replace

from strawbell.agronomy.crop_table import CROPS
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Batch, Garden, Planting
from strawbell.season.harvesting import grown
from strawbell.season.journal_index import DayLog
from strawbell.season.stage import (
    BatchState,
    Day,
    Frozen,
    Growth,
    SequenceState,
    last_harvest_key,
    planting_key,
)
from support.gardens import batch, garden

FINISHED = date(2027, 4, 15)
"""Last day of conditioning."""
PLANTED = date(2027, 5, 1)
"""When the crops of these tests went in."""
BEAN = CROPS["bean"]
PEA = CROPS["pea"]
LETTUCE = CROPS["lettuce"]
SPINACH = CROPS["spinach"]
CUCUMBER = CROPS["cucumber"]
RIPENS_BY_WARMTH = CROPS["tomato"]
"""A tomato that wants 694 degree days over 10 degC."""


def after(days: int) -> date:
    """Return the date so many days after planting."""
    return PLANTED + timedelta(days=days)


def row(*plantings: Planting, **changes: object) -> Batch:
    """Return row A with its crops."""
    return batch(plantings=plantings, **changes)


def state(
    own: Batch,
    done: Mapping[str, date] | None = None,
    frozen: Mapping[str, Frozen] | None = None,
    since: date | None = PLANTED,
) -> BatchState:
    """Return the batch after conditioning; all its crops are in since a date, unless it is None."""
    put_in = {} if since is None else {planting_key(own, each): since for each in own.plantings}
    sequence = SequenceState(
        position=len(own.schedule.days), soaked=True, finished_on=FINISHED, waits_since=FINISHED
    )
    return BatchState(sequence, {**put_in, **(done or {})}, {}, frozen or {})


def day(
    on: date,
    *plantings: Planting,
    done: Mapping[str, date] | None = None,
    frozen: Mapping[str, Frozen] | None = None,
    since: date | None = PLANTED,
    weather: Mapping[date, DayWeather] | None = None,
    plan: Garden | None = None,
    **changes: object,
) -> Day:
    """Return a date of row A, its crops planted on `PLANTED`, its stages told nothing more."""
    own = row(*plantings, **changes)
    where = state(own, done, frozen, since)
    known = weather or {}
    first = min(where.done.values(), default=on)
    growth: Mapping[str, Growth] = {}
    for past in (first + timedelta(days=ago) for ago in range((on - first).days)):
        put_in = {key: since for key, since in where.done.items() if since <= past}
        growth = grown(own, put_in, growth, known.get(past), past)
    log = DayLog(on, weather=known)
    return Day(plan or garden(own), own, replace(where, growth=growth), log)


def over(own: Batch, planting: Planting, on: date) -> dict[str, date]:
    """Return what says that a crop was over on a date."""
    return {last_harvest_key(own, planting): on}


def weather(
    first: date, days: int, low_c: float, high_c: float, **values: object
) -> dict[date, DayWeather]:
    """Return the same known weather on some days."""
    known = replace(DayWeather(low_c=low_c, high_c=high_c, rain_mm=0.0, complete=True), **values)
    return {first + timedelta(days=number): known for number in range(days)}
