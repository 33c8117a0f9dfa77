"""How many plants stand on a bale, and where.

Growers' counts for a two-string bale come first; within them the distance between plants decides.
Plants are kept off the edge, which dries out and crumbles first.

References
----------
[1] North Carolina State University Extension newsletter on straw bale gardening (2009, quoted
    second-hand) and pages of bale growers that agree with it: plants per two-string bale.
[2] Common practice: nothing is planted within a hand's breadth of the edge.
[3] Two-string bales are 36 to 45 by 18 by 14 in: what-when-how.com, "Building with Straw Bales".
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from strawbell.agronomy.crops.crop_figures import inches
from strawbell.agronomy.ranges import within
from strawbell.model.crops import Crop
from strawbell.model.garden import Bale

EDGE_CM = inches(4)
"""Least distance of a plant from the edge of the bale [2]."""
SMALL_TOP_CM2 = inches(36) * inches(18)
LARGE_TOP_CM2 = inches(45) * inches(18)
"""Tops of two-string bales, for which the growers' counts are printed [3]."""
SMALLEST_TOP_CM = 20.0
LARGEST_TOP_CM = 400.0
"""A bale top outside these is a slip of the pen."""
MOST_PLANTS = 150
"""More than this on one bale is a slip of the pen (radishes reach about 60)."""
ROUNDING = 1e-6
"""So that 24 in fit into 24 in."""


@dataclass(frozen=True, slots=True)
class Fit:
    """How many plants of a crop one bale takes.

    `by_distance` is what stands at the crop's distance off the edge; `fewest` and `most` are the
    growers' counts for a bale of this size; `advised` is the first within the other two.
    """

    by_distance: int
    fewest: int
    most: int
    advised: int


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a plant stands: from one short end and from one long side of the top [cm]."""

    along_cm: float
    across_cm: float


@dataclass(frozen=True, slots=True)
class TooMany:
    """More plants than fit: what was asked, what fits, and in how many bales it would."""

    plants: int
    room_for: int
    bales_needed: int


def plants_that_fit(crop: Crop, bale: Bale) -> Fit:
    """Return how many plants of a crop one bale takes.

    Parameters
    ----------
    crop : Crop
        The crop with its distance [cm] and its growers' counts on a two-string bale.
    bale : Bale
        The bale; its top is length by width [cm], each 20 to 400.

    Returns
    -------
    Fit
        Counts [plants], each at least 1. Growers' counts stand as printed for tops of two-string
        bales; smaller and larger tops get their share by area, rounded down.

    Raises
    ------
    ValueError
        When a side of the top lies outside 20 to 400 cm.

    References
    ----------
    .. [1] NC State Extension (2009, second-hand) and bale growers; distance rule from the edge:
       common practice.
    """
    by_distance = _count(bale.length_cm, crop.spacing_cm, "length_cm") * _count(
        bale.width_cm, crop.spacing_cm, "width_cm"
    )
    top_cm2 = bale.length_cm * bale.width_cm
    share = top_cm2 / min(max(top_cm2, SMALL_TOP_CM2), LARGE_TOP_CM2)
    fewest, most = (max(1, math.floor(count * share + ROUNDING)) for count in crop.per_bale)
    return Fit(by_distance, fewest, most, min(max(by_distance, fewest), most))


def too_many(crop: Crop, plants: int, bales: int, bale: Bale) -> TooMany | None:
    """Say when more plants are wanted than the bales take.

    Parameters
    ----------
    crop : Crop
        The crop.
    plants, bales : int
        How many of each, 1 or more.
    bale : Bale
        One of the bales.

    Returns
    -------
    TooMany or None
        None when they fit by the growers' upper count.

    Raises
    ------
    ValueError
        When `plants` or `bales` is under 1, or the bale's top is out of range.

    References
    ----------
    .. [1] As `plants_that_fit`.
    """
    for name, count in (("plants", plants), ("bales", bales)):
        if count < 1:
            raise ValueError(f"{name} must be 1 or more, got {count}")
    most = plants_that_fit(crop, bale).most
    if plants <= most * bales:
        return None
    return TooMany(plants, most * bales, math.ceil(plants / most))


def spots(plants: int, bale: Bale) -> tuple[Spot, ...]:
    """Spread plants evenly over the top of one bale, off the edge.

    Rows run along the bale. The number of rows is the one that leaves the widest distance between
    neighbours; of equals the fewest. A row that is one short is spread evenly like the others.

    Parameters
    ----------
    plants : int
        Plants on this bale, 1 to 150.
    bale : Bale
        The bale; its top is length by width [cm], each 20 to 400.

    Returns
    -------
    tuple of Spot
        One spot a plant [cm], row by row.

    Raises
    ------
    ValueError
        When `plants` lies outside 1 to 150 or a side of the top outside 20 to 400 cm.

    References
    ----------
    .. [1] Common practice: even distances, a hand's breadth off the edge.
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


def _count(side_cm: float, spacing_cm: float, name: str) -> int:
    return math.floor(_inner(side_cm, name) / spacing_cm + ROUNDING) + 1


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
