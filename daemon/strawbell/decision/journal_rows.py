"""What telling a brief writes into the journal, and what has changed since it was told.

Decided 2026-11-25: The weather of a day is a row of its own: as its morning expected it, and the
next morning as it came, where the service still knows every hour of it. The nitrogen book counts
that rain.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from msgspec import Struct
from msgspec.structs import asdict, replace

from strawbell.decision.daily_weather import was_clear
from strawbell.model.brief import Alert, AlertCode, AlertKey, Brief, ReasonCode, State, Task
from strawbell.model.feeds import Dose
from strawbell.model.forecast import Forecast, ForecastStatus
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.journal_index import ALERT_PASSED, ALERT_TOLD, LATE, JournalIndex
from strawbell.season.local_time import DAY, bounds_of
from strawbell.season.season_summary import FREEZE_CHANCE, RAIN_CHANCE
from strawbell.weather.days import day_weather

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
        amounts.update(_dose_amounts(task.dose))
    if task.reasons:
        amounts["reasons"] = [why.code.value for why in task.reasons]
    for why in task.reasons:
        if why.code in CHANCES and why.chance is not None:
            amounts[CHANCES[why.code]] = round(why.chance, 3)
    return amounts


def _dose_amounts(dose: Dose) -> Mapping[str, object]:
    return {
        "feed": dose.feed,
        "per_bale_g": dose.per_bale_g,
        "total_g": dose.total_g,
        "nitrogen_per_bale_g": dose.nitrogen_per_bale_g,
    }


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
