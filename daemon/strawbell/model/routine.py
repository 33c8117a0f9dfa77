"""The same watering day after day, told once for some days."""

from __future__ import annotations

from datetime import date

from msgspec import Struct

from strawbell.model.brief import Action


class Portion(Struct, frozen=True):
    """What each bale of a batch is given every morning [L]; None is as much as its top wants.

    Of a top that dries by the afternoon that may be more than once, `times_a_day`.
    """

    batch: str
    action: Action
    litres: float | None
    times_a_day: int = 1


class Extra(Struct, frozen=True):
    """A picking or a look that falls on a day of the week, by the key of its task."""

    on: date
    key: str


class Week(Struct, frozen=True):
    """What was told on `since` for every morning up to `until`, both included."""

    since: date
    until: date
    portions: tuple[Portion, ...]
    extras: tuple[Extra, ...] = ()
