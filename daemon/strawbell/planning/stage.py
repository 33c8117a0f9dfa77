"""What every stage of a batch's life is told, and the small builders they share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from strawbell.model.brief import Action, Caution, State, Task
from strawbell.model.feeds import Feed, Material
from strawbell.model.garden import Batch, Garden, Method, Planting
from strawbell.planning.batch_state import BatchState
from strawbell.planning.keys import once_key

CONDITIONING_WATER_L = 3.8
"""Water a bale gets on a day of conditioning: about 1 US gal (common practice) [L]."""
FIRST_WEEKS_DAYS = 21
"""How long seedlings and transplants in a bale count as not established (common practice)."""
READING_COUNTS_DAYS = 3
"""How long a probe reading speaks for the bale (common practice: it is read daily)."""


@dataclass(frozen=True, slots=True)
class Day:
    """A batch on a date, without its weather."""

    garden: Garden
    batch: Batch
    state: BatchState
    on: date


Stage = Callable[[Day], tuple[Task, ...]]
"""One part of the season: what the plan alone has due for a batch on a date."""


def ready_by_plan(batch: Batch, state: BatchState) -> date | None:
    """Return the first date the schedule allows planting, None while conditioning runs."""
    finished = state.sequence.finished_on
    if finished is None:
        return None
    return finished + timedelta(days=batch.schedule.plant_from_day - batch.schedule.days[-1].day)


def planting_action(planting: Planting) -> Action:
    """Return whether a planting is sown or planted."""
    return Action.SOW if planting.method is Method.SEED else Action.PLANT


def planting_key(batch: Batch, planting: Planting) -> str:
    """Return the key of putting a crop into the bales."""
    return once_key(batch.name, planting_action(planting), planting.crop.name)


def planted_on(batch: Batch, state: BatchState, planting: Planting) -> date | None:
    """Return when a planting went into the bales, None when it has not."""
    return state.done.get(planting_key(batch, planting))


def simple_task(
    day: Day,
    action: Action,
    key: str,
    *,
    planting: Planting | None = None,
    water_per_bale_l: float | None = None,
    cautions: tuple[Caution, ...] = (),
) -> Task:
    """Return a due task without a dose; a planting gives it its crop and number of plants."""
    return Task(
        key=key,
        batch=day.batch.name,
        bales=day.batch.bales,
        action=action,
        state=State.DUE,
        crop=planting.crop.name if planting else None,
        plants=planting.plants if planting else None,
        water_per_bale_l=water_per_bale_l,
        held_days=day.state.held.get(key, 0),
        cautions=cautions,
    )


def feed_cautions(feed: Feed, *, first_time: bool) -> tuple[Caution, ...]:
    """Return the cautions of handling a feed; the longer ones only the first time."""
    cautions = [Caution.FEED_HANDLING]
    if feed.material is Material.AMMONIUM_NITRATE:
        cautions.insert(0, Caution.AMMONIUM_NITRATE)
    if feed.material in (Material.BLOOD_MEAL, Material.BONE_MEAL, Material.FISH):
        cautions.append(Caution.PETS)
    if feed.slow_release:
        cautions.append(Caution.SLOW_RELEASE)
    if first_time:
        cautions += [Caution.WATERCOURSE, Caution.LOCAL_RULES]
        if feed.dilution_ml_per_l is not None:
            cautions.append(Caution.BACKFLOW)
    return tuple(cautions)
