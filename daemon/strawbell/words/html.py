"""The HTML mail: a page for a phone at dawn, readable without pictures, in light and in dark.

Colours live here, as data, so that a test can measure every contrast; the templates only lay out.
No picture, no script, no outside address but the forecast service's link.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from strawbell.model.brief import Brief, DayAhead, State
from strawbell.model.forecast import DayWeather
from strawbell.model.garden import Garden
from strawbell.words.brief_view import (
    NO_WORK,
    NOTHING_TO_DO,
    PROJECTION,
    Outline,
    headline_of,
    outline,
    short_tasks,
    subject_of,
)
from strawbell.words.voice import LONG_WEEKDAYS, WEEKDAYS, Voice, long_day

if TYPE_CHECKING:
    from jinja2 import Environment

NOTICE_TEMPLATES = (
    "page.html.j2",
    "parts.html.j2",
    "brief.html.j2",
    "letter.html.j2",
    "asking.html.j2",
)
"""What a notice is made of, each after those it builds on."""
STRIP_DAYS = 7
"""Most days in the strip: as many columns as a phone can show."""
STRIP_TASKS = 2
"""Most tasks named in one cell of the strip."""
UNKNOWN_SIGN = "?"
"""Stands in a narrow cell for what is not known."""

LIGHT: MappingProxyType[str, str] = MappingProxyType(
    {
        "page": "#efe6d0",
        "card": "#fffdf6",
        "ink": "#2a2316",
        "soft": "#5c5138",
        "rule": "#d9ccab",
        "due": "#2c5e2e",
        "held": "#8a3f08",
        "done": "#55524a",
        "missed": "#8c1d18",
        "on": "#ffffff",
        "warn": "#fbe3c8",
        "cold": "#d5e6f5",
        "hot": "#fbd9c6",
        "wet": "#cfe8e4",
        "link": "#1f4f7a",
    }
)
DARK: MappingProxyType[str, str] = MappingProxyType(
    {
        "page": "#14120c",
        "card": "#211e15",
        "ink": "#f2ead6",
        "soft": "#c4b897",
        "rule": "#4a4430",
        "due": "#9ad08f",
        "held": "#f2b36b",
        "done": "#b7b2a2",
        "missed": "#f29c92",
        "on": "#14120c",
        "warn": "#43301a",
        "cold": "#1d3a54",
        "hot": "#582b18",
        "wet": "#17423d",
        "link": "#9cc7ee",
    }
)

_TAGS: MappingProxyType[State, str] = MappingProxyType(
    {
        State.DUE: "● Due today",
        State.HELD: "■ Hold",
        State.DONE: "✓ Done",
        State.MISSED: "✕ Missed",
    }
)


@dataclass(frozen=True, slots=True)
class Cell:
    """One figure of the strip, with a word where it matters and the ground that goes with it."""

    value: str
    word: str = ""
    ground: str = ""


@dataclass(frozen=True, slots=True)
class StripDay:
    """One column of the strip."""

    weekday: str
    weekday_whole: str
    number: str
    low: Cell
    high: Cell
    rain: Cell
    tasks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a letter: a heading and its sentences; `warns` gives it the ground of a warning."""

    head: str
    items: tuple[str, ...]
    warns: bool = False


def brief_html(brief: Brief, garden: Garden, lead: Iterable[str] = (), answers: str = "") -> str:
    """Return the brief as a whole HTML page; `lead` goes before the tasks.

    `answers` is markup that holds the place of how to answer.
    """
    said = outline(brief, garden, typographic=True)
    days = strip(brief.ahead, said.voice)
    return (
        environment()
        .get_template("brief.html.j2")
        .render(
            title=subject_of(said),
            preview=headline_of(said),
            said=said,
            date=long_day(brief.on),
            lead=tuple(lead),
            open_tasks=[task for task in said.tasks if task.state in (State.DUE, State.HELD)],
            closed_tasks=[task for task in said.tasks if task.state not in (State.DUE, State.HELD)],
            prepares=any(each.steps for each in said.preparing),
            tags=_TAGS,
            strip=days,
            unknown=any(UNKNOWN_SIGN in (d.low.value, d.high.value, d.rain.value) for d in days),
            nothing=NOTHING_TO_DO,
            projection=PROJECTION,
            no_work=NO_WORK,
            answers=answers,
        )
    )


def letter_html(
    title: str,
    garden: str,
    date: str,
    heading: str,
    lead: Iterable[str],
    sections: Iterable[Section] = (),
    source: Outline | None = None,
    answers: str = "",
) -> str:
    """Return a page for what is not a whole brief: a change, an evening, a trouble."""
    return (
        environment()
        .get_template("letter.html.j2")
        .render(
            title=title,
            preview=heading,
            garden=garden,
            date=date,
            heading=heading,
            lead=tuple(lead),
            sections=tuple(sections),
            rests_on=source,
            answers=answers,
        )
    )


def strip(ahead: Iterable[DayAhead], voice: Voice) -> tuple[StripDay, ...]:
    """Return the days ahead as columns of figures and one-word tasks."""
    days = []
    for day in tuple(ahead)[:STRIP_DAYS]:
        tasks = short_tasks(day.tasks)
        more = len(tasks) - STRIP_TASKS
        shown = (*tasks[:STRIP_TASKS], f"+{more}") if more > 0 else tasks
        low, high, rain = _cells(day.weather, voice)
        days.append(
            StripDay(
                weekday=WEEKDAYS[day.on.weekday()],
                weekday_whole=LONG_WEEKDAYS[day.on.weekday()],
                number=str(day.on.day),
                low=low,
                high=high,
                rain=rain,
                tasks=shown,
            )
        )
    return tuple(days)


def _cells(weather: DayWeather, voice: Voice) -> tuple[Cell, Cell, Cell]:
    """Return low, high and rain; a word stands beside every colour."""
    measures, rules = voice.measures, voice.rules
    low, high, rain = weather.low_c, weather.high_c, weather.rain_mm
    chance = weather.rain_chance_percent
    freezes = low is not None and low <= rules.freeze_hold_c
    heats = high is not None and high >= rules.hot_day_c
    likely = chance is None or chance >= rules.rain_hold_chance_percent
    pours = rain is not None and rain >= rules.rain_hold_mm and likely
    return (
        _cell(None if low is None else measures.whole_degrees(low), "frost", "cold", freezes),
        _cell(None if high is None else measures.whole_degrees(high), "hot", "hot", heats),
        _cell(None if rain is None else measures.rain_number(rain), "heavy", "wet", pours),
    )


def _cell(value: str | None, word: str, ground: str, marked: bool) -> Cell:
    if value is None:
        return Cell(UNKNOWN_SIGN, "unknown")
    return Cell(value, word, ground) if marked else Cell(value)


@cache
def environment() -> Environment:
    """Return the templates' environment, made once; Jinja2 is imported only here."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("strawbell.words"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    environment.globals.update(light=LIGHT, dark=DARK)
    return environment


def load_templates() -> None:
    """Read and compile what every notice is made of, so that nothing is read when it is made."""
    for name in NOTICE_TEMPLATES:
        environment().get_template(name)
