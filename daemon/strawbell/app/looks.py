"""What a look need not do again: journals stay indexed, and neighbours share what is the same.

A club plants rows of one plan under one sky. The brief rests on plan, journal, forecast and moment
alone, so where all of them are the same byte for byte, it is made once.

Decided 2026-11-25: The index of the journal is kept between looks, and with it how far each batch
was followed; a new row makes it forget what it could change. The brief is the one from all rows
anew, which a property test holds.

Decided 2026-11-29: With each decision of a morning the index as it was before goes into the store,
in the same transaction and at no sync more, so that a start reads one row and what came after it.
A garden that stays in memory gets a checkpoint once in a while; one of many, read at each look,
with every morning.

Decided 2026-11-25: A weather cell is a hundredth of a degree, finer than the grid of any service
asked, so that a frost hollow is not taken for the hill beside it.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from datetime import datetime

from msgspec import Struct, field
from msgspec.structs import replace

from strawbell.app.ports import ForecastFor, Journals, Store
from strawbell.decision.brief import brief
from strawbell.decision.daily_weather import SharedWeather
from strawbell.model.brief import Brief
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Garden, Place
from strawbell.model.journal import EntryKind
from strawbell.season.fold import FoldCache, in_bytes, packed, unpacked
from strawbell.season.journal_index import JournalIndex

MOST_INDEXES = 32
"""Gardens whose journal stays indexed between looks; with more, each is read again."""
CHECKPOINT_AFTER_ROWS = 48
"""New rows after which a garden that stays in memory gets a new checkpoint: those of a week."""


class KeptIndex(Struct):
    """The index of a garden up to its row `last`, and how far its batches were followed."""

    index: JournalIndex = field(default_factory=JournalIndex)
    folds: FoldCache = field(default_factory=FoldCache)
    last: int = 0
    rows: int = 0
    """Rows indexed since its checkpoint."""


class KeptIndexes:
    """The index of each garden's journal, with what was written since it was asked for last."""

    def __init__(self, store: Store, build: str | None = None) -> None:
        """Keep the store; nothing is read yet. Without a `build` there is no checkpoint."""
        self._store = store
        self._build = build
        self._kept: OrderedDict[str, KeptIndex] = OrderedDict()

    def of(self, garden: Garden) -> JournalIndex:
        """Return the index as the store stands; commands beside the daemon write too."""
        kept = self._kept.pop(garden.name, None) or _restored(self._store, garden, self._build)
        self._kept[garden.name] = kept = _caught_up(self._store, garden, kept)
        if len(self._kept) > MOST_INDEXES:
            self._kept.popitem(last=False)
        return kept.index

    def save_checkpoint(self, garden: Garden) -> None:
        """Keep the index of a garden in the store as it was at the last look at it."""
        kept = self._kept.get(garden.name)
        if self._build is None or kept is None:
            return
        stays = len(self._kept) < MOST_INDEXES
        if kept.rows >= (CHECKPOINT_AFTER_ROWS if stays else 1):
            content = packed(kept.index, kept.folds, garden, self._build)
            if content is not None:
                self._store.save_checkpoint(garden.name, kept.last, content)
            kept.rows = 0

    def folds(self, garden: Garden) -> FoldCache:
        """Return how far the batches of a garden were followed, at the last look at it."""
        return self._kept[garden.name].folds

    def last_row(self, garden: str) -> int:
        """Return the number of the last row that is indexed, 0 for none."""
        return self._kept[garden].last if garden in self._kept else 0


def kept_in(store: Journals, garden: Garden, build: str) -> KeptIndex:
    """Return the index of a garden as a store stands, for one look: what a command needs."""
    return _caught_up(store, garden, _restored(store, garden, build))


def _restored(store: Journals, garden: Garden, build: str | None) -> KeptIndex:
    """Return the index of its checkpoint, an empty one where there is none that fits."""
    found = None if build is None else store.checkpoint(garden.name)
    if found is None or build is None:
        return KeptIndex()
    last, content = found
    known = unpacked(content, garden, build)
    return KeptIndex() if known is None else KeptIndex(*known, last)


def _caught_up(store: Journals, garden: Garden, kept: KeptIndex) -> KeptIndex:
    """Return an index with the rows that came after it."""
    rows, kept.last = store.planners_rows(garden.name, kept.last)
    if any(row.kind is EntryKind.UNDONE for row in rows):
        # What was taken in cannot be taken out again: the index is made anew without it.
        kept = KeptIndex()
        rows, kept.last = store.planners_rows(garden.name, 0)
    kept.index.take(rows)
    kept.folds.forget(rows, kept.index)
    kept.rows += len(rows)
    return kept


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
