"""What is still to be bought: feeds, potting mix and water, in whole packages, and by when.

References:
[1] By arithmetic from the doses of the plan; packages are rounded up (common practice).
[2] Packages of several sizes at least cost: the unbounded covering knapsack, solved exactly by
    dynamic programming over the greatest common divisor of the sizes.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from msgspec import Struct

from strawbell.agronomy.figures import within
from strawbell.model.feeds import Bought, Dose, Feed, FeedForm, Need, Package, Supply

MOST_STEPS = 20_000
"""Larger amounts are filled with the best value first, and only their end is weighed up: the
optimum of a large purchase uses little else (design choice)."""
NEARLY_G = 1e-3
"""What is over, or lacks, by less than a milligram is rounding [g]."""


def least_cost(
    amount_g: float, sizes_g: Sequence[float], prices: Sequence[float | None]
) -> tuple[int, ...]:
    """Return how many packages of each size hold an amount together.

    Args:
        amount_g: What has to be held [g], finite; 0 and less takes none.
        sizes_g: What a package of each size holds [g], from 1 on; parts of a gram are not counted
            on where there are several.
        prices: Price of one [money], not negative. Where any is unknown the least mass is bought
            instead.

    Returns:
        Count of each size, in their order; the cheapest, then the least left over, then the fewest
        packages.

    Raises:
        ValueError: When there is no size, or one is too small.
    """
    if not sizes_g or not all(size >= 1.0 for size in sizes_g):
        raise ValueError(f"package must hold a gram or more, got {list(sizes_g)}")
    if amount_g <= NEARLY_G:
        return (0,) * len(sizes_g)
    if len(sizes_g) == 1:
        return (math.ceil((amount_g - NEARLY_G) / sizes_g[0]),)
    # Down, never up: what is bought has to hold the amount.
    grams = [math.floor(size + NEARLY_G) for size in sizes_g]
    known = [price for price in prices if price is not None]
    costs = known if len(known) == len(grams) else [0.0] * len(grams)
    step = math.gcd(*grams)
    sizes = [size // step for size in grams]
    steps = math.ceil((amount_g - NEARLY_G) / step)
    found: Counter[int] = Counter()
    if steps > MOST_STEPS:
        best = min(range(len(sizes)), key=lambda at: (costs[at] / sizes[at], -sizes[at]))
        found[best] = max(0, (steps - MOST_STEPS) // sizes[best])
        steps -= found[best] * sizes[best]
    found += _cover(steps, sizes, costs)
    return tuple(found[at] for at in range(len(sizes)))


def _cover(steps: int, sizes: Sequence[int], costs: Sequence[float]) -> Counter[int]:
    """Return the best packages that hold so many steps, by their place in `sizes`."""
    best: list[tuple[float, int, int]] = [(0.0, 0, 0)]
    taken = [0]
    for held in range(1, steps + 1):
        options = []
        for at, (size, cost) in enumerate(zip(sizes, costs, strict=True)):
            money, mass, count = best[max(0, held - size)]
            options.append(((round(money + cost, 6), mass + size, count + 1), at))
        way, at = min(options)
        best.append(way)
        taken.append(at)
    found: Counter[int] = Counter()
    while steps > 0:
        found[taken[steps]] += 1
        steps -= sizes[taken[steps]]
    return found


MOST_AMOUNT = 1e10
MOST_PRICE = 1e7
"""Larger figures are slips of the pen [g or L; the grower's money]."""
G_PER_KG = 1000.0
ML_PER_L = 1000.0
NEARLY = 1e-9
"""So that three kilograms fill three packages of one."""


class FeedItem(Struct, frozen=True):
    """One feeding of a whole batch that is still to be done: `dose.total_g` of `feed` on a day."""

    on: date
    feed: Feed
    dose: Dose


class MixItem(Struct, frozen=True):
    """Potting mix for one batch [L, not negative], its package [L] and price when known."""

    on: date
    litres: float
    package_l: float | None = None
    price: float | None = None
    name: str = "potting mix"


class WaterItem(Struct, frozen=True):
    """Water for one batch on a day [L, not negative]."""

    on: date
    litres: float


Item = FeedItem | MixItem | WaterItem


def needs(items: Iterable[Item], used_g: Mapping[str, float] | None = None) -> tuple[Need, ...]:
    """Return what the rest of a plan takes, each thing once.

    Args:
        items: What is left of the plan, of all batches, in any order [g and L of whole batches].
            Two feeds of one name with different labels or packages, or mixes of one name with
            different packages, are refused with ValueError; so are amounts that are negative or not
            finite.
        used_g: What was used of each feed before, or of its stock [g], 0 to 1e10, else ValueError.
            What is left of the stock, and in packages that were opened since, is used up before
            another is bought.

    Returns:
        In the order in which they are first needed, feeds before mix before water; nothing for an
        amount of 0.

    Source: by arithmetic; packages are rounded up over the whole plan, not for every feeding.
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


def worth(feed: Feed, kg: float) -> float | None:
    """Return what a mass of feed costs, as a share of the packages that hold it at least cost.

    Args:
        feed: With its packages and their prices.
        kg: What was given [kg], 0 to 1e7; outside ValueError.

    Returns:
        The grower's money, None while a size or a price is unknown.

    Source: by arithmetic: 12.00 for 1.5 kg makes 0.5 kg worth 4.00.
    """
    grams = _amount("kg", kg * G_PER_KG)
    sizes = _sizes(feed)
    bought = _bought(sizes, grams)
    if bought is None or any(package.price is None for package, _ in sizes):
        return None
    masses = dict(sizes)
    held_g = math.fsum(each.count * masses[each.package] for each in bought)
    cost = math.fsum(_cost(each.count, each.package.price) or 0.0 for each in bought)
    return cost * grams / held_g if held_g else 0.0


def _feed(items: Sequence[FeedItem], used_g: float) -> Need | None:
    feed = items[0].feed
    if any(item.feed != feed for item in items):
        raise ValueError(f"items hold two different feeds of the name {feed.name!r}")
    wanted = [item for item in items if _amount("total_g", item.dose.total_g) > 0]
    if not wanted:
        return None
    kg = math.fsum(item.dose.total_g for item in wanted) / G_PER_KG
    volumes = [item.dose.total_ml for item in wanted if item.dose.total_ml is not None]
    litres = math.fsum(volumes) / ML_PER_L if len(volumes) == len(wanted) else None
    used_kg = _amount("used_g", used_g) / G_PER_KG
    sizes = _sizes(feed)
    left_g = _left_g(sizes, (used_kg - (feed.stock_kg or 0.0)) * G_PER_KG)
    stock_kg = None if feed.stock_kg is None else left_g / G_PER_KG
    lasts_until, needed_by = _lasts(wanted, stock_kg)
    bought = _bought(sizes, kg * G_PER_KG - left_g)
    one = sizes[0] if len(sizes) == 1 else (Package(), 0.0)
    costs = [_cost(each.count, each.package.price) for each in bought or ()]
    priced = bought is not None and all(package.price is not None for package, _ in sizes)
    return Need(
        kind=Supply.FEED,
        name=feed.name,
        kg=kg,
        litres=litres,
        package_kg=one[0].kg,
        package_l=one[0].litres,
        packages=None if bought is None else sum(each.count for each in bought),
        cost=math.fsum(cost or 0.0 for cost in costs) if priced else None,
        needed_by=needed_by,
        last_on=max(item.on for item in wanted),
        buy=bought or (),
        stock_kg=stock_kg,
        lasts_until=lasts_until,
    )


def _lasts(wanted: Sequence[FeedItem], stock_kg: float | None) -> tuple[date | None, date]:
    """Return the last date a stock is enough for, and the first it is not, else the first of all.

    What is fed on one date is one feeding: half of the bales are not fed.
    """
    totals: dict[date, float] = {}
    for item in wanted:
        totals[item.on] = totals.get(item.on, 0.0) + item.dose.total_g
    dates = sorted(totals)
    last, left_g = None, (stock_kg or 0.0) * G_PER_KG
    for on in dates:
        left_g -= totals[on]
        if left_g < -NEARLY_G:
            return last, on
        last = on
    return last, dates[0]


def _sizes(feed: Feed) -> list[tuple[Package, float]]:
    """Return the sizes a feed is sold in, as it is counted there, each with its mass [g].

    A bottle is sold by volume and a bag by mass, where the grower wrote down both.
    """
    found = []
    for each in (Package(feed.package_kg, feed.package_l, feed.price), *feed.packages):
        by_volume = each.litres is not None and feed.density_kg_per_l is not None
        if by_volume and each.kg is not None and feed.form is FeedForm.DRY:
            by_volume = False
        if by_volume and each.litres is not None and feed.density_kg_per_l is not None:
            size = Package(None, each.litres, each.price)
            kg = each.litres * feed.density_kg_per_l
        elif each.kg is not None:
            size, kg = Package(each.kg, None, each.price), each.kg
        else:
            continue
        if not kg > 0:
            raise ValueError(f"package must be over 0, got {each}")
        if each.price is not None:
            within("price", each.price, 0.0, MOST_PRICE, "")
        found.append((size, kg * G_PER_KG))
    return found


def _left_g(sizes: Sequence[tuple[Package, float]], beyond_g: float) -> float:
    """Return what is left at hand [g] when so much more was used than there was in stock.

    What was used beyond it, all of it where no stock is known, came out of packages that were
    bought whole.
    """
    if beyond_g <= 0.0 or not sizes:
        return max(0.0, -beyond_g)
    opened = _bought(sizes, beyond_g) or ()
    masses = dict(sizes)
    return math.fsum(each.count * masses[each.package] for each in opened) - beyond_g


def _bought(sizes: Sequence[tuple[Package, float]], amount_g: float) -> tuple[Bought, ...] | None:
    """Return the packages that hold an amount [g] at least cost, None where no size is known."""
    if not sizes:
        return None
    counts = least_cost(
        amount_g, [mass for _, mass in sizes], [package.price for package, _ in sizes]
    )
    return tuple(
        Bought(count, package) for count, (package, _) in zip(counts, sizes, strict=True) if count
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


def _packages(amount: float, package: float | None) -> int | None:
    if package is None:
        return None
    if not package > 0:
        raise ValueError(f"package must be over 0, got {package}")
    return math.ceil(amount / package - NEARLY)


def _cost(packages: int | None, price: float | None) -> float | None:
    if packages is None or price is None:
        return None
    return packages * within("price", price, 0.0, MOST_PRICE, "")
