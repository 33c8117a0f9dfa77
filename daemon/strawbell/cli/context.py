"""What the commands share: the read configuration, the gardens meant, and the moment meant."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from difflib import get_close_matches

from strawbell.config.plain import read_plain
from strawbell.decision.brief import brief, suppose_told
from strawbell.edges.clock import SystemClock
from strawbell.errors import GrowerError, Problem
from strawbell.model.brief import Brief
from strawbell.model.configuration import Configuration
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Garden
from strawbell.model.journal import Journal
from strawbell.season.local_time import zone_of
from strawbell.wiring import MemoryCache, forecasts_of, open_store


def read_configuration(options: argparse.Namespace) -> Configuration:
    """Return the configuration; mistakes are raised all at once.

    What is only odd in it is said by `check` and `run`: with every command it would be nagging.
    """
    return read_plain(options.config, os.environ)


def gardens_meant(configuration: Configuration, name: str | None) -> tuple[Garden, ...]:
    """Return the garden of a name, or all; an unknown name is met with the nearest one."""
    if name is None:
        return configuration.gardens
    found = tuple(garden for garden in configuration.gardens if garden.name.lower() == name.lower())
    if found:
        return found
    names = [garden.name for garden in configuration.gardens]
    near = get_close_matches(name, names, n=1)
    raise GrowerError(
        Problem(
            what="there is no such garden",
            where="--garden",
            found=repr(name),
            allowed=", ".join(repr(each) for each in names),
            remedy=f"Did you mean {near[0]!r}?" if near else "",
        )
    )


def one_garden(configuration: Configuration, name: str | None) -> Garden:
    """Return the one garden a word is about; with several, its name has to be given."""
    found = gardens_meant(configuration, name)
    if len(found) == 1:
        return found[0]
    raise no_one_garden(found)


def no_one_garden(gardens: Iterable[Garden]) -> GrowerError:
    """Return the refusal of a word that may be about any of several gardens."""
    return GrowerError(
        Problem(
            what="there are several gardens",
            where="--garden",
            allowed=", ".join(repr(garden.name) for garden in gardens),
            remedy="Say which one is meant with --garden NAME.",
        )
    )


def moment_meant(at: datetime | None, garden: Garden) -> datetime:
    """Return the moment asked about, in UTC; without an offset it is garden-local."""
    if at is None:
        return SystemClock().now()
    if at.tzinfo is None:
        at = at.replace(tzinfo=zone_of(garden.place.time_zone))
    return at.astimezone(UTC)


@dataclass(frozen=True, slots=True)
class Seen:
    """A garden as a reading command sees it."""

    garden: Garden
    journal: Journal
    forecast: Forecast | None
    now: datetime
    complaints: tuple[str, ...]
    configuration: Configuration

    def brief(self) -> Brief:
        """Return the brief, the same one the daemon would make."""
        return brief(self.garden, self.journal, self.forecast, self.now)


@contextmanager
def seen_gardens(options: argparse.Namespace) -> Iterator[Iterator[Seen]]:
    """Give every garden meant, with its journal and the forecast for the moment meant.

    A supposed time (--at) leaves the store as it is: answers of the services are kept for this
    command only. What lies between now and a supposed later time is taken as told and done; rows
    written after a supposed earlier time are left out.
    """
    configuration = read_configuration(options)
    gardens = gardens_meant(configuration, options.garden)
    real_now = SystemClock().now()
    with open_store(configuration, real_now) as store:
        forecast_for = forecasts_of(configuration, store if options.at is None else MemoryCache())

        def each() -> Iterator[Seen]:
            for garden in gardens:
                now = moment_meant(options.at, garden)
                journal = store.journal(garden.name)
                if options.at is not None:
                    # What was written later was not known then.
                    journal = tuple(entry for entry in journal if entry.at <= now)
                forecast, complaints = forecast_for(garden.place, now)
                journal = suppose_told(garden, journal, forecast, real_now, now)
                yield Seen(garden, journal, forecast, now, complaints, configuration)

        yield each()
