"""What is still to be bought."""

from __future__ import annotations

from datetime import date
from enum import StrEnum

from msgspec import Struct

from strawbell.model.feeds import Package


class Supply(StrEnum):
    """What kind of thing is needed."""

    FEED = "feed"
    MIX = "mix"
    WATER = "water"


class Bought(Struct, frozen=True):
    """So many packages of one size."""

    count: int
    package: Package


class Need(Struct, frozen=True):
    """All that is still needed of one thing.

    `kg` is None for mix and water, `litres` None for a feed of unknown density. A package is
    `package_kg` or `package_l`; without either `packages` is None. `cost` is None where the price
    or the package is unknown. `needed_by` is the first day it is needed, `last_on` the last.

    Of a feed whose stock is known, `stock_kg` is what is left of it today, `lasts_until` the last
    feeding it is enough for, None for none, and `needed_by` the first that it is not; where it is
    enough for all, that is the first of all. `buy` are the packages one by one, where there is a
    choice of sizes.
    """

    kind: Supply
    name: str
    kg: float | None
    litres: float | None
    package_kg: float | None
    package_l: float | None
    packages: int | None
    cost: float | None
    needed_by: date
    last_on: date
    buy: tuple[Bought, ...] = ()
    stock_kg: float | None = None
    lasts_until: date | None = None

    @property
    def is_at_hand(self) -> bool:
        """Whether all of it is in stock."""
        return self.stock_kg is not None and self.lasts_until == self.last_on
