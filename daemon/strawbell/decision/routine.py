"""Whether a morning needs a word: the same watering is told once for some days.

A morning on which bales in conditioning need nothing is silent: the one before said what comes
next, and nobody gets up for a mail that says to do nothing.

After a few mornings with nothing but watering the days ahead are told at once; from then on only
what differs is told, on its own morning. What was told is what the journal counts as given.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from math import ceil
from statistics import mean

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.brief import Action, Also, Brief, Caution, ReasonCode, State, Task
from strawbell.model.details import HarvestDetail
from strawbell.model.forecast import DayWeather, ForecastStatus
from strawbell.model.garden import Garden
from strawbell.model.routine import Extra, Portion, Week
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import DAY
from strawbell.season.task_keys import dated_key

MORNINGS_BEFORE = 2
"""Mornings of nothing but watering before it is a routine (design choice: the third is one)."""
LEAST_DAYS = 3
"""Fewer days ahead are not worth a word for all of them."""
MOST_DAYS = 7
"""A week: as far as an hourly forecast is worth planning by, and a growers' week has a mail."""
MORE_SHARE, MORE_L = 1.3, 0.3
"""A day that needs more than this share and so much over it is told by itself [1, L per bale]. A
bale holds the water of a day and more in reserve; what it lacks is made up the next morning."""

HANDY_L = 0.5
"""A can is filled to the half litre."""
_WATERING = frozenset({Action.WATER, Action.SURFACE_WATER})
_EXTRA = frozenset({Action.HARVEST, Action.INSPECT})
"""What can be told ahead with its day: it hangs on no weather."""
_CARE = frozenset({Also.LOOK_FIRST})
_NO_NEED = frozenset({Also.MOIST_ENOUGH, Also.FULL, Also.RAIN_WATERS})
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
    if _rests(today, index):
        return Spoken(today, is_silent=True)
    if not all(map(_is_plain, today.tasks)):
        return Spoken(today)
    week = index.week
    if week is not None and week.since < today.on <= week.until:
        if not _fits(today.tasks, today.on, week):
            return Spoken(today)
        wet = _wets(today.weather, garden) or _wets(index.weather.get(today.on - DAY), garden)
        unneeded = [
            each for each in week.portions if each.litres and _task_of(each, today.tasks) is None
        ]
        told = _as_told(today, garden, week, rests=wet)
        return Spoken(told, is_silent=not (wet and unneeded))
    if not today.tasks or not _was_usual(index, today.on):
        return Spoken(today)
    week = _week(today, index)
    return Spoken(today) if week is None else Spoken(_as_told(today, garden, week), week)


def _is_calm(today: Brief, index: JournalIndex) -> bool:
    """Return whether nothing but the work itself could need a word in a morning."""
    said = (today.alerts, today.questions, today.not_told, today.crowding)
    return (
        not any(said)
        and not any(each.steps for each in today.preparing)
        and not any(each.make_up for each in today.outlooks)
        and today.forecast.status is ForecastStatus.FRESH
        and index.away_on(today.on) is None
    )


def _rests(today: Brief, index: JournalIndex) -> bool:
    """Return whether all that is due is a day of water on which no bale lacks any."""
    return (
        today.on - DAY in index.briefed
        and bool(today.tasks)
        and all(
            task.action is Action.WATER
            and task.state is State.DUE
            and task.water_per_bale_l == 0.0
            and not (task.suffering or task.note or task.cautions)
            and _NO_NEED.issuperset(task.also)
            for task in today.tasks
        )
    )


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


def _was_usual(index: JournalIndex, on: date) -> bool:
    """Return whether the mornings before a date told nothing but watering and picking."""
    usual = _WATERING | _EXTRA
    before = [on - number * DAY for number in range(1, MORNINGS_BEFORE + 1)]
    return all(each in index.briefed for each in before) and all(
        key.action in usual
        for own in index.batches.values()
        for each in before
        for key in own.told.get(each, {})
    )


def _week(today: Brief, index: JournalIndex) -> Week | None:
    """Return the word for the coming days, None where they are too few or too different.

    What they need is only known on their own morning; so it is what the last ones needed.
    """
    days = [(today.on, today.tasks)]
    days += [(each.on, each.tasks) for each in today.ahead[: MOST_DAYS - 1]]
    plain = [(on, tasks) for on, tasks in days if all(map(_is_plain, tasks))]
    if len(plain) < LEAST_DAYS:
        return None
    portions = tuple(
        Portion(task.batch, task.action, _handy_l(task, index, today.on), task.times_a_day)
        for task in today.tasks
        if task.action in _WATERING
    )
    extras = tuple(
        Extra(on, task.key.text()) for on, tasks in plain for task in tasks if task.action in _EXTRA
    )
    return Week(today.on, plain[-1][0], portions, extras) if portions else None


def _handy_l(task: Task, index: JournalIndex, on: date) -> float | None:
    """Return what the last mornings asked for at a time, in halves of a litre [L per bale].

    Their mean, not their most: what is poured on top of the need for a week is washed out below.
    """
    if task.water_per_bale_l is None:
        return None
    litres = [task.water_per_bale_l * task.times_a_day]
    for number in range(1, MORNINGS_BEFORE + 1):
        key = dated_key(task.batch, task.action, on - number * DAY)
        told = index.amounts.get(key, {})
        water, times = told.get("water_per_bale_l"), told.get("times_a_day")
        if isinstance(water, (int, float)):
            litres.append(float(water) * (times if isinstance(times, int) else 1))
    return ceil(mean(litres) / task.times_a_day / HANDY_L) * HANDY_L


def _fits(tasks: Iterable[Task], on: date, week: Week) -> bool:
    """Return whether what is due on a date was told with the week."""
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
        needed_l, told_l = task.water_per_bale_l, told.litres
        if needed_l is not None and (told_l is None or needed_l > told_l * MORE_SHARE + MORE_L):
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
