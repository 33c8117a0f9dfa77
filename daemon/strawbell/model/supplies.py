"""What is still to be bought."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class Supply(StrEnum):
    """What kind of thing is needed."""

    FEED = "feed"
    MIX = "mix"
    WATER = "water"


@dataclass(frozen=True, slots=True)
class Need:
    """All that is still needed of one thing.

    `kg` is None for mix and water, `litres` None for a feed of unknown density. A package is
    `package_kg` or `package_l`; without either `packages` is None. `cost` is None where the price
    or the package is unknown. `needed_by` is the first day it is needed, `last_on` the last.
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
