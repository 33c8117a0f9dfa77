"""Whether a morning needs a word: the same watering is told once for some days.

A morning that has nothing new is silent: bales that need no water, work that waits until the date
that was said, the daily look at the thermometer, one more night of the same frost. The mail before
said all of it, and nobody gets up for one that says to do nothing.

After a few mornings with nothing but watering the days ahead are told at once; from then on only
what differs is told, on its own morning. What was told is what the journal counts as given.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from itertools import count, takewhile
from math import ceil
from statistics import mean

from msgspec import Struct
from msgspec.structs import replace

from strawbell.agronomy.bale.size_and_mass import top_area_m2
from strawbell.agronomy.bale.watering import refill_from_l
from strawbell.model.brief import (
    Action,
    AlertCode,
    Also,
    Brief,
    Caution,
    ReasonCode,
    State,
    Task,
)
from strawbell.model.details import HarvestDetail
from strawbell.model.forecast import DayWeather, ForecastStatus
from strawbell.model.garden import Bale, Garden
from strawbell.model.routine import Extra, Portion, Week
from strawbell.season.bale_course import TOP_WATER_MM
from strawbell.season.journal_index import JournalIndex, reasons_kept
from strawbell.season.local_time import DAY
from strawbell.season.stage import dated_key

MORNINGS_BEFORE = 1
"""Mornings of nothing but watering before it is a routine (design choice: the second is one)."""
LEAST_DAYS = 3
"""Fewer days ahead are not worth a word for all of them."""
MOST_DAYS = 7
"""A week: as far as an hourly forecast is worth planning by, and a growers' week has a mail."""
HANDY_L = 0.5
"""A can is filled to the half litre."""
_WATERING = frozenset({Action.WATER, Action.SURFACE_WATER})
_EXTRA = frozenset({Action.HARVEST, Action.INSPECT})
"""What can be told ahead with its day: it hangs on no weather."""
_CARE = frozenset({Also.LOOK_FIRST})
_NO_NEED = frozenset({Also.MOIST_ENOUGH, Also.FULL, Also.RAIN_WATERS})
_LASTING = frozenset({AlertCode.FREEZE})
"""Alerts that say nothing new on the day after: the hose is drained."""
_USUAL = frozenset({ReasonCode.FIRST_WEEKS})
"""Reasons that say nothing about one morning more than about another."""


class Spoken(Struct, frozen=True):
    """A morning as it is told: with the word for a `week` that begins, or not at all."""

    brief: Brief
    week: Week | None = None
    is_silent: bool = False


def spoken(today: Brief, garden: Garden, index: JournalIndex) -> Spoken:
    """Return how a morning is told, where the same watering is told by the week."""
    if not garden.times.weekly_routine or not _is_calm(today, index):
        return Spoken(today)
    if today.on - DAY in index.briefed and today.tasks:
        waiting = [_as_said(task, today.on, index) for task in today.tasks]
        if None not in waiting:
            told = replace(today, tasks=tuple(each for each in waiting if each is not None))
            return Spoken(told, is_silent=True)
    if not all(map(_is_plain, today.tasks)):
        return Spoken(today)
    week = index.week
    if week is not None and week.since < today.on <= week.until:
        if not _fits(today.tasks, today.on, garden, week):
            return Spoken(today)
        wet = _wets(today.weather, garden) or _wets(index.weather.get(today.on - DAY), garden)
        unneeded = [
            each for each in week.portions if each.litres and _task_of(each, today.tasks) is None
        ]
        told = _as_told(today, garden, week, rests=wet)
        return Spoken(told, is_silent=not (wet and unneeded))
    if not today.tasks or not _was_usual(today, index):
        return Spoken(today)
    week = _week(today, garden, index)
    return Spoken(today) if week is None else Spoken(_as_told(today, garden, week), week)


def _is_calm(today: Brief, index: JournalIndex) -> bool:
    """Return whether nothing but the work itself could need a word in a morning."""
    said = (today.questions, today.not_told, today.crowding)
    before = index.alerts.get(today.on - DAY, {})
    news = (each for each in today.alerts if each.code not in _LASTING or each.key not in before)
    return (
        not any(said)
        and not any(news)
        and not any(each.steps for each in today.preparing)
        and not any(each.make_up for each in today.outlooks)
        and today.forecast.status is ForecastStatus.FRESH
        and index.away_on(today.on) is None
    )


def _as_said(task: Task, on: date, index: JournalIndex) -> Task | None:
    """Return work of which a mail before said all that there is, as it said it; None if it is new.

    That is a day of water on which no bale lacks any, a hold within the date it was told until,
    and the daily look at the thermometer, which is told again after a week.
    """
    if task.suffering or task.note:
        return None
    own, kept = index.batch(task.batch).told, index.amounts.get(task.key, {})
    if task.state is State.HELD:
        until, before = kept.get("held_until"), own.get(on - DAY, {}).get(task.key)
        asks = any(why.code is ReasonCode.HELD_LONG for why in task.reasons)
        asks = asks and ReasonCode.HELD_LONG not in reasons_kept(kept)
        if before is not State.HELD or asks or not isinstance(until, str):
            return None
        said = date.fromisoformat(until)
        return replace(task, held_until=said) if on < said else None
    if task.state is not State.DUE or not _NO_NEED.issuperset(task.also):
        return None
    if task.action is Action.INSPECT and Caution.HOT_BALE in task.cautions:
        days = takewhile(
            lambda day: dated_key(task.batch, task.action, day) in own.get(day, {}),
            (on - number * DAY for number in count(1)),
        )
        return task if sum(1 for _ in days) % MOST_DAYS else None
    needless = task.action is Action.WATER and task.water_per_bale_l == 0.0
    return task if needless and not task.cautions else None


def _is_plain(task: Task) -> bool:
    is_same = task.state is State.DUE and not (task.suffering or task.note)
    is_same = is_same and _CARE.issuperset(task.also)
    if task.action in _EXTRA:
        hot = Caution.HOT_BALE in task.cautions
        ends = isinstance(task.detail, HarvestDetail)
        return is_same and not (ends or task.reasons or hot)
    return (
        is_same
        and task.action in _WATERING
        and task.water_per_bale_l != 0.0
        and _USUAL.issuperset(why.code for why in task.reasons)
    )


def _was_usual(today: Brief, index: JournalIndex) -> bool:
    """Return whether the mornings before told the same watering, whatever else they told."""
    watered = {(each.batch, each.action) for each in today.tasks if each.action in _WATERING}
    before = [today.on - number * DAY for number in range(1, MORNINGS_BEFORE + 1)]
    return all(
        dated_key(batch, action, on) in index.batch(batch).told.get(on, {})
        for batch, action in watered
        for on in before
    )


def _week(today: Brief, garden: Garden, index: JournalIndex) -> Week | None:
    """Return the word for the coming days, None where they are too few or too different.

    What they need is only known on their own morning; so it is what the last ones needed.
    """
    days = [(today.on, today.tasks)]
    days += [(each.on, each.tasks) for each in today.ahead[: MOST_DAYS - 1]]
    plain = [(on, tasks) for on, tasks in days if all(map(_is_plain, tasks))]
    if len(plain) < LEAST_DAYS:
        return None
    portions = tuple(
        Portion(task.batch, task.action, _handy_l(task, garden, index, today.on), task.times_a_day)
        for task in today.tasks
        if task.action in _WATERING
    )
    extras = tuple(
        Extra(on, task.key.text()) for on, tasks in plain for task in tasks if task.action in _EXTRA
    )
    return Week(today.on, plain[-1][0], portions, extras) if portions else None


def _handy_l(task: Task, garden: Garden, index: JournalIndex, on: date) -> float | None:
    """Return what the last mornings asked for at a time, in halves of a litre [L per bale].

    Their mean, not their most: what is poured on top of the need for a week is washed out below.
    None where no morning asked for more than a top wants.
    """
    own = index.batch(task.batch).told
    asked = [(task.water_per_bale_l, task.times_a_day)]
    for number in range(1, MOST_DAYS):
        key = dated_key(task.batch, task.action, on - number * DAY)
        if key not in own.get(on - number * DAY, {}):
            break
        told = index.amounts.get(key, {})
        water, times = told.get("water_per_bale_l"), told.get("times_a_day")
        litres = float(water) if isinstance(water, (int, float)) else None
        asked.append((litres, times if isinstance(times, int) else 1))
    if all(litres is None for litres, _ in asked):
        return None
    bale = _bale_of(task, garden)
    each_day = mean(times * _poured_l(litres, bale) for litres, times in asked)
    return ceil(each_day / task.times_a_day / HANDY_L) * HANDY_L


def _bale_of(work: Task | Portion, garden: Garden) -> Bale:
    return next(each.bale for each in garden.batches if each.name == work.batch)


def _poured_l(litres: float | None, bale: Bale) -> float:
    """Return what is poured at a time [L]; without an amount it is what a top wants."""
    return TOP_WATER_MM * top_area_m2(bale) if litres is None else litres


def _fits(tasks: Iterable[Task], on: date, garden: Garden, week: Week) -> bool:
    """Return whether what is due on a date was told with the week.

    A bale that lacks more than that is told of from as much on as it is refilled for; till then
    the water of the next mornings makes up for it.
    """
    extras = {each.key for each in week.extras if each.on == on}
    for task in tasks:
        if task.action in _EXTRA:
            if task.key.text() not in extras:
                return False
            continue
        told = next(
            (p for p in week.portions if (p.batch, p.action) == (task.batch, task.action)), None
        )
        if told is None or task.times_a_day > told.times_a_day:
            return False
        bale = _bale_of(task, garden)
        needed_l = task.times_a_day * _poured_l(task.water_per_bale_l, bale)
        told_l = told.times_a_day * _poured_l(told.litres, bale)
        if needed_l - told_l >= refill_from_l(bale):
            return False
    return True


def _wets(weather: DayWeather | None, garden: Garden) -> bool:
    """Return whether the rain of a day waters bales too."""
    rain_mm = None if weather is None else weather.rain_mm
    return rain_mm is not None and rain_mm >= garden.rules.dry_day_mm


def _task_of(portion: Portion, tasks: Iterable[Task]) -> Task | None:
    wanted = portion.batch, portion.action
    return next((task for task in tasks if (task.batch, task.action) == wanted), None)


def _as_told(today: Brief, garden: Garden, week: Week, *, rests: bool = False) -> Brief:
    """Return a morning with the water of the week; where it `rests`, bales in no need get none."""
    left = [task for task in today.tasks if task.action not in _WATERING]
    return replace(today, tasks=(*_watered(today, garden, week, rests=rests), *left))


def _watered(today: Brief, garden: Garden, week: Week, *, rests: bool) -> Iterator[Task]:
    bales = {batch.name: batch.bales for batch in garden.batches}
    for each in week.portions:
        task = _task_of(each, today.tasks)
        if task is not None:
            yield replace(task, water_per_bale_l=each.litres, times_a_day=each.times_a_day)
        elif each.batch in bales and each.litres is not None:
            key = dated_key(each.batch, each.action, today.on)
            none = Task(key, each.batch, bales[each.batch], each.action, State.DUE)
            litres, also = (0.0, (Also.RAIN_WATERS,)) if rests else (each.litres, ())
            yield replace(none, water_per_bale_l=litres, also=also)
