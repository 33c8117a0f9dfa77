"""The journal of one garden, indexed once for the planner.

A past day counts as done as planned unless the journal says otherwise; which dates the journal
can speak for is what this index knows.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, timedelta
from itertools import product

from msgspec import Struct, convert, field
from msgspec.structs import replace

from strawbell.agronomy.bale.readiness import Reading
from strawbell.model.brief import (
    AlertKey,
    State,
    Step,
    Task,
    TaskKey,
    WorkKind,
    is_conditional,
)
from strawbell.model.forecast import DayWeather, Readings
from strawbell.model.garden import Batch
from strawbell.model.journal import (
    GROWERS_KINDS,
    EntryKind,
    Journal,
    JournalEntry,
    crops_kept,
    planners_part,
)
from strawbell.model.routine import Week
from strawbell.season.undone import standing

ALERT_TOLD = "told"
"""State of a journal row that tells an alert."""
ALERT_PASSED = "passed"
"""State of a journal row that takes an alert back."""

OUTAGE_BEGAN = "forecast-outage-began"
"""State of a journal row that says forecasts stopped coming."""
OUTAGE_ENDED = "forecast-outage-ended"
"""State of a journal row that says forecasts are back."""
_OUTAGE = {OUTAGE_BEGAN: True, OUTAGE_ENDED: False}

LATE = "late"
"""In the data of a row that makes work due: that it was after noon."""
ANSWERED_BY = "answered_by"
"""In the data of a row that came as an answer to a notice: the channel it came by."""

EXPLAINED_FOR = timedelta(days=200)
"""How long the steps of a kind of work are remembered: a season (design choice)."""

ToldStates = dict[TaskKey, State]
"""The state each task had last on one local date, by task key."""


class Answer(Struct, frozen=True):
    """The grower's word about one task: done or missed, and when it was written."""

    key: TaskKey
    done: bool
    on: date
    at: datetime
    batch: str | None = None


class Walked(Struct, frozen=True):
    """A state of `batch` that was walked from its start to the date `on`, before that begins.

    What a state is, only `season.batch_state` knows, which keeps it here.
    """

    batch: Batch
    on: date
    state: object


class BatchLog(Struct):
    """What the journal says of one batch."""

    told: dict[date, ToldStates] = field(default_factory=dict)
    taken_back: set[tuple[date, TaskKey]] = field(default_factory=set)
    """Dates and keys of work told as due in the morning and held later that day."""
    late: set[tuple[date, TaskKey]] = field(default_factory=set)
    """Dates and keys of work that became due after noon: in silence it is not done yet."""
    conditional: set[tuple[date, TaskKey]] = field(default_factory=set)
    """Dates and keys of work told as due without a forecast: in silence nobody knows."""
    readings: list[Reading] = field(default_factory=list)
    harvested: dict[str, date] = field(default_factory=dict)
    """Last noted harvest by crop."""

    def kept_on(self, on: date, since: date) -> bool:
        """Return whether the journal was kept for the batch on a date of the season since `since`.

        It is from the first told task of that season on; before it the plan speaks.
        """
        return any(since <= told <= on for told in self.told)


class JournalIndex(Struct):
    """What the journal of a garden says, by batch, by date and by task.

    `briefed` is when the brief of a local date was told, `answers` the grower's words by task in
    the order they were written, `answered_on` the same by date, `amounts` the figures that were
    told or recorded with a task.
    """

    batches: dict[str, BatchLog] = field(default_factory=dict)
    briefed: dict[date, datetime] = field(default_factory=dict)
    answers: dict[TaskKey, list[Answer]] = field(default_factory=dict)
    answered_on: dict[date, list[Answer]] = field(default_factory=dict)
    amounts: dict[TaskKey, Mapping[str, object]] = field(default_factory=dict)
    alerts: dict[date, dict[AlertKey, bool]] = field(default_factory=dict)
    """By date and alert key, whether the alert told last still stands."""
    weather: dict[date, DayWeather] = field(default_factory=dict)
    """The weather of a date as its own morning expected it, or as it came where that is known.
    What the grower measured goes before what a service says."""
    prepared: dict[tuple[str, Step], date] = field(default_factory=dict)
    """By batch and step before its first soaking, when that was told last."""
    measured: dict[date, dict[EntryKind, float]] = field(default_factory=dict)
    """Rain [mm] and low [degC] of a date by the grower's own instruments."""
    away: dict[date, date] = field(default_factory=dict)
    """First and last dates on which nobody is in the garden."""
    week: Week | None = None
    """The watering that was told for some days at once, the last time."""
    said_lows: dict[date, float] = field(default_factory=dict)
    """The low of a date by the service, also where the grower measured another [degC]."""
    said_rains: dict[date, float] = field(default_factory=dict)
    """The same of its rain [mm]."""
    clear_nights: dict[date, bool] = field(default_factory=dict)
    """Whether the night that ends on a date was clear and calm, where the service said so."""
    heard: list[JournalEntry] = field(default_factory=list)
    """The grower's answers to notices since the last brief, which the next one confirms."""
    evenings: set[date] = field(default_factory=set)
    excused: set[date] = field(default_factory=set)
    """Dates already written down as ones that nothing could be told on."""
    in_outage: bool = False
    """Whether the last word about the forecast services was that they stopped."""
    walked: dict[str, Walked] = field(default_factory=dict)
    """By batch, how far its state was walked already; only a memory, it decides nothing."""
    courses: dict[str, Walked] = field(default_factory=dict)
    """The same of the balance of its bales."""

    @classmethod
    def of(cls, journal: Journal | JournalIndex) -> JournalIndex:
        """Index the rows of one garden, oldest first; an index is returned as it is."""
        if isinstance(journal, JournalIndex):
            return journal
        index = cls()
        index.take(journal)
        return index

    def take(self, entries: Iterable[JournalEntry]) -> None:
        """Index further rows, which were written after all that are known."""
        for entry in standing(entries):
            again = self._is_told_again(entry)
            self._take(entry)
            if entry.kind in GROWERS_KINDS and ANSWERED_BY in entry.data:
                self.heard.append(entry)
            for memory in (self.walked, self.courses):
                if memory:
                    _forget(memory, entry)
                if again and entry.batch is not None:
                    # Its figures take the place of those that the earlier day was walked with.
                    memory.pop(entry.batch, None)

    def _is_told_again(self, entry: JournalEntry) -> bool:
        """Return whether a row tells work that was due on an earlier date already."""
        if entry.kind is not EntryKind.TOLD or entry.batch is None:
            return False
        key = task_of(entry)
        if key is None:
            return False
        told = self.batch(entry.batch).told.items()
        return any(on < entry.local_date and tasks.get(key) is State.DUE for on, tasks in told)

    def away_on(self, on: date) -> date | None:
        """Return until when nobody is in the garden on a date, None when somebody is."""
        ends = [last for first, last in self.away.items() if first <= on <= last]
        return max(ends, default=None)

    def is_open(self, batch: str, key: TaskKey, on: date) -> bool:
        """Return whether work told as due on a date is not done unless somebody says so."""
        own = self.batch(batch)
        silent = (on, key) in own.late or (on, key) in own.conditional
        return silent or self.away_on(on) is not None

    def batch(self, name: str) -> BatchLog:
        """Return what is known of a batch, empty when nothing is."""
        return self.batches.get(name) or BatchLog()

    def with_told(self, on: date, at: datetime, tasks: Iterable[Task]) -> JournalIndex:
        """Return a copy in which the tasks of a date are told too: one projected day."""
        batches, amounts = dict(self.batches), dict(self.amounts)
        for task in tasks:
            known = batches.get(task.batch) or BatchLog()
            told = {**known.told, on: {**known.told.get(on, {}), task.key: task.state}}
            # What is projected takes for granted that a condition was met.
            conditional = {each for each in known.conditional if each[0] != on}
            batches[task.batch] = replace(known, told=told, conditional=conditional)
            if task.reasons:
                reasons = [why.code.value for why in task.reasons]
                amounts[task.key] = {**amounts.get(task.key, {}), "reasons": reasons}
        briefed = {**self.briefed, on: self.briefed.get(on, at)}
        return replace(
            self, batches=batches, briefed=briefed, amounts=amounts, walked={}, courses={}
        )

    def reasons_told(self, key: TaskKey) -> tuple[str, ...]:
        """Return the codes of the reasons that a task was last told with."""
        return _reasons_kept(self.amounts.get(key, {}))

    def crops_told(self, key: TaskKey) -> tuple[str, ...]:
        """Return the crops that a task was last told for, none where none were."""
        return crops_kept(self.amounts.get(key, {}))

    def feeds_at_hand(self, since: date) -> frozenset[str]:
        """Return the names of the feeds told or recorded since a date, for any batch."""
        told = {
            key
            for known in self.batches.values()
            for on, keys in known.told.items()
            if on >= since
            for key in keys
        }
        recorded = {
            key for key, words in self.answers.items() if words[-1].done and words[-1].on >= since
        }
        return frozenset(
            str(self.amounts[key]["feed"])
            for key in told | recorded
            if "feed" in self.amounts.get(key, {})
        )

    def explained(self, today: date) -> dict[WorkKind, date]:
        """Return which kinds of work were told as due before a date, and when first.

        After a winter the steps are told anew.
        """
        first: dict[WorkKind, date] = {}
        since = today - EXPLAINED_FOR
        for known in self.batches.values():
            for on, told in known.told.items():
                if not since <= on < today:
                    continue
                for key, state in told.items():
                    if state is State.DUE:
                        feed = self.amounts.get(key, {}).get("feed")
                        kind = key.kind(str(feed or ""))
                        first[kind] = min(on, first.get(kind, on))
        return first

    def not_told(self, today: date) -> tuple[date, ...]:
        """Return the past dates since the first brief that got none: the daemon was down."""
        if not self.briefed:
            return ()
        days = range(min(self.briefed).toordinal(), today.toordinal())
        return tuple(on for day in days if (on := date.fromordinal(day)) not in self.briefed)

    def done_on(self, key: TaskKey, on: date) -> bool:
        """Return whether the last word about a task on a date is that it was done."""
        word = self.word_on(key, on)
        return word is not None and word.done

    def missed_on(self, key: TaskKey, on: date) -> bool:
        """Return whether the last word about a task on a date is that it was missed."""
        word = self.word_on(key, on)
        return word is not None and not word.done

    def first_word_since(self, key: TaskKey, on: date) -> Answer | None:
        """Return the first answer about a task given on or after a date."""
        return next((word for word in self.answers.get(key, ()) if word.on >= on), None)

    def last_word_between(self, key: TaskKey, since: date, before: date) -> Answer | None:
        """Return the last answer about a task given in [since, before), of this season only."""
        words = [word for word in self.answers.get(key, ()) if since <= word.on < before]
        return words[-1] if words else None

    def word_on(self, key: TaskKey, on: date) -> Answer | None:
        """Return the last answer about a task on a date."""
        words = [word for word in self.answered_on.get(on, ()) if word.key == key]
        return words[-1] if words else None

    def _take(self, entry: JournalEntry) -> None:
        kind = entry.kind
        if kind is EntryKind.BRIEF:
            self._take_brief(entry)
        elif kind is EntryKind.WEATHER:
            self._take_weather(entry.local_date, _weather_kept(entry.data))
            if isinstance(clear := entry.data.get("clear_night"), bool):
                self.clear_nights[entry.local_date] = clear
        elif kind is EntryKind.AWAY:
            self.away[entry.local_date] = date.fromisoformat(entry.text)
        elif kind in (EntryKind.RAIN, EntryKind.LOW) and entry.value is not None:
            self.measured.setdefault(entry.local_date, {})[kind] = entry.value
            known = self.weather.get(entry.local_date, DayWeather())
            self._keep_weather(entry.local_date, known)
        elif kind is EntryKind.SERVICE:
            self.in_outage = _OUTAGE.get(entry.state or "", self.in_outage)
        elif kind in (EntryKind.EVENING, EntryKind.NOT_TOLD):
            seen = self.evenings if kind is EntryKind.EVENING else self.excused
            seen.add(entry.local_date)
        elif kind is EntryKind.ALERT:
            key = AlertKey.parse(entry.task or "")
            if key is not None:
                self.alerts.setdefault(entry.local_date, {})[key] = entry.state == ALERT_TOLD
        elif kind in (EntryKind.DONE, EntryKind.MISSED):
            self._take_answer(entry)
        elif entry.batch is not None:
            if entry.batch not in self.batches:
                self.batches[entry.batch] = BatchLog()
            self._take_for_batch(entry, self.batches[entry.batch])

    def _take_brief(self, entry: JournalEntry) -> None:
        self.briefed.setdefault(entry.local_date, entry.at)
        self.heard.clear()
        # Nothing else of it: that is all the store gives.
        data = planners_part(entry.data)
        if "week" in data:
            self.week = convert(data["week"], Week)
        for batch, step in _steps_kept(data.get("preparing")):
            self.prepared[batch, step] = entry.local_date
        if entry.local_date not in self.weather:
            self._take_weather(entry.local_date, _weather_kept(data.get("weather")))

    def readings(self) -> Readings:
        """Return what the grower measured beside what the service said, by date."""
        measured = sorted(self.measured.items())
        return Readings(
            lows=tuple(
                (self.said_lows[on], each[EntryKind.LOW], self.clear_nights.get(on))
                for on, each in measured
                if EntryKind.LOW in each and on in self.said_lows
            ),
            rains=tuple(
                (self.said_rains[on], each[EntryKind.RAIN])
                for on, each in measured
                if EntryKind.RAIN in each and on in self.said_rains
            ),
        )

    def _take_weather(self, on: date, weather: DayWeather) -> None:
        """Take the weather of a date: what was said of it first, and what is known of it last."""
        if weather.low_c is not None:
            self.said_lows.setdefault(on, weather.low_c)
        if weather.rain_mm is not None and weather.complete:
            self.said_rains.setdefault(on, weather.rain_mm)
        self._keep_weather(on, weather)

    def _keep_weather(self, on: date, weather: DayWeather) -> None:
        measured = self.measured.get(on)
        if measured:
            low_c, high_c = measured.get(EntryKind.LOW, weather.low_c), weather.high_c
            # A low that was read lies over the high of a day that was foretold too cold.
            weather = replace(
                weather,
                rain_mm=measured.get(EntryKind.RAIN, weather.rain_mm),
                low_c=low_c,
                high_c=high_c if low_c is None or high_c is None else max(low_c, high_c),
            )
        self.weather[on] = weather

    def _take_answer(self, entry: JournalEntry) -> None:
        key = task_of(entry, self.batches)
        if key is None:
            return
        word = Answer(key, entry.kind is EntryKind.DONE, entry.local_date, entry.at, entry.batch)
        self.answers.setdefault(key, []).append(word)
        self.answered_on.setdefault(entry.local_date, []).append(word)
        if entry.data:
            # What was recorded stands beside what was told.
            self.amounts[key] = {**self.amounts.get(key, {}), **entry.data}

    def _take_for_batch(self, entry: JournalEntry, batch: BatchLog) -> None:
        kind = entry.kind
        if kind in (EntryKind.TOLD, EntryKind.TAKEN_BACK) and entry.task and entry.state:
            told = batch.told.setdefault(entry.local_date, {})
            key = task_of(entry)
            if key is None:
                return
            told[key] = State(entry.state)
            if kind is EntryKind.TAKEN_BACK and entry.state == State.HELD:
                batch.taken_back.add((entry.local_date, key))
            if entry.state == State.DUE and is_conditional(key.action, _reasons_kept(entry.data)):
                batch.conditional.add((entry.local_date, key))
            if entry.data.get(LATE):
                batch.late.add((entry.local_date, key))
            self._keep_amounts(key, entry)
        elif kind is EntryKind.TEMPERATURE and entry.value is not None:
            batch.readings.append(Reading(entry.at, entry.value))
        elif kind is EntryKind.HARVEST:
            batch.harvested[entry.text] = entry.local_date

    def _keep_amounts(self, key: TaskKey, entry: JournalEntry) -> None:
        if entry.data:
            self.amounts[key] = entry.data


def _reasons_kept(data: Mapping[str, object]) -> tuple[str, ...]:
    told = data.get("reasons", ())
    return tuple(map(str, told)) if isinstance(told, (list, tuple)) else ()


def task_of(entry: JournalEntry, batches: Iterable[str] = ()) -> TaskKey | None:
    """Return the key of the task a row is about, None where it is about none that is known.

    `batches` are those of the garden, for a row that does not say its own.
    """
    own = batches if entry.batch is None else (entry.batch,)
    return TaskKey.parse(entry.task, own) if entry.task else None


def _forget(memory: dict[str, Walked], entry: JournalEntry) -> None:
    """Forget the walks that a new row could change.

    A state rests on rows of earlier dates, and on the grower's words, about whatever date.
    """
    if entry.kind in (EntryKind.DONE, EntryKind.MISSED):
        memory.clear()
        return
    for name in [name for name, walk in memory.items() if entry.local_date < walk.on]:
        del memory[name]


def _weather_kept(kept: object) -> DayWeather:
    """Return the weather of a day as it was kept; what is not kept is unknown."""
    if not isinstance(kept, Mapping):
        return DayWeather()
    return DayWeather(
        low_c=_number(kept.get("low_c")),
        high_c=_number(kept.get("high_c")),
        rain_mm=_number(kept.get("rain_mm")),
        rain_chance_percent=_number(kept.get("rain_chance_percent")),
        complete=kept.get("complete") is True,
    )


def _steps_kept(kept: object) -> Iterator[tuple[str, Step]]:
    """Yield each batch and step before its first soaking that a kept brief told."""
    for told in kept if isinstance(kept, (list, tuple)) else ():
        if isinstance(told, Mapping):
            for batch, step in product(told.get("batches") or (), told.get("steps") or ()):
                if step in _STEPS:
                    yield str(batch), Step(step)


_STEPS = frozenset(map(str, Step))


def _number(kept: object) -> float | None:
    return float(kept) if isinstance(kept, (int, float)) else None
