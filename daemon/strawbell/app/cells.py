"""Gardens that lie in one cell of the weather share one forecast, and one request for it.

Decided 2026-11-25: A weather cell is a hundredth of a degree, finer than the grid of any service
asked, so that a frost hollow is not taken for the hill beside it.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from msgspec.structs import replace

from strawbell.model.forecast import Forecast
from strawbell.model.garden import Place

ForecastFor = Callable[[Place, datetime], tuple[Forecast | None, tuple[str, ...]]]
"""Gives the best forecast to be had for a place, and a sentence for each service that failed."""

CELL_DECIMALS = 2
"""A cell is a hundredth of a degree, at most 1.1 km: finer than the grid of any service asked
(1 to 11 km), so that nobody's frost hollow is taken for the hill beside it."""
CELL_ELEVATION_M = 10.0
"""Heights of a cell are told apart by this [m]: 0.065 degC at the usual 6.5 degC a kilometre."""


def cell_of(place: Place) -> Place:
    """Return the place for which the weather of a garden is asked."""
    metres = place.elevation_m
    if metres is not None:
        metres = round(metres / CELL_ELEVATION_M) * CELL_ELEVATION_M
    return replace(
        place,
        latitude=round(place.latitude, CELL_DECIMALS),
        longitude=round(place.longitude, CELL_DECIMALS),
        elevation_m=metres,
    )


def in_order_of_cells(place: Place) -> tuple[float, float, float, str]:
    """Return by what gardens are put in order so that those of a cell are looked at together."""
    cell = cell_of(place)
    return cell.latitude, cell.longitude, cell.elevation_m or 0.0, cell.time_zone


def shared(forecast_for: ForecastFor) -> ForecastFor:
    """Return the same, asked once for gardens of one cell that are looked at one after another.

    Only the last answer is kept, so that memory does not grow with the number of cells.
    """
    asked: tuple[Place, datetime] | None = None
    answer: tuple[Forecast | None, tuple[str, ...]] = (None, ())

    def one_a_cell(place: Place, now: datetime) -> tuple[Forecast | None, tuple[str, ...]]:
        nonlocal asked, answer
        question = (cell_of(place), now)
        if asked != question:
            answer = forecast_for(place, now)
            asked = question
        return answer

    return one_a_cell
