"""Where plants stand on a bale: off the edge, which dries out and crumbles first.

References:
[1] Common practice: nothing is planted within a hand's breadth of the edge.
"""

from __future__ import annotations

import math

from msgspec import Struct

from strawbell.agronomy.crops.crop_figures import inches
from strawbell.agronomy.ranges import within
from strawbell.model.garden import Bale

EDGE_CM = inches(4)
"""Least distance of a plant from the edge of the bale [1]."""
SMALLEST_TOP_CM = 20.0
LARGEST_TOP_CM = 400.0
"""A bale top outside these is a slip of the pen."""
MOST_PLANTS = 150
"""More than this on one bale is a slip of the pen (radishes reach about 60)."""


class Spot(Struct, frozen=True):
    """Where a plant stands: from one short end and from one long side of the top [cm]."""

    along_cm: float
    across_cm: float


def spots(plants: int, bale: Bale) -> tuple[Spot, ...]:
    """Spread plants evenly over the top of one bale, off the edge.

    Rows run along the bale. The number of rows is the one that leaves the widest distance between
    neighbours; of equals the fewest. A row that is one short is spread evenly like the others.

    Args:
        plants: Plants on this bale, 1 to 150.
        bale: The bale; its top is length by width [cm], each 20 to 400.

    Returns:
        One spot a plant [cm], row by row.

    Raises:
        ValueError: When `plants` lies outside 1 to 150 or a side of the top outside 20 to 400 cm.

    Source: common practice: even distances, a hand's breadth off the edge.
    """
    if not 1 <= plants <= MOST_PLANTS:
        raise ValueError(f"plants must lie between 1 and {MOST_PLANTS}, got {plants}")
    length_cm = _inner(bale.length_cm, "length_cm")
    width_cm = _inner(bale.width_cm, "width_cm")
    layouts = [
        _rows(plants, rows, length_cm, width_cm) for rows in range(1, _most_rows(plants) + 1)
    ]
    best = max(layouts, key=lambda layout: (round(_nearest(layout), 3), -_row_count(layout)))
    along_edge = (bale.length_cm - length_cm) / 2.0
    across_edge = (bale.width_cm - width_cm) / 2.0
    return tuple(
        Spot(round(along + along_edge, 1), round(across + across_edge, 1)) for along, across in best
    )


def _inner(side_cm: float, name: str) -> float:
    """Return what a side leaves between the edges; a narrow top leaves its middle line."""
    within(name, side_cm, SMALLEST_TOP_CM, LARGEST_TOP_CM, "cm")
    return max(0.0, side_cm - 2.0 * EDGE_CM)


def _rows(plants: int, rows: int, length_cm: float, width_cm: float) -> list[tuple[float, float]]:
    """Place `plants` in `rows`, the first rows one longer where they do not come out even."""
    each, longer = divmod(plants, rows)
    placed: list[tuple[float, float]] = []
    for row in range(rows):
        across = _step(row, rows, width_cm)
        in_row = each + (1 if row < longer else 0)
        placed.extend((_step(column, in_row, length_cm), across) for column in range(in_row))
    return placed


def _step(index: int, count: int, span_cm: float) -> float:
    """Return the place of one of `count` evenly spread over a span, the only one in its middle."""
    return span_cm / 2.0 if count == 1 else span_cm * index / (count - 1)


def _most_rows(plants: int) -> int:
    """Return a number of rows past which every layout only gets tighter along the rows."""
    return min(plants, 2 * math.isqrt(plants) + 2)


def _row_count(layout: list[tuple[float, float]]) -> int:
    return len({across for _, across in layout})


def _nearest(layout: list[tuple[float, float]]) -> float:
    """Return the least distance between two plants."""
    if len(layout) == 1:
        return math.inf
    return min(
        math.dist(layout[one], layout[other]) for one in range(len(layout)) for other in range(one)
    )
