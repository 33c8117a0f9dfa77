"""What gardens share that lie together: one forecast, and one decision where nothing differs.

A club plants rows of one plan under one sky. The brief rests on plan, journal, forecast and moment
alone, so where all of them are the same byte for byte, it is made once.

Decided 2026-11-25: A weather cell is a hundredth of a degree, finer than the grid of any service
asked, so that a frost hollow is not taken for the hill beside it.
"""

from __future__ import annotations

import hashlib
from datetime import datetime

from msgspec.structs import replace

from strawbell.app.ports import ForecastFor
from strawbell.decision.brief import brief
from strawbell.decision.daily_weather import SharedWeather
from strawbell.model.brief import Brief
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Garden, Place
from strawbell.season.fold import FoldCache, in_bytes
from strawbell.season.journal_index import JournalIndex

CELL_DECIMALS = 2
"""A cell is a hundredth of a degree, at most 1.1 km: finer than the grid of any service asked
(1 to 11 km), so that nobody's frost hollow is taken for the hill beside it."""
CELL_ELEVATION_M = 10.0
"""Heights of a cell are told apart by this [m]: 0.065 degC at the usual 6.5 degC a kilometre."""

MOST_PLANS = 64
"""Plans of one cell whose briefs are held at once, the oldest goes first: a few megabytes."""


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


class Neighbours:
    """The briefs of the last forecast and moment that were asked for."""

    def __init__(self) -> None:
        """Start empty."""
        self._under: tuple[Forecast | None, datetime] | None = None
        self._made: dict[bytes, Brief] = {}
        self._shared = SharedWeather()

    def brief(
        self,
        garden: Garden,
        index: JournalIndex,
        forecast: Forecast | None,
        now: datetime,
        *,
        whole: bool,
        folds: FoldCache | None = None,
    ) -> Brief:
        """Return what `strawbell.decision.brief.brief` does."""
        if self._under is None or self._under[0] is not forecast or self._under[1] != now:
            self._under, self._made = (forecast, now), {}
        said = in_bytes((replace(garden, name=""), index, whole))
        key = None if said is None else hashlib.sha256(said).digest()
        found = None if key is None else self._made.get(key)
        if found is not None:
            return replace(found, garden=garden.name)
        made = brief(garden, index, forecast, now, whole=whole, folds=folds, shared=self._shared)
        if key is not None:
            if len(self._made) == MOST_PLANS:
                del self._made[next(iter(self._made))]
            self._made[key] = made
        return made
