"""What is still to be bought: feeds, potting mix and water, in whole packages, and by when.

References
----------
[1] By arithmetic from the doses of the plan; packages are rounded up (common practice).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from strawbell.agronomy.ranges import within
from strawbell.model.feeds import Dose, Feed, FeedForm
from strawbell.model.supplies import Need, Supply

MOST_AMOUNT = 1e10
MOST_PRICE = 1e7
"""Larger figures are slips of the pen [g or L; the grower's money]."""
G_PER_KG = 1000.0
NEARLY = 1e-9
"""So that three kilograms fill three packages of one."""


@dataclass(frozen=True, slots=True)
class FeedItem:
    """One feeding of a whole batch that is still to be done: `dose.total_g` of `feed` on a day."""

    on: date
    feed: Feed
    dose: Dose


@dataclass(frozen=True, slots=True)
class MixItem:
    """Potting mix for one batch [L, not negative], its package [L] and price when known."""

    on: date
    litres: float
    package_l: float | None = None
    price: float | None = None
    name: str = "potting mix"


@dataclass(frozen=True, slots=True)
class WaterItem:
    """Water for one batch on a day [L, not negative]."""

    on: date
    litres: float


Item = FeedItem | MixItem | WaterItem


def needs(items: Iterable[Item], used_g: Mapping[str, float] | None = None) -> tuple[Need, ...]:
    """Return what the rest of a plan takes, each thing once.

    Parameters
    ----------
    items : iterable of FeedItem, MixItem or WaterItem
        What is left of the plan, of all batches, in any order [g and L of whole batches]. Two
        feeds of one name with different labels or packages, or mixes of one name with different
        packages, are refused with ValueError; so are amounts that are negative or not finite.
    used_g : mapping of str to float, optional
        What was used of each feed before [g], 0 to 1e10, else ValueError: what is left in the
        package it was taken from is used up before another is bought.

    Returns
    -------
    tuple of Need
        In the order in which they are first needed, feeds before mix before water; nothing for
        an amount of 0.

    References
    ----------
    .. [1] By arithmetic; packages are rounded up over the whole plan, not for every feeding.
    """
    feeds: dict[str, list[FeedItem]] = {}
    mixes: dict[str, list[MixItem]] = {}
    water: list[WaterItem] = []
    for item in items:
        if isinstance(item, FeedItem):
            feeds.setdefault(item.feed.name, []).append(item)
        elif isinstance(item, MixItem):
            mixes.setdefault(item.name, []).append(item)
        else:
            water.append(item)
    used = used_g or {}
    found = [_feed(each, used.get(name, 0.0)) for name, each in feeds.items()]
    found += [_mix(each) for each in mixes.values()]
    found += [_water(water)] if water else []
    order = list(Supply)
    wanted = [need for need in found if need is not None]
    return tuple(
        sorted(wanted, key=lambda need: (need.needed_by, order.index(need.kind), need.name))
    )


def _feed(items: Sequence[FeedItem], used_g: float) -> Need | None:
    feed = items[0].feed
    if any(item.feed != feed for item in items):
        raise ValueError(f"items hold two different feeds of the name {feed.name!r}")
    wanted = [item for item in items if _amount("total_g", item.dose.total_g) > 0]
    if not wanted:
        return None
    kg = math.fsum(item.dose.total_g for item in wanted) / G_PER_KG
    litres = None if feed.density_kg_per_l is None else kg / feed.density_kg_per_l
    # A bottle is sold by volume and a bag by mass, where the grower wrote down both.
    by_volume = feed.package_l is not None and litres is not None
    if by_volume and feed.package_kg is not None and feed.form is FeedForm.DRY:
        by_volume = False
    package_l = feed.package_l if by_volume else None
    package_kg = None if by_volume else feed.package_kg
    used_kg = _amount("used_g", used_g) / G_PER_KG
    packages = (
        _packages(litres, package_l, used_kg / (feed.density_kg_per_l or 1.0))
        if by_volume
        else _packages(kg, package_kg, used_kg)
    )
    return Need(
        kind=Supply.FEED,
        name=feed.name,
        kg=kg,
        litres=litres,
        package_kg=package_kg,
        package_l=package_l,
        packages=packages,
        cost=_cost(packages, feed.price),
        needed_by=min(item.on for item in wanted),
        last_on=max(item.on for item in wanted),
    )


def _mix(items: Sequence[MixItem]) -> Need | None:
    first = items[0]
    if any((item.package_l, item.price) != (first.package_l, first.price) for item in items):
        raise ValueError(f"items hold two different packages of {first.name!r}")
    wanted = [item for item in items if _amount("litres", item.litres) > 0]
    if not wanted:
        return None
    litres = math.fsum(item.litres for item in wanted)
    packages = _packages(litres, first.package_l)
    return Need(
        kind=Supply.MIX,
        name=first.name,
        kg=None,
        litres=litres,
        package_kg=None,
        package_l=first.package_l,
        packages=packages,
        cost=_cost(packages, first.price),
        needed_by=min(item.on for item in wanted),
        last_on=max(item.on for item in wanted),
    )


def _water(items: Sequence[WaterItem]) -> Need | None:
    wanted = [item for item in items if _amount("litres", item.litres) > 0]
    if not wanted:
        return None
    return Need(
        kind=Supply.WATER,
        name="water",
        kg=None,
        litres=math.fsum(item.litres for item in wanted),
        package_kg=None,
        package_l=None,
        packages=None,
        cost=None,
        needed_by=min(item.on for item in wanted),
        last_on=max(item.on for item in wanted),
    )


def _amount(name: str, value: float) -> float:
    return within(name, value, 0.0, MOST_AMOUNT, "")


def _packages(amount: float | None, package: float | None, used: float = 0.0) -> int | None:
    """Return how many packages are still to be bought, those that were opened being used up."""
    if amount is None or package is None:
        return None
    if not package > 0:
        raise ValueError(f"package must be over 0, got {package}")
    bought = math.ceil(used / package - NEARLY)
    return max(0, math.ceil((used + amount) / package - NEARLY) - bought)


def _cost(packages: int | None, price: float | None) -> float | None:
    if packages is None or price is None:
        return None
    return packages * within("price", price, 0.0, MOST_PRICE, "")
