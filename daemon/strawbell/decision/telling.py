"""How a brief is told: whether it needs a word at all, what of it is kept, what has changed since.

A morning that has nothing new is silent: bales that need no water, work that waits until the date
that was said, the daily look at the thermometer, one more night of the same frost. The mail before
said all of it, and nobody gets up for one that says to do nothing.

After a few mornings with nothing but watering the days ahead are told at once; from then on only
what differs is told, on its own morning. What was told is what the journal counts as given.

Decided 2026-11-25: The weather of a day is a row of its own: as its morning expected it, and the
next morning as it came, where the service still knows every hour of it. The nitrogen book counts
that rain.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, date, datetime, timedelta
from itertools import count, takewhile
from math import ceil
from statistics import mean
from zoneinfo import ZoneInfo

from msgspec import Struct
from msgspec.structs import asdict, replace

from strawbell.agronomy.bales import top_area_m2
from strawbell.agronomy.watering import refill_from_l
from strawbell.decision.daily_weather import was_clear
from strawbell.model.brief import (
    Action,
    Alert,
    AlertCode,
    AlertKey,
    Also,
    Brief,
    Caution,
    Extra,
    Portion,
    ReasonCode,
    State,
    Task,
    Week,
)
from strawbell.model.details import HarvestDetail
from strawbell.model.forecast import DayWeather, Forecast, ForecastStatus
from strawbell.model.garden import Bale, Garden
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.bale_course import TOP_WATER_MM
from strawbell.season.journal_index import (
    ALERT_PASSED,
    ALERT_TOLD,
    LATE,
    JournalIndex,
    reasons_kept,
)
from strawbell.season.local_time import DAY, bounds_of
from strawbell.season.season_summary import FREEZE_CHANCE, RAIN_CHANCE
from strawbell.season.stage import dated_key
from strawbell.weather.judgement import day_weather

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
    if week is None:
        return Spoken(today)
    told = _as_told(today, garden, week)
    return Spoken(_to_look_first(told) if _wets(today.weather, garden) else told, week)


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
    """Return whether the morning before told the same watering, whatever else it told.

    The second morning of it is a routine (design choice).
    """
    before = today.on - DAY
    return all(
        dated_key(each.batch, each.action, before) in index.batch(each.batch).told.get(before, {})
        for each in today.tasks
        if each.action in _WATERING
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


def _to_look_first(today: Brief) -> Brief:
    """Return a wet morning with the word to look before anything is watered.

    The amount of a week is what dry mornings asked for.
    """
    tasks = (
        replace(task, also=tuple(dict.fromkeys((*task.also, Also.LOOK_FIRST))))
        if task.action in _WATERING
        else task
        for task in today.tasks
    )
    return replace(today, tasks=tuple(tasks))


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


NIGHT = "night"
"""What the date that a night of frost begins on is kept as."""
NOON_HOUR = 12
"""Who looks at the mail in the morning may not see what comes after it (common practice)."""
URGENT = frozenset({AlertCode.FROST, AlertCode.HEAVY_RAIN, AlertCode.SELF_HEATING})
"""Alerts that are told at once when they come up after the brief."""


class Changes(Struct, frozen=True):
    """What is different from what was told today.

    `tasks` changed between due and held, as they are now; `alerts` came up, `passed` are those
    that were told and no longer stand.
    """

    tasks: tuple[Task, ...] = ()
    alerts: tuple[Alert, ...] = ()
    passed: tuple[AlertKey, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.tasks or self.alerts or self.passed)

    def cover(self, alert: Alert) -> bool:
        """Return whether what changed says an alert already: itself, or work held for the same."""
        if any((each.code, each.batch) == (alert.code, alert.batch) for each in self.alerts):
            return True
        held_for = {reason.code for task in self.tasks for reason in task.reasons}
        return any(reason.code in held_for for reason in alert.reasons)


def told_entries(
    brief: Brief, at: datetime, data: Mapping[str, object]
) -> tuple[JournalEntry, ...]:
    """Return the rows that say a brief was told: the whole of it, each task, each alert.

    `data` is the brief as it is kept for `strawbell why`.
    """
    at = at.astimezone(UTC)
    whole = JournalEntry(at, brief.garden, brief.on, EntryKind.BRIEF, data=data)
    tasks = tuple(
        _task_entry(brief, task, at, EntryKind.TOLD)
        for task in brief.tasks
        if task.state in (State.DUE, State.HELD)
    )
    return (whole, *tasks, *(_alert_entry(brief, alert, at) for alert in brief.alerts))


def weather_entries(
    brief: Brief, zone: ZoneInfo, forecast: Forecast | None, at: datetime
) -> tuple[JournalEntry, ...]:
    """Return the rows that keep the weather: today's as expected, and yesterday's as it came.

    Only a service that still knows every hour of yesterday says how it came; else what was
    expected stands.
    """
    yesterday = brief.on - DAY
    came = day_weather(forecast, *bounds_of(yesterday, zone))
    kept = {brief.on: brief.weather}
    if came.complete and brief.forecast.status is ForecastStatus.FRESH:
        kept = {yesterday: came, **kept}
    return tuple(
        JournalEntry(
            at.astimezone(UTC),
            brief.garden,
            on,
            EntryKind.WEATHER,
            data={**asdict(weather), "clear_night": was_clear(forecast, on, zone)},
        )
        for on, weather in kept.items()
    )


def changes_since(brief: Brief, index: JournalIndex) -> Changes:
    """Return what differs between what was told today and the brief as it is now.

    Only work told as due or held counts, and only the alerts in `URGENT`; a task the grower has
    answered is never brought up again.
    """
    tasks = tuple(task for task in brief.tasks if _has_turned(task, brief, index))
    told = index.alerts.get(brief.on, {})
    now = {each.key: each for each in brief.alerts if each.code in URGENT}
    judged = brief.forecast.status == "fresh"
    passed = tuple(
        key
        for key, stands in told.items()
        if stands and key not in now and key.code in URGENT and judged
    )
    return Changes(
        tasks=tasks,
        alerts=tuple(alert for key, alert in now.items() if not told.get(key, False)),
        passed=passed,
    )


def change_entries(brief: Brief, changes: Changes, at: datetime) -> tuple[JournalEntry, ...]:
    """Return the rows that say a change was told."""
    at = at.astimezone(UTC)
    passed = tuple(
        JournalEntry(at, brief.garden, brief.on, EntryKind.ALERT, task=each, state=ALERT_PASSED)
        for each in (key.text() for key in changes.passed)
    )
    return (
        *(_changed_entry(brief, task, at) for task in changes.tasks),
        *(_alert_entry(brief, alert, at) for alert in changes.alerts),
        *passed,
    )


def _has_turned(task: Task, brief: Brief, index: JournalIndex) -> bool:
    if task.state not in (State.DUE, State.HELD):
        return False
    told = index.batch(task.batch).told.get(brief.on, {}).get(task.key)
    if told is None or told is task.state:
        return False
    # Without a forecast nothing is taken back: what was told stays.
    return brief.forecast.status == "fresh" or task.state is State.HELD


def _changed_entry(brief: Brief, task: Task, at: datetime) -> JournalEntry:
    """Return the row of work that changed; what became due after noon is marked so."""
    entry = _task_entry(brief, task, at, EntryKind.TAKEN_BACK)
    if task.state is not State.DUE or brief.as_of.hour < NOON_HOUR:
        return entry
    return replace(entry, data={**entry.data, LATE: True})


def _task_entry(brief: Brief, task: Task, at: datetime, kind: EntryKind) -> JournalEntry:
    return JournalEntry(
        at=at,
        garden=brief.garden,
        local_date=brief.on,
        kind=kind,
        batch=task.batch,
        task=task.key.text(),
        state=task.state.value,
        data=_amounts(task),
    )


CHANCES: Mapping[ReasonCode, str] = {
    ReasonCode.HEAVY_RAIN: RAIN_CHANCE,
    ReasonCode.RAIN_POSSIBLE: RAIN_CHANCE,
    ReasonCode.UNDER_TARP: RAIN_CHANCE,
    ReasonCode.FREEZE: FREEZE_CHANCE,
    ReasonCode.WARM_HOURS: FREEZE_CHANCE,
}
"""What a chance is kept as with the work it was told with; what came lies beside it by date."""


def _amounts(task: Task) -> Mapping[str, object]:
    amounts: dict[str, object] = {"action": task.action.value}
    if task.day is not None:
        amounts["day"] = task.day
    if task.crops:
        amounts["crops"] = list(task.crops)
    if task.water_per_bale_l is not None:
        amounts["water_per_bale_l"] = task.water_per_bale_l
    if task.times_a_day > 1:
        amounts["times_a_day"] = task.times_a_day
    if task.held_until is not None:
        amounts["held_until"] = task.held_until.isoformat()
    if task.dose is not None:
        amounts["feed"] = task.dose.feed
        amounts["per_bale_g"] = task.dose.per_bale_g
        amounts["total_g"] = task.dose.total_g
        amounts["nitrogen_per_bale_g"] = task.dose.nitrogen_per_bale_g
    if task.reasons:
        amounts["reasons"] = [why.code.value for why in task.reasons]
    for why in task.reasons:
        if why.code in CHANCES and why.chance is not None:
            amounts[CHANCES[why.code]] = round(why.chance, 3)
    return amounts


def _alert_entry(brief: Brief, alert: Alert, at: datetime) -> JournalEntry:
    data = {}
    if alert.code is AlertCode.FROST and alert.starts_at is not None:
        data[NIGHT] = (alert.starts_at - timedelta(hours=NOON_HOUR)).date().isoformat()
    return JournalEntry(
        at=at,
        garden=brief.garden,
        local_date=brief.on,
        kind=EntryKind.ALERT,
        batch=alert.batch,
        task=alert.key.text(),
        state=ALERT_TOLD,
        data=data,
    )
