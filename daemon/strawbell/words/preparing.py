"""What has to happen before the first soaking, and what comes next where nothing is due."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date, timedelta
from types import MappingProxyType

from msgspec import Struct

from strawbell.model.brief import Preparation, Step
from strawbell.model.garden import Garden
from strawbell.words.escaping import count, listing, name
from strawbell.words.units import G_PER_POUND
from strawbell.words.voice import Voice, day

BEAN_TEST_DAYS = 21
"""Two to three weeks to three true leaves (Oregon State University Extension)."""
SQUARE_FEET_PER_M2 = 10.764
G_PER_KG = 1000.0
DAYS_A_WEEK = 7

_SHORT: Mapping[Step, str] = MappingProxyType(
    {
        Step.STRAW: "straw",
        Step.BEAN_TEST: "bean test",
        Step.PLACE: "place",
        Step.GROUND: "ground",
        Step.SET_OUT: "set out the bales",
        Step.READ_BEANS: "read the bean test",
    }
)


class PreparingWords(Struct, frozen=True):
    """What is said of bales that begin later; `steps` are today's, "" says nothing."""

    head: str
    steps: tuple[str, ...]
    then: str
    headline: str


def preparing_words(each: Preparation, voice: Voice, *, named: bool) -> PreparingWords:
    """Return a preparation in words; the batches have names only where there are several."""
    whose = f" of {listing(map(name, each.batches))}" if named else ""
    soaked = f"The first soaking{whose} is {_on(each.start_on, voice)}"
    steps = step_sentences(each, voice)
    then = ""
    if each.next_on is not None:
        coming = listing(_SHORT[step] for step in each.next_steps)
        then = f"Next, {_on(each.next_on, voice)}: {coming}."
    shorts = ", ".join(_SHORT[step] for step in each.steps)
    return PreparingWords(
        head=f"{soaked}. Before then:" if steps else f"{soaked}.",
        steps=steps,
        then=then,
        headline=f"{_time_left(each, voice)} to the first soaking: {shorts}" if steps else "",
    )


def step_sentences(each: Preparation, voice: Voice) -> tuple[str, ...]:
    """Return what is told today, a few sentences for each step."""
    return tuple(_SAYS[step](each, voice) for step in each.steps)


def none_planned(garden: Garden) -> str:
    """Return what helps where no bales are at work and none will be."""
    what = "Every batch here is done" if garden.batches else "This garden rests: it has no bales"
    return (
        f"{what}. For another season write new batches into the configuration (strawbell "
        "start-when shows when they can start); what to prepare is told from three weeks before "
        "the first soaking on. Straw is cheapest at harvest, and keeps under a dry roof."
    )


def coming_words(prepared: Sequence[Preparation], garden: Garden, on: date) -> str:
    """Return what a garden waits for, "" where bales are at work; `prepared` on a date."""
    if any(batch.start_on <= on for batch in garden.batches):
        return ""
    if not prepared:
        return f"{name(garden.name)}: {none_planned(garden)}"
    first = prepared[0]
    ahead = f" from {day(first.next_on)} on" if first.next_on and not first.steps else ""
    return (
        f"{name(garden.name)}: the first soaking is on {day(first.start_on)}; the morning's brief "
        f"says what to prepare before it{ahead}."
    )


def _on(when: date, voice: Voice) -> str:
    return voice.date_said(when) if (when - voice.on).days <= 1 else f"on {day(when)}"


def _time_left(each: Preparation, voice: Voice) -> str:
    days = (each.start_on - voice.on).days
    weeks, rest = divmod(days, DAYS_A_WEEK)
    return count(days, "day") if rest else count(weeks, "week")


def _weight(mass_kg: float, voice: Voice) -> str:
    """Return a mass as one speaks of it when ordering: whole kilograms or pounds."""
    if voice.measures.us:
        return voice.measures.amount("lb", mass_kg * G_PER_KG / G_PER_POUND, 0)
    return voice.measures.amount("kg", mass_kg, 0)


def _straw(each: Preparation, voice: Voice) -> str:
    kinds = listing((straw.value for straw in each.straws), "and")
    some = count(each.bales, "tight, dry bale")
    weight = f"about {_weight(each.dry_kg / each.bales, voice)} each"
    weight += f", {_weight(each.dry_kg, voice)} in all" if each.bales > 1 else ""
    second = f" {_SECOND_YEAR}" if each.weathered else ""
    return (
        f"Straw: buy {some} of {kinds} straw, not hay, which is full of seed. Dry, {weight}. "
        "Ask the price with delivery; a farm mostly asks less than a garden shop. Ask what the "
        "field was sprayed with: some weedkillers stay in straw for years and cripple tomatoes, "
        f"beans and peppers. Nobody knows? Do the bean test, or buy elsewhere.{second}"
    )


def _bean_test(each: Preparation, voice: Voice) -> str:
    reads = voice.on + timedelta(days=BEAN_TEST_DAYS)
    late = (
        f" That is after the first soaking {_on(each.start_on, voice)}: without a word on the "
        "spraying, soak later."
        if reads > each.start_on
        else ""
    )
    return (
        "Bean test: chop straw from several bales, wet it, and mix two parts with one part of "
        "potting mix. Fill three pots with that and three with potting mix alone, three beans in "
        "each, a saucer under every pot. Keep all six warm and in the light. They show "
        f"it when three leaves are out, in two to three weeks: by {day(reads)}.{late}"
    )


def _place(each: Preparation, voice: Voice) -> str:
    if voice.measures.us:
        bed = f"{each.bed_m2 * SQUARE_FEET_PER_M2:.0f} sq ft"
        known, path, heavy = "4 x 8 ft", "2 ft", "175 lb"
    else:
        bed, known, path, heavy = f"{each.bed_m2:.1f} m²", "1.2 x 2.4 m", "60 cm", "80 kg"
    return (
        f"Place: six to eight hours of sun, hose in reach, away from wells and ditches. "
        f"{count(each.bales, 'bale makes', 'bales make')} a bed of about {bed} (six two-string "
        f"bales: about {known}); leave a path of {path} round it. Level ground is best; on a slope "
        f"set the rows across it and wedge them. Rows from north to south shade each other "
        f"least. A wet bale weighs up to {heavy}: for a deck, a balcony or a roof, ask someone "
        "qualified."
    )


def _set_out(each: Preparation, voice: Voice) -> str:
    return (
        "Set out: have the straw there by now, dry under a roof or a sheet. Stand each bale on "
        "its place with the cut ends up and the strings round the sides, tight against the next; "
        f"leave the strings on. Do it before {_on(each.start_on, voice).removeprefix('on ')}: "
        "wet, nobody moves them."
    )


_SECOND_YEAR = (
    "Second-year bales: keep those that still hold together and whose plants were healthy; move "
    "them dry. They take water at once, heat less, want the whole conditioning all the same, and "
    "sink further: have potting mix for topping up."
)
_GROUND = (
    "Ground: mow, then lay cardboard without tape, overlapping, against grass and weeds. Where "
    "there are voles, rats or gophers, lay wire mesh of 13 mm (1/2 in) under the bales and up "
    "their lower sides: it cannot be put there later."
)
_READ_BEANS = (
    "Bean test: compare. Leaves alike in all pots: the straw is fit. Cupped, curled or twisted "
    "leaves in the straw alone: do not grow in it, and do not compost it. All poor: the test says "
    "nothing, so ask again what was sprayed."
)
_SAYS: Mapping[Step, Callable[[Preparation, Voice], str]] = MappingProxyType(
    {
        Step.STRAW: _straw,
        Step.BEAN_TEST: _bean_test,
        Step.PLACE: _place,
        Step.GROUND: lambda _each, _voice: _GROUND,
        Step.SET_OUT: _set_out,
        Step.READ_BEANS: lambda _each, _voice: _READ_BEANS,
    }
)
