"""The journal of one garden, indexed once for the planner, and what it says of a batch on a date.

A past day counts as done as planned unless the journal says otherwise; which dates the journal
can speak for is what the index knows. The fold of a season is told of the journal by day logs
alone. Nothing is deleted: a row of the grower's is taken back by a later row that says so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from itertools import product

from msgspec import Struct, convert, field
from msgspec.structs import replace

from strawbell.agronomy.readiness import Reading
from strawbell.model.brief import (
    AlertKey,
    FeedSeries,
    State,
    Step,
    Task,
    TaskKey,
    Week,
    WorkKind,
    is_conditional,
)
from strawbell.model.forecast import DayWeather, Readings
from strawbell.model.garden import Batch, slug
from strawbell.model.journal import (
    GROWERS_KINDS,
    EntryKind,
    Journal,
    JournalEntry,
    crops_kept,
    planners_part,
)
from strawbell.season.local_time import DAY

ALERT_TOLD = "told"
"""State of a journal row that tells an alert."""
ALERT_PASSED = "passed"
"""State of a journal row that takes an alert back."""

OUTAGE_BEGAN = "forecast-outage-began"
"""State of a journal row that says forecasts stopped coming."""
OUTAGE_ENDED = "forecast-outage-ended"
"""State of a journal row that says forecasts are back."""
_OUTAGE = {OUTAGE_BEGAN: True, OUTAGE_ENDED: False}

_STEPS = frozenset(map(str, Step))

LATE = "late"
"""In the data of a row that makes work due: that it was after noon."""
ANSWERED_BY = "answered_by"
"""In the data of a row that came as an answer to a notice: the channel it came by."""

FEED_PER_BALE = "feed_per_bale_g"
"""Figure of a feeding beyond the plan alone: what each bale got of the feed [g]."""

EXPLAINED_FOR = timedelta(days=200)
"""How long the steps of a kind of work are remembered: a season (design choice)."""

ToldStates = Mapping[TaskKey, State]
"""The state each task had last on one local date, by task key."""


class Answer(Struct, frozen=True):
    """The grower's word about one task: done or missed, and when it was written.

    `number` counts the words of a garden in the order they were written.
    """

    key: TaskKey
    done: bool
    on: date
    at: datetime
    batch: str | None = None
    number: int = 0


class ExtraFeeding(Struct, frozen=True):
    """A feeding beyond the plan: when, of what, how much, and the nitrogen it gave a bale [g].

    As to make up for a storm; it is known only from the grower's word.
    """

    key: TaskKey
    on: date
    feed: str
    feed_per_bale_g: float
    nitrogen_per_bale_g: float


class DayLog(Struct, frozen=True):
    """A batch on the date `on` by the journal; `told` is None where nothing was told of it.

    `is_kept` says that the journal is kept for the batch: before that the plan speaks. `readings`
    are all of the batch, oldest first; `weather` is that of all dates as it came, or else as their
    own mornings expected it; `amounts` are those that were told or recorded with a task last.
    """

    on: date
    is_kept: bool = False
    briefed_at: datetime | None = None
    is_away: bool = False
    """Whether nobody is in the garden."""
    told: ToldStates | None = None
    told_before: ToldStates = field(default_factory=dict)
    """What was told the day before."""
    taken_back: Collection[TaskKey] = ()
    """Work told as due in the morning and held later that day."""
    late: Collection[TaskKey] = ()
    """Work that became due after noon: in silence it is not done yet."""
    conditional: Collection[TaskKey] = ()
    """Work told as due without a forecast: in silence nobody knows."""
    answers: Sequence[Answer] = ()
    """The grower's words of the date, about any batch of the garden."""
    answers_since: Mapping[TaskKey, Answer] = field(default_factory=dict)
    """Where no brief was told on the date: the first word about a task from it on."""
    again: Collection[TaskKey] = ()
    """Work that was missed on the date and told on an earlier one."""
    extra_feedings: tuple[ExtraFeeding, ...] = ()
    """What was fed beyond the plan, on whatever date."""
    readings: Sequence[Reading] = ()
    weather: Mapping[date, DayWeather] = field(default_factory=dict)
    amounts: Mapping[TaskKey, Mapping[str, object]] = field(default_factory=dict)

    def answer(self, key: TaskKey) -> Answer | None:
        """Return the last answer of the date about a task."""
        words = [word for word in self.answers if word.key == key]
        return words[-1] if words else None

    def is_done(self, key: TaskKey) -> bool:
        """Return whether the last word of the date about a task is that it was done."""
        word = self.answer(key)
        return word is not None and word.done

    def is_missed(self, key: TaskKey) -> bool:
        """Return whether the last word of the date about a task is that it was missed."""
        word = self.answer(key)
        return word is not None and not word.done

    def is_early(self, word: Answer) -> bool:
        """Return whether a word of the date was written before its brief was told."""
        return self.briefed_at is None or word.at < self.briefed_at

    def is_open(self, key: TaskKey) -> bool:
        """Return whether work told as due is not done unless somebody says so."""
        return self.is_away or key in self.late or key in self.conditional

    def state_of(self, key: TaskKey) -> State | None:
        """Return as what a task was told last on the date, None where it was not."""
        return (self.told or {}).get(key)

    def crops_of(self, key: TaskKey) -> tuple[str, ...]:
        """Return the crops that a task was last told for, none where none were."""
        return crops_kept(self.amounts.get(key, {}))

    def reasons_of(self, key: TaskKey) -> tuple[str, ...]:
        """Return the codes of the reasons that a task was last told with."""
        return reasons_kept(self.amounts.get(key, {}))

    @property
    def extra_nitrogen_g(self) -> float:
        """What each bale was given beyond the plan [g N]."""
        return sum(each.nitrogen_per_bale_g for each in self.extra_feedings)

    def as_told(self, tasks: Sequence[Task], at: datetime) -> DayLog:
        """Return the log when these tasks of the batch are told too: one projected day.

        What is projected takes for granted that a condition was met.
        """
        briefed_at = self.briefed_at or at
        if not tasks:
            return replace(self, briefed_at=briefed_at)
        told = {**(self.told or {}), **{task.key: task.state for task in tasks}}
        return replace(self, briefed_at=briefed_at, told=told, conditional=(), is_kept=True)


def figure(data: Mapping[str, object], name: str) -> float | None:
    """Return a figure in the data of a row, None where none is kept."""
    value = data.get(name)
    return float(value) if isinstance(value, (int, float)) else None


def reasons_kept(data: Mapping[str, object]) -> tuple[str, ...]:
    """Return the codes of the reasons in the data of a row."""
    told = data.get("reasons", ())
    return tuple(map(str, told)) if isinstance(told, (list, tuple)) else ()


_Mark = tuple[str, str, str, str, str]


def taken_back(entry: JournalEntry, undo: JournalEntry) -> JournalEntry:
    """Return `undo` completed as the row that takes `entry` back."""
    moment, on, kind, batch, task = _mark(entry)
    data = {"at": moment, "on": on, "kind": kind, "batch": batch, "task": task}
    return JournalEntry(
        undo.at, entry.garden, undo.local_date, EntryKind.UNDONE, entry.batch, entry.task,
        None, None, undo.text, data,
    )  # fmt: skip


def standing(journal: Iterable[JournalEntry]) -> Journal:
    """Return the rows that still stand, without the ones that take others back."""
    rows = tuple(journal)
    undone = Counter(_named(row) for row in rows if row.kind is EntryKind.UNDONE)
    if not undone:
        return rows
    kept: list[JournalEntry] = []
    # From the end: of two rows that look the same the later one is meant.
    for row in reversed(rows):
        if row.kind is EntryKind.UNDONE:
            continue
        mark = _mark(row) if row.kind in GROWERS_KINDS else None
        if mark is not None and undone[mark] > 0:
            undone[mark] -= 1
            continue
        kept.append(row)
    return tuple(reversed(kept))


def last_words(journal: Journal) -> Journal:
    """Return the rows of the last answer of the grower's that still stands, all of one moment."""
    words = [row for row in standing(journal) if row.kind in GROWERS_KINDS]
    return tuple(row for row in words if row.at == words[-1].at) if words else ()


def _mark(row: JournalEntry) -> _Mark:
    moment, on = row.at.isoformat(), row.local_date.isoformat()
    return moment, on, row.kind.value, row.batch or "", row.task or ""


def _named(undo: JournalEntry) -> _Mark:
    named = [str(undo.data.get(name, "")) for name in ("at", "on", "kind", "batch", "task")]
    return named[0], named[1], named[2], named[3], named[4]


class BatchLog(Struct):
    """What the journal says of one batch."""

    told: dict[date, dict[TaskKey, State]] = field(default_factory=dict)
    taken_back: dict[date, set[TaskKey]] = field(default_factory=dict)
    late: dict[date, set[TaskKey]] = field(default_factory=dict)
    conditional: dict[date, set[TaskKey]] = field(default_factory=dict)
    """These three by date, as a day log has them."""
    readings: list[Reading] = field(default_factory=list)

    def kept_since(self, start_on: date) -> date:
        """Return since when the journal is kept for the batch in the season begun on a date.

        It is from the first told task of that season on; before it the plan speaks.
        """
        return min((on for on in self.told if on >= start_on), default=date.max)

    def was_told_before(self, key: TaskKey, on: date) -> bool:
        """Return whether a task was told on an earlier date than this."""
        return any(key in tasks for told_on, tasks in self.told.items() if told_on < on)


class JournalIndex(Struct):
    """What the journal of a garden says, by batch, by date and by task.

    `briefed` is when the brief of a local date was told, `answers` the grower's words by task in
    the order they were written, `answered_on` the same by date, `amounts` those that were told or
    recorded with a task last.
    """

    batches: dict[str, BatchLog] = field(default_factory=dict)
    briefed: dict[date, datetime] = field(default_factory=dict)
    answers: dict[TaskKey, list[Answer]] = field(default_factory=dict)
    answered_on: dict[date, list[Answer]] = field(default_factory=dict)
    amounts: dict[TaskKey, Mapping[str, object]] = field(default_factory=dict)
    words: int = 0
    """How many of them there are."""
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
    evenings: dict[date, str] = field(default_factory=dict)
    """What each evening found has to be bought, a sentence a line: told with the next brief."""
    excused: set[date] = field(default_factory=set)
    """Dates already written down as ones that nothing could be told on."""
    in_outage: bool = False
    """Whether the last word about the forecast services was that they stopped."""

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
        rows = tuple(entries)
        kept = standing(rows)
        stands = None if len(kept) == len(rows) else set(map(id, kept))
        for entry in rows:
            if stands is not None and id(entry) not in stands:
                if entry.kind is EntryKind.UNDONE and self._was_told_back(entry):
                    self.heard.append(entry)
                continue
            self._take(entry)
            if entry.kind in GROWERS_KINDS and ANSWERED_BY in entry.data:
                self.heard.append(entry)

    def _was_told_back(self, undo: JournalEntry) -> bool:
        """Return whether an answer takes back a word that a brief has already confirmed."""
        if ANSWERED_BY not in undo.data or not self.briefed:
            return False
        said_at = datetime.fromisoformat(str(undo.data["at"]))
        return said_at < max(self.briefed.values())

    def is_told_again(self, entry: JournalEntry) -> bool:
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

    def batch(self, name: str) -> BatchLog:
        """Return what is known of a batch, empty when nothing is."""
        return self.batches.get(name) or BatchLog()

    def day(self, batch: Batch, on: date) -> DayLog:
        """Return what the journal says of a batch on a date."""
        return next(self.days(batch, on, on + DAY))

    def days(self, batch: Batch, since: date, before: date) -> Iterator[DayLog]:
        """Yield what the journal says of a batch on each date in [since, before)."""
        own, extra = self.batch(batch.name), self._extra_feedings(batch)
        kept_since, on = own.kept_since(batch.start_on), since
        while on < before:
            answers = self.answered_on.get(on, ())
            yield DayLog(
                on,
                is_kept=kept_since <= on,
                briefed_at=self.briefed.get(on),
                is_away=self.away_on(on) is not None,
                told=own.told.get(on),
                told_before=own.told.get(on - DAY, {}),
                taken_back=own.taken_back.get(on, ()),
                late=own.late.get(on, ()),
                conditional=own.conditional.get(on, ()),
                answers=answers,
                answers_since={} if on in self.briefed else self._first_answers_since(on),
                again={
                    word.key
                    for word in answers
                    if not word.done and own.was_told_before(word.key, on)
                },
                extra_feedings=extra,
                readings=own.readings,
                weather=self.weather,
                amounts=self.amounts,
            )
            on += DAY

    def _first_answers_since(self, on: date) -> Mapping[TaskKey, Answer]:
        """Return the first answer about each task that was given on or after a date."""
        return {
            key: word
            for key, words in self.answers.items()
            for word in reversed(words)
            if word.on >= on
        }

    def _extra_feedings(self, batch: Batch) -> tuple[ExtraFeeding, ...]:
        """Return what a batch was fed beyond the plan since its start, oldest first.

        The last word about a date counts; what was taken back as missed does not.
        """
        own, found = slug(batch.name), []
        for key, words in self.answers.items():
            if key.series is not FeedSeries.EXTRA or key.batch != own:
                continue
            if key.on is None or key.on < batch.start_on:
                continue
            word, told = words[-1], self.amounts.get(key, {})
            nitrogen_g = figure(told, "nitrogen_per_bale_g")
            feed_g = figure(told, FEED_PER_BALE)
            known = word.done and word.batch == batch.name
            if known and nitrogen_g is not None and feed_g is not None:
                feed = str(told.get("feed", ""))
                found.append(ExtraFeeding(key, key.on, feed, feed_g, nitrogen_g))
        return tuple(sorted(found, key=lambda each: each.on))

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
        elif kind is EntryKind.EVENING:
            self.evenings[entry.local_date] = entry.text
        elif kind is EntryKind.NOT_TOLD:
            self.excused.add(entry.local_date)
        elif kind is EntryKind.ALERT:
            key = AlertKey.parse(entry.task or "")
            if key is not None:
                self.alerts.setdefault(entry.local_date, {})[key] = entry.state == ALERT_TOLD
        elif kind in (EntryKind.DONE, EntryKind.MISSED):
            self._take_answer(entry)
        elif entry.batch is not None:
            self._take_for_batch(entry, self.batches.setdefault(entry.batch, BatchLog()))

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
        is_done, on = entry.kind is EntryKind.DONE, entry.local_date
        word = Answer(key, is_done, on, entry.at, entry.batch, self.words)
        self.words += 1
        self.answers.setdefault(key, []).append(word)
        self.answered_on.setdefault(on, []).append(word)
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
                batch.taken_back.setdefault(entry.local_date, set()).add(key)
            if entry.state == State.DUE and is_conditional(key.action, reasons_kept(entry.data)):
                batch.conditional.setdefault(entry.local_date, set()).add(key)
            if entry.data.get(LATE):
                batch.late.setdefault(entry.local_date, set()).add(key)
            if entry.data:
                self.amounts[key] = entry.data
        elif kind is EntryKind.TEMPERATURE and entry.value is not None:
            batch.readings.append(Reading(entry.at, entry.value))


def task_of(entry: JournalEntry, batches: Iterable[str] = ()) -> TaskKey | None:
    """Return the key of the task a row is about, None where it is about none that is known.

    `batches` are those of the garden, for a row that does not say its own.
    """
    own = batches if entry.batch is None else (entry.batch,)
    return TaskKey.parse(entry.task, own) if entry.task else None


def _weather_kept(kept: object) -> DayWeather:
    """Return the weather of a day as it was kept; what is not kept is unknown."""
    if not isinstance(kept, Mapping):
        return DayWeather()
    return DayWeather(
        low_c=figure(kept, "low_c"),
        high_c=figure(kept, "high_c"),
        rain_mm=figure(kept, "rain_mm"),
        rain_chance_percent=figure(kept, "rain_chance_percent"),
        complete=kept.get("complete") is True,
    )


def _steps_kept(kept: object) -> Iterator[tuple[str, Step]]:
    """Yield each batch and step before its first soaking that a kept brief told."""
    for told in kept if isinstance(kept, (list, tuple)) else ():
        if isinstance(told, Mapping):
            for batch, step in product(told.get("batches") or (), told.get("steps") or ()):
                if step in _STEPS:
                    yield str(batch), Step(step)
