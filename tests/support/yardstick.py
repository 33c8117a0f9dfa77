"""A fixed amount of plain Python work, so that speeds are ratios within one run."""

from __future__ import annotations

import sys
from collections.abc import Callable
from statistics import median
from time import perf_counter
from types import FrameType

ADDITIONS = 100_000


def yardstick() -> int:
    """Do a fixed amount of plain Python work."""
    total = 0
    for number in range(ADDITIONS):
        total += number
    return total


def instructions(work: Callable[[], object]) -> int:
    """Return how many instructions of Python a piece of work takes, done once uncounted before.

    The same on every machine, however busy; what compiled code does inside is not in it.
    """
    count = 0

    def trace(frame: FrameType, event: str, _arg: object) -> object:
        nonlocal count
        frame.f_trace_opcodes, frame.f_trace_lines = True, False
        count += event == "opcode"
        return trace

    work()
    before = sys.gettrace()
    sys.settrace(trace)
    try:
        work()
    finally:
        sys.settrace(before)
    return count


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
