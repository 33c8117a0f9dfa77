"""Whether the plants of a batch have room, all that stand in it at one time together."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, fsum

from msgspec import Struct

from strawbell.agronomy.bales import BALES, top_area_m2
from strawbell.config.checks_context import Context
from strawbell.config.gardens import BatchSection
from strawbell.config.mistakes import Mistake, finding
from strawbell.config.outline import Path
from strawbell.config.supplies_at_hand import bale_of, find

FULL = 1.0 + 1e-9
"""A top that is full but for rounding."""


class Room(Struct, frozen=True):
    """The room of one planting, found at `path`: how many plants would fill all of the batch."""

    path: Path
    crop: str
    plants: int
    fit: int

    @property
    def share(self) -> float:
        """Return the part of the batch it takes."""
        return self.plants / self.fit


def too_many_plants(context: Context) -> Iterator[Mistake]:
    """Yield batches whose crops need more top than there is, at the time when they need most."""
    for path, batch in context.batches():
        together = _most_together(context, path, batch, batch.bales)
        share = fsum(each.share for each in together)
        if share <= FULL:
            continue
        worst = max(together, key=lambda each: each.share)
        left = int(worst.fit * (1.0 - (share - worst.share)) + FULL - 1.0)
        room = max(0, left)
        bales = _bales_needed(context, path, batch, ceil(batch.bales * share))
        beside = " beside the other crops of the batch" if len(together) > 1 else ""
        yield finding(
            "no-room",
            (*worst.path, "plants"),
            f"{worst.plants} {worst.crop}",
            bales=_amount(batch.bales, "bale"),
            most=f"{room} {worst.crop}{beside}",
            plant=f"Plant {room}" if room else "Leave it out",
            enough=_amount(bales, "bale"),
            reads=(
                *((*path, key) for key in ("bales", "bale")),
                *(
                    (*path, "plantings", number, key)
                    for number in range(len(batch.plantings))
                    for key in ("plants", "crop", "follows")
                ),
                *context.names_in("crops"),
            ),
        )


def _most_together(context: Context, path: Path, batch: BatchSection, bales: int) -> list[Room]:
    """Return the plantings that need most room at one time, with each crop after the one before."""
    bale = bale_of(batch)
    if bale is None:
        return []
    scale = top_area_m2(bale) / top_area_m2(BALES["two-string"])
    after: dict[int | None, list[int]] = {}
    for number in range(len(batch.plantings)):
        after.setdefault(before(batch, number), []).append(number)

    def need(number: int) -> list[Room]:
        planting = batch.plantings[number]
        later = [room for each in after.get(number, ()) for room in need(each)]
        crop = find(context.supplies.crops, planting.crop)
        if crop is None:
            return later
        fit = max(1, int(crop.per_bale[1] * scale * bales))
        own = Room((*path, "plantings", number), planting.crop, planting.plants, fit)
        return later if fsum(each.share for each in later) > own.share else [own]

    return [room for number in after.get(None, ()) for room in need(number)]


def before(batch: BatchSection, number: int) -> int | None:
    """Return the planting that one waits for: the last of that crop listed before it."""
    follows = batch.plantings[number].follows
    if follows is None:
        return None
    named = [
        each
        for each, planting in enumerate(batch.plantings[:number])
        if planting.crop.casefold() == follows.casefold()
    ]
    return named[-1] if named else None


def _bales_needed(context: Context, path: Path, batch: BatchSection, about: int) -> int:
    """Return how many bales would hold all of it, from a number that is about right."""
    bales = max(batch.bales + 1, about - 1)
    while fsum(each.share for each in _most_together(context, path, batch, bales)) > FULL:
        bales += 1
    return bales


def _amount(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
