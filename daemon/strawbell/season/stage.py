"""A batch on a date: the keys of its work, where it stands, and what every stage is told of it.

What comes after conditioning is made of tasks with a key of their own (planting, a support, the
third feeding of the season) and of tasks that carry their date (watering the top). Only the first
kind is remembered.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Set
from datetime import date, timedelta
from functools import cached_property, lru_cache

from msgspec import Struct, field

from strawbell.model.brief import (
    Action,
    Also,
    Caution,
    FeedSeries,
    Question,
    Reason,
    State,
    Task,
    TaskKey,
)
from strawbell.model.details import Detail
from strawbell.model.feeds import Dose, Feed, Material
from strawbell.model.garden import (
    Batch,
    Garden,
    Method,
    Planting,
    RainCover,
    Schedule,
    ScheduleDay,
    slug,
)
from strawbell.season.journal_index import Answer, DayLog


class Given(Struct, frozen=True):
    """A feeding that counts as given."""

    on: date
    key: TaskKey
    step: ScheduleDay


class SequenceState(Struct, frozen=True):
    """Where a batch stands in its conditioning at the beginning of a date.

    `again` are feedings put back to the front; `position` is the index of the next day of the
    schedule; `held_days` counts the days the one in front has been held; `questions` are feedings
    that could not be told, the first of which the sequence waits for; `waits_since` is the date
    from which the one in front has been in line, None for the first of all.
    """

    again: tuple[ScheduleDay, ...] = ()
    position: int = 0
    held_days: int = 0
    given: tuple[Given, ...] = ()
    questions: tuple[Question, ...] = ()
    soaked: bool = False
    finished_on: date | None = None
    waits_since: date | None = None
    taken_back: bool = False
    """The one in front was told as due, and held later that day: it may have been given."""
    behind: int = 0
    """Days that feedings were held for and that no day of water has made up for yet."""
    unanswered: bool = False
    """The one in front was told late, or while nobody was there, and nobody said it was done."""
    said: Mapping[TaskKey, Answer] = field(default_factory=dict)
    """The grower's last word of earlier dates about each day of the sequence."""


class Growth(Struct, frozen=True):
    """The days that count for a planting since a date, and when the soonest and all of it was ripe.

    The dates are None while they are still to come.
    """

    since: date
    days: float = 0.0
    ripe_on: date | None = None
    all_ripe_on: date | None = None


class Frozen(Struct, frozen=True):
    """A planting that stood since a date and was killed on another.

    A `young` one had nothing to pick yet.
    """

    on: date
    since: date
    young: bool


class BatchState(Struct, frozen=True):
    """Conditioning, and by task key when a once-done task was done and how long it was held.

    `frozen` says by the key of its planting what a freeze has killed. What was too young to be
    picked counts as not planted any more; the rest stands until it is cleared. `growth` says by
    the same key how far a planting has come, `tarped` whether a tarp lies over the bales.
    """

    sequence: SequenceState = field(default_factory=SequenceState)
    done: Mapping[TaskKey, date] = field(default_factory=dict)
    held: Mapping[TaskKey, int] = field(default_factory=dict)
    frozen: Mapping[TaskKey, Frozen] = field(default_factory=dict)
    growth: Mapping[TaskKey, Growth] = field(default_factory=dict)
    tarped: bool = False


KEYS_KEPT = 1024
"""The keys of a large garden's crops, which every stage of every date asks for."""


def conditioning_key(batch: str, day: int, action: Action) -> TaskKey:
    """Return the key of a conditioning day; a held feeding keeps it until it is done."""
    return TaskKey(slug(batch), action, day=day)


@lru_cache(maxsize=KEYS_KEPT)
def once_key(batch: str, action: Action, crop: str | None = None, *, last: bool = False) -> TaskKey:
    """Return the key of a task that is done once in a batch, or once for a crop of it."""
    return TaskKey(slug(batch), action, crop=slug(crop) if crop else "", last=last)


def picking_key(batch: str, crop: str, number: int) -> TaskKey:
    """Return the key of a picking of a crop, counted from 1."""
    return TaskKey(slug(batch), Action.HARVEST, crop=slug(crop), number=number)


def season_feeding_key(batch: str, number: int) -> TaskKey:
    """Return the key of a feeding of the season, counted from 1."""
    return TaskKey(slug(batch), Action.FEED, series=FeedSeries.SEASON, number=number)


def dated_key(batch: str, action: Action, on: date, crop: str | None = None) -> TaskKey:
    """Return the key of a task that comes again on other dates."""
    return TaskKey(slug(batch), action, crop=slug(crop) if crop else "", on=on)


def extra_key(batch: str, on: date) -> TaskKey:
    """Return the key of what a batch was fed beyond the plan on a date: one sum a date."""
    return TaskKey(slug(batch), Action.FEED, series=FeedSeries.EXTRA, on=on)


FIRST_WEEKS_DAYS = 21
"""How long seedlings and transplants in a bale count as not established (common practice)."""
READING_COUNTS_DAYS = 3
"""How long a probe reading speaks for the bale (common practice: it is read daily)."""

PUTS_ON = {Action.LAY_TARP: True, Action.LIFT_TARP: False}
"""What work leaves a tarp on the bales, and what takes it off."""


class Day(Struct, frozen=True, dict=True):
    """A batch on a date, without the weather to come: where it stands, and what the journal says.

    For what the plan alone has due, the log of the date is empty.
    """

    # Without slots: every stage asks what stands in the bales, so a day keeps the answer.

    garden: Garden
    batch: Batch
    state: BatchState
    log: DayLog

    @property
    def on(self) -> date:
        """The date."""
        return self.log.on

    @cached_property
    def standing(self) -> tuple[tuple[Planting, date], ...]:
        """Return what stands in the bales on the date, and since when."""
        found = (
            (each, standing_since(self.batch, self.state, each)) for each in self.batch.plantings
        )
        return tuple((each, since) for each, since in found if since and since <= self.on)


Stage = Callable[[Day], tuple[Task, ...]]
"""One part of the season: what the plan alone has due for a batch on a date."""


def plant_from(schedule: Schedule, finished_on: date) -> date:
    """Return the first date a schedule allows planting when its last day was done on a date."""
    return finished_on + timedelta(days=schedule.plant_from_day - schedule.days[-1].day)


def planting_action(planting: Planting) -> Action:
    """Return whether a planting is sown or planted."""
    return Action.SOW if planting.method is Method.SEED else Action.PLANT


def planting_label(batch: Batch, planting: Planting) -> str:
    """Return what a planting is called in keys: its crop, numbered where a crop comes again."""
    name = planting.crop.name
    if len(batch.plantings) == 1:
        return name
    same = [each for each in batch.plantings if each.crop.name == name]
    number = next((at for at, each in enumerate(same) if each is planting), 0)
    return f"{name} {number + 1}" if number else name


def planting_key(batch: Batch, planting: Planting) -> TaskKey:
    """Return the key of putting a crop into the bales."""
    return once_key(batch.name, planting_action(planting), planting_label(batch, planting))


def planting_meant(batch: Batch, key: TaskKey) -> Planting | None:
    """Return the planting that a task key puts into the bales, None for a key of other work.

    A crop may stand in a batch twice, sown and set out; the key tells the two apart.
    """
    return next((each for each in batch.plantings if planting_key(batch, each) == key), None)


def planted_on(batch: Batch, state: BatchState, planting: Planting) -> date | None:
    """Return when a planting went into the bales, None when it has not."""
    return state.done.get(planting_key(batch, planting)) if state.done else None


def last_harvest_key(batch: Batch, planting: Planting) -> TaskKey:
    """Return the key of the last harvest, after which a crop is cleared."""
    return once_key(batch.name, Action.HARVEST, planting_label(batch, planting), last=True)


def is_picking(batch: Batch, planting: Planting, key: TaskKey) -> bool:
    """Return whether a key is of a picking of a planting, the last one included.

    A picking that the weather asks for on a date, beside the plan, is none.
    """
    if key.action is not Action.HARVEST or key.on is not None:
        return False
    return key.crop == last_harvest_key(batch, planting).crop


def over_on(batch: Batch, state: BatchState, planting: Planting) -> date | None:
    """Return when a crop was harvested for the last time, None while it is not over."""
    return state.done.get(last_harvest_key(batch, planting)) if state.done else None


def standing_since(batch: Batch, state: BatchState, planting: Planting) -> date | None:
    """Return since when a planting stands in the bales, None before it went in and once over."""
    since = planted_on(batch, state, planting)
    return None if since is None or over_on(batch, state, planting) is not None else since


def frozen_now(batch: Batch, state: BatchState, planting: Planting) -> Frozen | None:
    """Return the freeze that has killed a planting, None while it lives or was planted again."""
    key = planting_key(batch, planting)
    frozen = state.frozen.get(key)
    if frozen is None or state.done.get(key, frozen.on) > frozen.on:
        return None
    return frozen


def next_number(state: BatchState, first: TaskKey) -> tuple[int, date | None]:
    """Return the first number of a counted task that is not done, and when one was done last.

    Counted tasks come again after a while, each with a key of its own, of which `first` is number
    1; one that was recorded as missed is the next again.
    """
    numbered = {
        each.number: done
        for each, done in state.done.items()
        if each.number is not None
        and each.action is first.action
        and each.crop == first.crop
        and each.series is first.series
    }
    number = next(at for at in range(1, len(numbered) + 2) if at not in numbered)
    return number, max(numbered.values(), default=None)


def simple_task(
    day: Day,
    key: TaskKey,
    *,
    planting: Planting | None = None,
    dose: Dose | None = None,
    water_per_bale_l: float | None = None,
    reasons: tuple[Reason, ...] = (),
    also: tuple[Also, ...] = (),
    cautions: tuple[Caution, ...] = (),
    detail: Detail | None = None,
) -> Task:
    """Return a task that is due; a planting gives it its crop and number of plants."""
    return Task(
        key=key,
        batch=day.batch.name,
        bales=day.batch.bales,
        action=key.action,
        state=State.DUE,
        day=key.day,
        dose=dose,
        crops=(planting.crop.name,) if planting else (),
        plants=planting.plants if planting else None,
        water_per_bale_l=water_per_bale_l,
        held_days=day.state.held.get(key, 0),
        reasons=reasons,
        also=also,
        cautions=cautions,
        detail=detail,
    )


def changed(
    tasks: Iterable[Task], actions: Set[Action], change: Callable[[Task], Task]
) -> tuple[Task, ...]:
    """Return tasks with those of some actions changed."""
    return tuple(change(task) if task.action in actions else task for task in tasks)


def feed_cautions(feed: Feed, *, first_time: bool) -> tuple[Caution, ...]:
    """Return the cautions of handling a feed; the longer ones only the first time."""
    cautions = [Caution.FEED_HANDLING]
    if feed.material is Material.AMMONIUM_NITRATE:
        cautions.insert(0, Caution.AMMONIUM_NITRATE)
    if feed.material in (Material.BLOOD_MEAL, Material.BONE_MEAL, Material.FISH):
        cautions.append(Caution.PETS)
    if feed.material is Material.POULTRY_MANURE:
        cautions.append(Caution.RAW_MANURE)
    if feed.slow_release:
        cautions.append(Caution.SLOW_RELEASE)
    if first_time:
        cautions += [Caution.WATERCOURSE, Caution.LOCAL_RULES]
        if feed.form.is_poured:
            cautions.append(Caution.BACKFLOW)
    return tuple(cautions)


def lies(day: Day, on: date) -> bool:
    """Return whether the tarp lies on the bales at the beginning of a date, `day.on` or later."""
    lying = day.state.tarped
    return lying if on == day.on else lies_after(day.batch, day.log, lying=lying)


def lies_after(batch: Batch, log: DayLog, *, lying: bool) -> bool:
    """Return whether the tarp lies after a date on which it was `lying` or not.

    What was told counts as done unless it was answered otherwise; before the journal was kept
    nothing was.
    """
    if batch.rain_cover is RainCover.NONE:
        return False
    done = {
        key: standing is State.DUE and not log.is_open(key)
        for key, standing in (log.told or {}).items()
    }
    own = slug(batch.name)
    for word in log.answers:
        if word.key.batch == own:
            done[word.key] = word.done
    put = [PUTS_ON[key.action] for key, was in done.items() if was and key.action in PUTS_ON]
    return put[-1] if put else lying
