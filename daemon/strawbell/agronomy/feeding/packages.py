"""Whole packages of several sizes that hold an amount at least cost.

References:
[1] The unbounded covering knapsack, solved exactly by dynamic programming over the greatest common
    divisor of the sizes.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

MOST_STEPS = 20_000
"""Larger amounts are filled with the best value first, and only their end is weighed up: the
optimum of a large purchase uses little else (design choice)."""
NEARLY_G = 1e-3
"""What is over by less than a milligram is rounding [g]."""


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
