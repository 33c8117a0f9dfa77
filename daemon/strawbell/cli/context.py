"""What the commands share: the read configuration, and the gardens as they are seen."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date, datetime
from functools import partial

from msgspec import Struct

from strawbell.app.identity import settled_in
from strawbell.app.kept_indexes import KeptIndex, kept_in
from strawbell.app.word import gardens_meant, moment_meant
from strawbell.cli.configured import read_configuration
from strawbell.cli.reach import reached
from strawbell.decision.brief import brief, suppose_told
from strawbell.edges.clock import SystemClock
from strawbell.model.brief import Brief, WorkKind
from strawbell.model.configuration import Configuration
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Garden
from strawbell.model.journal import Journal
from strawbell.season.journal_index import JournalIndex
from strawbell.wiring import MemoryCache, build, forecasts_of


class Seen(Struct, frozen=True):
    """A garden as a reading command sees it."""

    garden: Garden
    kept: KeptIndex
    rows: Callable[[date | None], Journal]
    """All rows that were there, or those of one local date; most commands need none."""
    forecast: Forecast | None
    now: datetime
    complaints: tuple[str, ...]
    configuration: Configuration
    asked: tuple[str, ...] = ()
    """Questions about what the running season knows and the configuration lost."""

    @property
    def index(self) -> JournalIndex:
        """What its journal says."""
        return self.kept.index

    def brief(self) -> Brief:
        """Return the brief, the same one the daemon would make."""
        folds = self.kept.folds
        return brief(self.garden, self.index, self.forecast, self.now, folds=folds)

    def explained(self, on: date) -> Mapping[WorkKind, date]:
        """Return when work of each kind was explained before a date."""
        return self.index.explained(on)


def _rows_of(journal: Journal, on: date | None) -> Journal:
    """Return the rows of a date, or all of them."""
    return tuple(row for row in journal if on is None or row.local_date == on)


@contextmanager
def seen_gardens(options: argparse.Namespace) -> Iterator[Iterator[Seen]]:
    """Give every garden meant, with its journal and the forecast for the moment meant.

    A supposed time (--at) leaves the store as it is: answers of the services are kept for this
    command only. What lies between now and a supposed later time is taken as told and done; rows
    written after a supposed earlier time are left out, and so all rows are read. Without one, what
    was laid by of the journal is, and what came after it.
    """
    configuration = read_configuration(options)
    gardens = gardens_meant(configuration.gardens, options.garden)
    real_now = SystemClock().now()
    with reached(configuration, real_now) as store:
        which = settled_in(store, configuration.gardens, real_now)
        forecast_for = forecasts_of(configuration, store if options.at is None else MemoryCache())

        def each() -> Iterator[Seen]:
            for garden in gardens:
                now = moment_meant(options.at, garden, real_now)
                forecast, complaints = forecast_for(garden.place, now)
                if options.at is None:
                    kept = kept_in(store, garden, build())
                    rows = partial(store.journal, garden.name)
                else:
                    # What was written later was not known then.
                    known = tuple(each for each in store.journal(garden.name) if each.at <= now)
                    journal = suppose_told(garden, known, forecast, real_now, now)
                    kept = KeptIndex(JournalIndex.of(journal))
                    rows = partial(_rows_of, journal)
                asked = which.questions(garden.name)
                yield Seen(garden, kept, rows, forecast, now, complaints, configuration, asked)

        yield each()
