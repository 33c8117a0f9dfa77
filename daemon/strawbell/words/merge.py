"""The same task in several batches, said once; and which task is the day's main one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.brief import PUTS_IN, Action, State, Task
from strawbell.model.details import LookDetail

_Number = TypeVar("_Number", int, float)


class MergedTask(Struct, frozen=True):
    """Tasks that ask the same of each bale, in the order they were given.

    `whole` is all of them as one: amounts in all, and crops, reasons and cautions of each, once.
    """

    whole: Task
    tasks: tuple[Task, ...]

    @property
    def batches(self) -> tuple[str, ...]:
        """Return the names of the batches, each once."""
        return tuple(dict.fromkeys(task.batch for task in self.tasks))


def merged(tasks: Sequence[Task]) -> MergedTask:
    """Return tasks that ask the same as one; the first stands for all in what they share.

    A batch with several crops counts once; a number that is unknown for one of them is unknown.
    """
    dose = tasks[0].dose
    if dose is not None:
        volumes = (task.dose.total_ml for task in tasks if task.dose is not None)
        dose = replace(dose, total_ml=_sum(volumes))
    whole = replace(
        tasks[0],
        bales=sum({task.batch: task.bales for task in tasks}.values()),
        dose=dose,
        crops=tuple(dict.fromkeys(crop for task in tasks for crop in task.crops)),
        plants=_sum(task.plants for task in tasks),
        reasons=tuple(dict.fromkeys(reason for task in tasks for reason in task.reasons)),
        cautions=tuple(dict.fromkeys(caution for task in tasks for caution in task.cautions)),
    )
    return MergedTask(whole, tuple(tasks))


def _sum(numbers: Iterable[_Number | None]) -> _Number | None:
    total: _Number | None = None
    for number in numbers:
        if number is None:
            return None
        total = number if total is None else total + number
    return total


def merge_tasks(tasks: Iterable[Task]) -> tuple[MergedTask, ...]:
    """Return the tasks merged across batches, the day's main task first."""
    groups: dict[tuple[object, ...], list[Task]] = {}
    for task in tasks:
        groups.setdefault(_sameness(task), []).append(task)
    found = [merged(group) for group in groups.values()]
    plants = any(each.whole.action in PUTS_IN and each.whole.state is State.DUE for each in found)
    return tuple(sorted(found, key=lambda each: importance(each.whole, plants=plants)))


def importance(task: Task, *, plants: bool = False) -> tuple[int, int]:
    """Return a rank, lowest first: what is to do, the most urgent first, then what is to wait.

    `plants` is a day on which something goes in: how warm it is inside decides that.
    """
    rank = _STATE_RANK[task.state]
    if (
        task.state is State.DUE
        and task.water_per_bale_l == 0.0
        and (task.dose is None or task.dose.is_nothing)
    ):
        rank = _STATE_RANK[State.HELD]  # No water: what is left stands after what is done.
    if plants and measures_inside(task):
        return rank, _ACTION_RANK[Action.UNCOVER]
    return rank, _ACTION_RANK[task.action]


def measures_inside(task: Task) -> bool:
    """Return whether a task is the look at the thermometer, not the one over the bales."""
    return task.action is Action.INSPECT and not isinstance(task.detail, LookDetail)


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
