"""`strawbell start-when`: frost dates of the place, and the first soaking day for each crop."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, date, datetime

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.frost_dates import (
    MISSING_DAYS_REFUSED,
    FreezeRisk,
    StartProposal,
    freeze_table,
    propose_start,
    southern_winter,
    warm_nights_from,
)
from strawbell.agronomy.schedules import ALTERNATE_DAYS
from strawbell.app.word import gardens_meant
from strawbell.cli.main import print_json
from strawbell.cli.reach import read_configuration
from strawbell.edges.forecasts.http import Http
from strawbell.edges.forecasts.past import Minima, from_archive, from_file
from strawbell.edges.machine import SystemClock
from strawbell.errors import GrowerError, Problem
from strawbell.model.configuration import Configuration
from strawbell.model.garden import Crop, Garden
from strawbell.wiring import MemoryCache
from strawbell.words.catalogue import BRITISH
from strawbell.words.documents import start_json
from strawbell.words.escaping import name
from strawbell.words.start_when import other_hemisphere, start_screen

COLD_START_EXTRA_DAYS = 3
"""Days a conditioning begun in early spring takes longer than the schedule (common practice)."""


def start_when(options: argparse.Namespace) -> int:
    """Print frost dates and proposals for every garden meant."""
    configuration = read_configuration(options)
    now = SystemClock().now() if options.at is None else options.at.astimezone(UTC)
    documents = []
    for garden in gardens_meant(configuration.gardens, options.garden):
        minima = _minima(options, configuration, garden, now)
        _doubt_hemisphere(garden, minima)
        risks = _risks(options, garden, minima)
        year = _year(garden, now)
        proposals = _proposals(garden, minima, risks, year)
        if options.json:
            documents.append(start_json(garden, risks, proposals, year))
        else:
            print(start_screen(garden, risks, proposals, year))
    if options.json:
        print_json(documents)
    return 0


def _minima(
    options: argparse.Namespace, configuration: Configuration, garden: Garden, now: datetime
) -> Minima:
    if options.minima is not None:
        minima, left_out = from_file(options.minima)
        if left_out:
            print(BRITISH.say("start.left-out", count=left_out), file=sys.stderr)
        return minima
    weather = configuration.weather
    http = Http(MemoryCache(), contact=weather.contact)
    return from_archive(http, weather.base_urls.get("open-meteo"), garden.place, now)


def _risks(options: argparse.Namespace, garden: Garden, minima: Minima) -> tuple[FreezeRisk, ...]:
    """Return the dates of freezes; `GrowerError` where no spring or no autumn is whole enough."""
    try:
        return freeze_table(minima, garden.place.latitude)
    except ValueError as error:
        say, where = BRITISH.say, options.minima
        raise GrowerError(
            Problem(
                say("start.too-short", garden=name(garden.name)),
                say("start.archive") if where is None else where.name,
                say(
                    "start.known",
                    first=str(min(minima)),
                    last=str(max(minima)),
                    count=sum(low is not None for low in minima.values()),
                ),
                say("start.long-enough", missing=MISSING_DAYS_REFUSED),
                say("start.give-more"),
            )
        ) from error


def _doubt_hemisphere(garden: Garden, minima: Minima) -> None:
    """Warn where the cold half of the year is that of the other side of the equator."""
    southern = southern_winter(minima)
    latitude = garden.place.latitude
    if southern is not None and latitude != 0.0 and southern is not (latitude < 0.0):
        print(other_hemisphere(garden, southern=southern), file=sys.stderr)


def _year(garden: Garden, now: datetime) -> int:
    """Return the year whose spring comes next: after midsummer, the following one."""
    midsummer = 6 if garden.place.latitude >= 0 else 12
    return now.year + 1 if now.month > midsummer else now.year


def _proposals(
    garden: Garden, minima: Minima, risks: tuple[FreezeRisk, ...], year: int
) -> tuple[StartProposal, ...]:
    """Return a proposal for each crop of the plan, or for every known crop without one."""
    southern = garden.place.latitude < 0
    warm = warm_nights_from(minima, southern=southern)
    days = ALTERNATE_DAYS.plant_from_day - 1 + COLD_START_EXTRA_DAYS
    found = [
        propose_start(crop, risks, days, year, warm_nights_day=warm) for crop in _crops(garden)
    ]
    return tuple(sorted(found, key=_soaking))


def _crops(garden: Garden) -> tuple[Crop, ...]:
    planned = {
        planting.crop.name: planting.crop
        for batch in garden.batches
        for planting in batch.plantings
    }
    return tuple(planned.values() or CROPS.values())


def _soaking(proposal: StartProposal) -> tuple[date, str]:
    return proposal.soak_on, proposal.crop
