"""A fixed amount of plain Python work, so that speeds are ratios within one run."""

from __future__ import annotations

from collections.abc import Callable
from statistics import median
from time import perf_counter

ADDITIONS = 100_000


def yardstick() -> int:
    """Do a fixed amount of plain Python work."""
    total = 0
    for number in range(ADDITIONS):
        total += number
    return total


def median_s(
    work: Callable[[], object], rounds: int, clock: Callable[[], float] = perf_counter
) -> float:
    """Return the median duration of a piece of work by a clock, done once uncounted before [s]."""
    work()
    times = []
    for _ in range(rounds):
        begin = clock()
        work()
        times.append(clock() - begin)
    return median(times)
