"""The brief as plain text: sentences that read aloud well, today's work first."""

from __future__ import annotations

from collections.abc import Iterable

from strawbell.model.brief import Brief, State
from strawbell.model.garden import Garden
from strawbell.words.advice import TaskWords
from strawbell.words.alerts import AlertWords
from strawbell.words.brief_view import (
    NO_WORK,
    NOTHING_TO_DO,
    PROJECTION,
    Outline,
    outline,
)
from strawbell.words.escaping import LINE_WIDTH, clean_lines, wrap
from strawbell.words.preparing import PreparingWords
from strawbell.words.units import UNKNOWN
from strawbell.words.voice import day, long_day

_INSET = "  "
_ITEM = "- "


def brief_text(
    brief: Brief, garden: Garden, lead: Iterable[str] = (), width: int = LINE_WIDTH
) -> str:
    """Return the brief as text in lines of `width` columns; `lead` goes before the tasks."""
    return outline_text(outline(brief, garden), lead, width)


def outline_text(
    said: Outline, lead: Iterable[str] = (), width: int = LINE_WIDTH, answers: str = ""
) -> str:
    """Return an outline laid out as text; `answers` holds the place of how to answer."""
    blocks = [wrap(f"{said.garden}, {long_day(said.voice.on)}", width=width)]
    blocks += [wrap(sentence, width=width) for sentence in lead]
    blocks += _tasks(said, width)
    blocks += [_preparing(each, width) for each in said.preparing]
    blocks += (
        [section("Two crops want the same bales:", said.choices, width)] if said.choices else []
    )
    blocks += [wrap(said.none_planned, width=width)] if said.none_planned else []
    blocks += [answers] if answers else []
    if said.trouble:
        blocks.append(wrap(" ".join(said.trouble), "No usable forecast: ", _INSET, width=width))
    if said.questions or said.not_told:
        blocks.append(_questions(said, width))
    if said.alerts:
        blocks.append(section("Look out:", (alert_text(alert) for alert in said.alerts), width))
    blocks.append(wrap(f"Today's weather: {said.weather or UNKNOWN}.", width=width))
    if said.ahead:
        blocks.append(_ahead(said, width))
    if said.outlooks:
        blocks.append(section("How the bales stand, by computation:", said.outlooks, width))
    if said.cautions:
        cautions = (caution.whole() for caution in said.cautions)
        blocks.append(section("Take care (labels and local codes come first):", cautions, width))
    blocks.append(source_text(said, width))
    return clean_lines("\n\n".join(blocks)) + "\n"


def task_text(task: TaskWords, width: int = LINE_WIDTH) -> str:
    """Return one task with how, why and what to do instead."""
    tag = f"{task.tag}: " if task.state is State.DUE else ""
    lines = [wrap(f"{task.title}.", tag, _INSET, width=width)]
    if task.until:
        lines.append(wrap(task.until, _INSET, width=width))
    if task.instead:
        lines.append(wrap(" ".join(task.instead), _INSET, width=width))
    if task.how:
        lines.append(wrap(" ".join(task.how), _INSET, width=width))
    if task.why:
        lines.append(wrap(" ".join(task.why), f"{_INSET}Why: ", _INSET, width=width))
    return "\n".join(lines)


def task_sentences(task: TaskWords) -> str:
    """Return one task in a row of sentences, for a letter."""
    return " ".join(
        (
            f"{task.title}.",
            *((task.until,) if task.until else ()),
            *task.instead,
            *task.how,
            *task.why,
        )
    )


def alert_text(alert: AlertWords) -> str:
    """Return one alert in sentences."""
    return " ".join((f"{alert.title}.", *alert.why, alert.advice))


def section(head: str, items: Iterable[str], width: int = LINE_WIDTH) -> str:
    """Return a heading with its items below it."""
    return "\n".join((wrap(head, width=width), *(wrap(item, _ITEM, width=width) for item in items)))


def _tasks(said: Outline, width: int) -> list[str]:
    open_tasks = [task for task in said.tasks if task.state in (State.DUE, State.HELD)]
    closed = [task for task in said.tasks if task.state not in (State.DUE, State.HELD)]
    blocks = [task_text(task, width) for task in open_tasks]
    if not open_tasks and not any(each.steps for each in said.preparing):
        blocks.append(wrap(f"{NOTHING_TO_DO}.", width=width))
    return blocks + [task_text(task, width) for task in closed]


def _preparing(each: PreparingWords, width: int) -> str:
    said = [section(each.head, each.steps, width)]
    said += [wrap(each.then, width=width)] if each.then else []
    return "\n".join(said)


def _questions(said: Outline, width: int) -> str:
    lines = [wrap(said.not_told, width=width)] if said.not_told else []
    if said.questions:
        lines.append(
            wrap(
                "Please answer, and feed nothing until you have; without an answer these feedings "
                "count as missed from tomorrow on, and the first of them is due:",
                width=width,
            )
        )
    for question in said.questions:
        lines.append(wrap(question.question, _ITEM, width=width))
        # A narrow terminal breaks a long line itself; a command is copied whole only that way.
        whole = max(width, LINE_WIDTH)
        lines.append(wrap(question.done, f"{_INSET}yes: ", width=whole))
        lines.append(wrap(question.missed, f"{_INSET}no:  ", width=whole))
    return "\n".join(lines)


def _ahead(said: Outline, width: int) -> str:
    return section(
        f"Days ahead ({PROJECTION}):",
        (
            f"{day(ahead.on)}: {ahead.weather or 'weather unknown'}. "
            f"{'; '.join(ahead.tasks) or NO_WORK.capitalize()}."
            for ahead in said.ahead
        ),
        width,
    )


def source_text(said: Outline, width: int = LINE_WIDTH) -> str:
    """Return the forecast that was used, and the attribution its service asks for."""
    lines = [wrap(said.forecast, width=width)]
    if said.attribution:
        lines.append(wrap(said.attribution, width=width))
    if said.link:
        lines.append(said.link)
    return "\n".join(lines)
