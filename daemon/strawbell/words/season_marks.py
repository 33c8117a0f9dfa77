"""The marks of a season's pictures: what stands for a feeding, a held day, a frost, a hot day.

Each has a shape of its own, a letter or a number where there is room, and its words.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from msgspec import Struct

from strawbell.model.summary import FeedingDay, FeedingFate
from strawbell.words.catalogue import Tongue
from strawbell.words.picture import MARK_PX, Shape, mark, words
from strawbell.words.scales import DateScale
from strawbell.words.voice import day


class Event(Struct, frozen=True):
    """One mark of a row: when, how it looks and what it says."""

    on: date
    shape: Shape
    role: str
    letter: str
    says: str


def feeding_event(each: FeedingDay, tongue: Tongue) -> Event:
    """Return the mark of a feeding: given is round, held is square, missed is a cross."""
    said = tongue.say("feeding.on", day=day(each.on, tongue), said=feeding_said(each, tongue))
    shape, role, letter = {
        FeedingFate.CONFIRMED: (Shape.DISC, "due", "\N{CHECK MARK}"),
        FeedingFate.TOLD: (Shape.DISC, "due", ""),
        FeedingFate.SUPPOSED: (Shape.RING, "due", ""),
        FeedingFate.HELD: (Shape.SQUARE, "held", held_letter(each)),
        FeedingFate.MISSED: (Shape.CROSS, "missed", ""),
    }[each.fate]
    return Event(each.on, shape, role, letter, said)


def held_letter(each: FeedingDay) -> str:
    """Return the letter of a held day: R for rain, F for a freeze, B for both, H for others.

    A question mark where it waited for the grower's answer.
    """
    if each.unanswered:
        return "?"
    if each.held_for_rain:
        return "B" if each.held_for_freeze else "R"
    return "F" if each.held_for_freeze else "H"


def feeding_said(each: FeedingDay, tongue: Tongue) -> str:
    """Return what became of a feeding, with its day of the sequence."""
    return tongue.say("feeding.what", number=each.day, fate=fate_said(each, tongue))


def fate_said(each: FeedingDay, tongue: Tongue) -> str:
    """Return what became of a feeding, and what it was held for where it was held."""
    letter = held_letter(each) if each.fate is FeedingFate.HELD else None
    return tongue.of("fate", each.fate, why="ask" if letter == "?" else letter)


def clusters(events: Iterable[Event], scale: DateScale) -> Iterator[list[Event]]:
    """Yield marks of a row that are too near to stand side by side."""
    near: list[Event] = []
    for event in sorted(events, key=lambda each: each.on):
        if near and scale.x(event.on) - scale.x(near[0].on) >= MARK_PX + 1:
            yield near
            near = []
        near.append(event)
    if near:
        yield near


def clustered(events: Sequence[Event], scale: DateScale, y: float) -> str:
    """Return one mark for one event, or one with their number for several."""
    one = events[0]
    if len(events) == 1:
        return mark(one.shape, scale.middle(one.on), y, one.role, one.letter, one.says)
    says = "; ".join(event.says for event in events)
    done = next((event for event in events if event.shape is not Shape.RING), one)
    if done.shape is Shape.CROSS:
        x = scale.middle(one.on)
        return mark(done.shape, x, y, done.role, "", says) + words(
            x + MARK_PX / 2 + 1, y + 4, str(len(events)), done.role, bold=True
        )
    return mark(done.shape, scale.middle(one.on), y, done.role, str(len(events)), says)
