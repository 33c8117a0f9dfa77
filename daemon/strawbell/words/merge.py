"""The same task in several batches, said once; and which task is the day's main one."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import Struct

from strawbell.model.brief import Action, Caution, Reason, State, Task
from strawbell.model.details import Detail, LookDetail
from strawbell.model.feeds import Dose


class MergedTask(Struct, frozen=True):
    """Tasks that ask the same of each bale; `tasks` are in the order they were given."""

    tasks: tuple[Task, ...]

    @property
    def first(self) -> Task:
        """Return the task whose reasons, details and doses stand for all."""
        return self.tasks[0]

    @property
    def action(self) -> Action:
        """Return what is asked."""
        return self.first.action

    @property
    def state(self) -> State:
        """Return where it stands."""
        return self.first.state

    @property
    def detail(self) -> Detail | None:
        """Return what only its action has, the same for all."""
        return self.first.detail

    @property
    def dose(self) -> Dose | None:
        """Return the dose of one bale, the same for all."""
        return self.first.dose

    @property
    def batches(self) -> tuple[str, ...]:
        """Return the names of the batches, each once."""
        return tuple(dict.fromkeys(task.batch for task in self.tasks))

    @property
    def bales(self) -> int:
        """Return the number of bales in all; a batch with several crops counts once."""
        return sum({task.batch: task.bales for task in self.tasks}.values())

    @property
    def crops(self) -> tuple[str, ...]:
        """Return the crops concerned, each once."""
        return tuple(dict.fromkeys(crop for task in self.tasks for crop in task.crops))

    @property
    def plants(self) -> int | None:
        """Return the number of plants in all, None when one of the numbers is unknown."""
        numbers = [task.plants for task in self.tasks]
        known = [number for number in numbers if number is not None]
        return sum(known) if known and len(known) == len(numbers) else None

    @property
    def total_ml(self) -> float | None:
        """Return the volume of feed for all bales [mL], None when unknown for one of them."""
        volumes = [task.dose.total_ml for task in self.tasks if task.dose]
        known = [volume for volume in volumes if volume is not None]
        return sum(known) if known and len(known) == len(volumes) else None

    @property
    def water_per_bale_l(self) -> float | None:
        """Return the water of one bale [L], with the feed where there is one."""
        if self.first.water_per_bale_l is not None:
            return self.first.water_per_bale_l
        return self.dose.water_per_bale_l if self.dose else None

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """Return the reasons of all, each once."""
        return tuple(dict.fromkeys(reason for task in self.tasks for reason in task.reasons))

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Return the cautions of all, each once."""
        return tuple(dict.fromkeys(caution for task in self.tasks for caution in task.cautions))


def merge_tasks(tasks: Iterable[Task]) -> tuple[MergedTask, ...]:
    """Return the tasks merged across batches, the day's main task first."""
    groups: dict[tuple[object, ...], list[Task]] = {}
    for task in tasks:
        groups.setdefault(_sameness(task), []).append(task)
    merged = [MergedTask(tuple(group)) for group in groups.values()]
    plants = any(each.action in _PLANTING and each.state is State.DUE for each in merged)
    return tuple(sorted(merged, key=lambda each: importance(each, plants=plants)))


def importance(task: MergedTask | Task, *, plants: bool = False) -> tuple[int, int]:
    """Return a rank, lowest first: what is to do, the most urgent first, then what is to wait.

    `plants` is a day on which something goes in: how warm it is inside decides that.
    """
    first = task.first if isinstance(task, MergedTask) else task
    rank = _STATE_RANK[task.state]
    if (
        first.state is State.DUE
        and first.water_per_bale_l == 0.0
        and (first.dose is None or first.dose.is_nothing)
    ):
        rank = _STATE_RANK[State.HELD]  # No water: what is left stands after what is done.
    if plants and measures_inside(first):
        return rank, _ACTION_RANK[Action.UNCOVER]
    return rank, _ACTION_RANK[task.action]


def measures_inside(task: MergedTask | Task) -> bool:
    """Return whether a task is the look at the thermometer, not the one over the bales."""
    return task.action is Action.INSPECT and not isinstance(task.detail, LookDetail)


_PLANTING = frozenset({Action.COVER_WITH_MIX, Action.PLANT, Action.SOW})
_STATE_RANK = {State.DUE: 0, State.HELD: 1, State.MISSED: 2, State.DONE: 3}
_ACTION_RANK = {
    action: rank
    for rank, action in enumerate(
        (
            Action.PROTECT,
            Action.LIFT_TARP,
            Action.SOAK,
            Action.FEED,
            Action.SURFACE_WATER,
            Action.UNCOVER,
            Action.COVER_WITH_MIX,
            Action.PLANT,
            Action.SOW,
            Action.WATER,
            Action.LAY_TARP,
            Action.SUPPORT,
            Action.HARVEST,
            Action.INSPECT,
            Action.THIN,
            Action.MULCH,
            Action.SPREAD,
        )
    )
}
CROPS_TOGETHER = frozenset({Action.PROTECT, Action.UNCOVER})
"""One walk with one cover, whatever stands in the bales."""


def _sameness(task: Task) -> tuple[object, ...]:
    """Return what has to be equal for two tasks to be said in one sentence.

    The day of the sequence may differ: the bag and the cup are the same. What is held is held
    whatever its dose.
    """
    held = task.state is State.HELD
    dose = None if held else task.dose
    one_bale = dose and (
        dose.feed,
        dose.rate,
        round(dose.per_bale_g, 1),
        round(dose.water_per_bale_l, 2),
    )
    together = task.action in CROPS_TOGETHER or (
        task.action is Action.HARVEST and task.detail is None
    )
    litres = None if held else task.water_per_bale_l
    water = None if litres is None else round(litres, 2)
    return (
        task.action,
        task.state,
        one_bale,
        None if together else task.crops,
        water,
        task.times_a_day,
        task.held_until,
        task.reasons if not together else (),
        task.instead,
        None if together else task.detail,
        task.note,
        task.suffering,
        task.also,
    )
