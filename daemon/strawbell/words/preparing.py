"""What has to happen before the first soaking, and what comes next where nothing is due."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from msgspec import Struct

from strawbell.model.brief import Preparation, Step
from strawbell.model.garden import Garden
from strawbell.words.advice import SUBJECT_LIMIT
from strawbell.words.catalogue import Tongue
from strawbell.words.escaping import name
from strawbell.words.units import G_PER_POUND, Measures
from strawbell.words.voice import Voice

BEAN_TEST_DAYS = 21
"""Two to three weeks to three true leaves (Oregon State University Extension)."""
G_PER_KG = 1000.0
DAYS_A_WEEK = 7


class PreparingWords(Struct, frozen=True):
    """What is said of bales that begin later; `steps` are today's, "" says nothing."""

    head: str
    steps: tuple[str, ...]
    then: str
    headline: str


def preparing_words(each: Preparation, voice: Voice, *, named: bool) -> PreparingWords:
    """Return a preparation in words; the batches have names only where there are several."""
    days, say = (each.start_on - voice.on).days, voice.say
    head = say(
        "preparing.head",
        batches=voice.tongue.listing(map(name, each.batches)) if named else None,
        near=voice.nearness(each.start_on),
        day=voice.day(each.start_on),
        steps=len(each.steps),
    )
    then = ""
    if (on := each.next_on) is not None:
        coming = _short(each.next_steps, voice)
        then = say("preparing.next", near=voice.nearness(on), day=voice.day(on), steps=coming)
    weeks = None if days % DAYS_A_WEEK else days // DAYS_A_WEEK
    headline, without = (
        say("preparing.headline", weeks=weeks, days=days, steps=said)
        for said in (_short(each.steps, voice, "comma"), None)
    )
    headline = headline if len(headline) <= SUBJECT_LIMIT else without
    steps = step_sentences(each, voice)
    return PreparingWords(head=head, steps=steps, then=then, headline=headline if steps else "")


def _short(steps: Iterable[Step], voice: Voice, style: str = "standard") -> str:
    return voice.tongue.listing((voice.tongue.of("step", step, "short") for step in steps), style)


def step_sentences(each: Preparation, voice: Voice) -> tuple[str, ...]:
    """Return what is told today, a few sentences for each step."""
    tongue, measures = voice.tongue, voice.measures
    reads = voice.on + timedelta(days=BEAN_TEST_DAYS)
    return tuple(
        tongue.of(
            "step",
            step,
            "long",
            bales=each.bales,
            straws=tongue.listing(tongue.of("straw", straw) for straw in each.straws),
            weight=_weight(each.dry_kg / each.bales, measures),
            weight_total=_weight(each.dry_kg, measures),
            weathered=each.weathered,
            reads=voice.day(reads),
            late=reads > each.start_on,
            near=voice.nearness(each.start_on),
            day=voice.day(each.start_on),
            bed=measures.area(each.bed_m2),
        )
        for step in each.steps
    )


def none_planned(garden: Garden, tongue: Tongue) -> str:
    """Return what helps where no bales are at work and none will be."""
    return tongue.say("preparing.none", batches=bool(garden.batches))


def coming_words(prepared: Sequence[Preparation], garden: Garden, on: date) -> str:
    """Return what a garden waits for, "" where bales are at work; `prepared` on a date."""
    if any(batch.start_on <= on for batch in garden.batches):
        return ""
    voice, shown = Voice.of(garden, on), name(garden.name)
    if not prepared:
        none = none_planned(garden, voice.tongue)
        return voice.say("preparing.garden-none", garden=shown, said=none)
    first = prepared[0]
    ahead = first.next_on if not first.steps else None
    return voice.say(
        "preparing.garden-coming",
        garden=shown,
        day=voice.day(first.start_on),
        since=None if ahead is None else voice.day(ahead),
    )


def _weight(mass_kg: float, measures: Measures) -> str:
    """Return a mass as one speaks of it when ordering: whole kilograms or pounds."""
    if measures.us:
        return measures.amount("lb", mass_kg * G_PER_KG / G_PER_POUND, 0)
    return measures.amount("kg", mass_kg, 0)
