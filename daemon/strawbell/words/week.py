"""The same watering, told once for the days ahead."""

from __future__ import annotations

from msgspec.structs import replace

from strawbell.model.brief import Action, Brief
from strawbell.model.garden import Garden
from strawbell.model.routine import Extra, Week
from strawbell.words.advice import task_words
from strawbell.words.escaping import name
from strawbell.words.merge import MergedTask, merge_tasks
from strawbell.words.page import Page
from strawbell.words.voice import Voice

_WATERING = frozenset({Action.WATER, Action.SURFACE_WATER})
MOST_FIGURES = 2
"""Amounts that are written large side by side."""


def week_page(page: Page, week: Week, brief: Brief, garden: Garden, *, typographic: bool) -> Page:
    """Return the page of a morning as the word for the days up to the last of a week."""
    voice = Voice.of(garden, brief.on, typographic=typographic)
    measures, say = voice.measures, voice.measures.tongue.say
    until = voice.near_day(week.until)
    named = len(garden.batches) > 1
    said = [
        (measures.water(each.litres), each.litres, name(each.batch) if named else None, each)
        for each in week.portions
    ]
    amounts = {amount if litres else None for amount, litres, _, _ in said}
    first = {(each.batch, each.action): each for each in brief.tasks}
    portions = tuple(
        say(
            "week.portion",
            batch=batch,
            amount=amount,
            total=measures.water(litres * voice.places[each.batch]),
        )
        if litres and each.times_a_day == 1
        else task_words(MergedTask((first[each.batch, each.action],)), voice).line
        for amount, litres, batch, each in said
    )
    figures = tuple((amount, say("week.each", batch=batch)) for amount, of, batch, _ in said if of)
    today = merge_tasks(each for each in brief.tasks if each.action not in _WATERING)
    extras = [task_words(each, voice).line for each in today]
    extras += [
        work for each in week.extras if each.on > brief.on and (work := _work(each, brief, voice))
    ]
    heading = say("week.heading", until=until)
    return replace(
        page,
        subject=say("week.subject", amount=amounts.pop() if len(amounts) == 1 else None),
        band=replace(page.band, heading=heading, figures=figures[:MOST_FIGURES], below=""),
        line=say("week.line", until=until),
        more=(),
        lines=(*portions, *extras),
        why=(),
        next="",
        pictures=(),
        paragraphs=(*page.paragraphs, say("week.word"), say("week.missed")),
    )


def _work(extra: Extra, brief: Brief, voice: Voice) -> str:
    """Return work of a day ahead in words, "" where it is not ahead any more."""
    found = (
        task
        for day in brief.ahead
        if day.on == extra.on
        for task in day.tasks
        if task.key.text() == extra.key
    )
    lead = voice.say("week.also", day=voice.near_day(extra.on))
    return next((task_words(MergedTask((task,)), voice, lead=lead).line for task in found), "")
