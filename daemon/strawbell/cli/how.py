"""`strawbell how`: the steps and the cautions of work, whatever was explained before."""

from __future__ import annotations

import argparse
from datetime import date

from msgspec.structs import replace

from strawbell.cli.context import seen_gardens
from strawbell.cli.output import print_json, text_width
from strawbell.errors import OperationalError
from strawbell.model.brief import Brief, State, Task
from strawbell.model.garden import Garden
from strawbell.words.advice import noun
from strawbell.words.catalogue import BRITISH, Tongue
from strawbell.words.morning import how_lines
from strawbell.words.terminal import how_screen
from strawbell.words.voice import Voice


def run(options: argparse.Namespace) -> int:
    """Print how the work that is meant is done: that of today, else of the week ahead."""
    screens: list[str] = []
    documents: list[object] = []
    known: dict[str, None] = {}
    with seen_gardens(options) as gardens:
        for seen in gardens:
            today = seen.brief()
            tasks = _meant(today, options.task, Voice.of(seen.garden, today.on).tongue)
            known.update(dict.fromkeys(task.key.text() for task in today.tasks))
            if tasks:
                documents.append(_document(tasks, seen.garden, today.on))
                screens.append(how_screen(tasks, seen.garden, today.on, text_width()))
    if not screens:
        tasks_said = BRITISH.listing(known)
        raise OperationalError(BRITISH.say("how.none", asked=options.task, tasks=tasks_said))
    if options.json:
        print_json(documents)
        return 0
    print("\n".join(screens), end="")
    return 0


def _document(tasks: tuple[Task, ...], garden: Garden, on: date) -> dict[str, object]:
    work = [
        {"work": first, "steps_and_cautions": rest} for first, *rest in how_lines(tasks, garden, on)
    ]
    return {"version": 1, "garden": garden.name, "date": on.isoformat(), "tasks": work}


def _meant(today: Brief, called: str, tongue: Tongue) -> tuple[Task, ...]:
    """Return the work of today that is called so; else the first of the days ahead."""
    for tasks in (today.tasks, *(day.tasks for day in today.ahead)):
        # As it will be done, whatever holds it now.
        due = tuple(_as_due(task) for task in tasks if _is_called(task, called, tongue))
        if due:
            return due
    return ()


def _as_due(task: Task) -> Task:
    return replace(task, state=State.DUE, held_until=None, instead=())


def _is_called(task: Task, called: str, tongue: Tongue) -> bool:
    wanted = called.casefold()
    names = (task.key.text(), noun(task.action, tongue), *task.crops)
    return any(wanted in each.casefold() for each in names)
