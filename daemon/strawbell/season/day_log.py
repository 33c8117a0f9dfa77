"""What the journal says of one batch on one date: all that the fold of a season is told of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime

from msgspec import Struct, field
from msgspec.structs import replace

from strawbell.agronomy.bale.readiness import Reading
from strawbell.model.brief import State, Task, TaskKey
from strawbell.model.forecast import DayWeather
from strawbell.model.journal import crops_kept

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
