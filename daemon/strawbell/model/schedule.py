"""A conditioning schedule: what is done on which day of the sequence."""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct

from strawbell.model.feeds import Feed


class Work(StrEnum):
    """What a day of conditioning asks for."""

    WATER = "water"
    FEED = "feed"
    """A share of the nitrogen that conditions the bale."""
    DRENCH = "drench"
    """A feed poured as strong as its label has it, counted for what that gives."""
    FINISH = "finish"
    """The last, balanced feeding."""


class ScheduleDay(Struct, frozen=True):
    """One day of the sequence; `rate` is the share of a full dose, 0 on a day of only water.

    Of a drench `rate` is the share of its label's strength. `feed` is what is given on that day,
    None for the feed of the batch.
    """

    day: int
    work: Work
    rate: float = 0.0
    feed: Feed | None = None


class Schedule(Struct, frozen=True):
    """A whole conditioning sequence.

    `days` run from 1 without gaps; planting is possible from `plant_from_day` on, once the
    bale has cooled.
    """

    name: str
    summary: str
    days: tuple[ScheduleDay, ...]
    plant_from_day: int
    sources: tuple[str, ...]
