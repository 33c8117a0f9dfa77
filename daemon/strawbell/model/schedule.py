"""A conditioning schedule: what is done on which day of the sequence."""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct


class Work(StrEnum):
    """What a day of conditioning asks for."""

    WATER = "water"
    FEED = "feed"
    FINISH = "finish"
    """The last, balanced feeding."""


class ScheduleDay(Struct, frozen=True):
    """One day of the sequence; `rate` is the share of a full dose, 0 on a day of only water."""

    day: int
    work: Work
    rate: float = 0.0


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
