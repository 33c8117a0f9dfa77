"""`strawbell check`: every mistake at once, --connect tries all; `ring`: a test notice goes out."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Container, Iterable, Iterator
from contextlib import suppress
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import asdict, replace

from strawbell.app.identity import settled_in
from strawbell.cli.early_signals import loading
from strawbell.cli.reach import able_to_send, daemons_store, reached, read_configuration
from strawbell.config.places import twice
from strawbell.edges.machine import SystemClock
from strawbell.errors import GrowerError, OperationalError, Problem
from strawbell.model.configuration import Configuration
from strawbell.model.notice import OutboxState, Useful
from strawbell.wiring import (
    MemoryCache,
    channels_of,
    ears_of,
    new_sender,
    notices_folder,
    open_store,
    sources_of,
    state_file,
)
from strawbell.words.catalogue import BRITISH

if TYPE_CHECKING:
    from strawbell.app.outbox import DeliveryRun


class Trial(Struct, frozen=True):
    """One thing that was tried, and what became of it."""

    what: str
    well: bool
    detail: str


def check(options: argparse.Namespace) -> int:
    """Print what is wrong, what is odd, and what was tried."""
    try:
        configuration = _configuration(options)
    except GrowerError as error:
        if options.json:
            _print_report(error.problems, (), ())
            return 2
        raise
    configuration = replace(
        configuration,
        warnings=(
            *configuration.warnings,
            *twice(Path(configuration.path)),
            *_lost(configuration),
        ),
    )
    trials = tuple(_trials(able_to_send(configuration))) if options.connect else ()
    if options.json:
        _print_report((), configuration.warnings, trials, configuration.missing_secrets)
    else:
        _print_summary(configuration, trials)
    return 0 if all(trial.well for trial in trials) else 1


def _configuration(options: argparse.Namespace) -> Configuration:
    """Return the configuration, with its secrets where they are tried."""
    return _read_anew(options) if options.connect else read_configuration(options)


def _read_anew(options: argparse.Namespace) -> Configuration:
    """Return the configuration with its secrets."""
    # Here, not above: what checks takes most of the time of a command that finds nothing changed.
    with loading():
        from strawbell.config.load import read_plain

    return read_plain(options.config, os.environ)


def _lost(configuration: Configuration) -> tuple[Problem, ...]:
    """Return questions about what the store's running season knows and the configuration lost."""
    now = SystemClock().now()
    try:
        with reached(configuration, now) as store:
            lost = settled_in(store, configuration.gardens, now).lost
            return tuple(each.question() for each in lost)
    except (GrowerError, OperationalError) as error:
        said = BRITISH.say("check.unread", error=str(error))
        return (Problem(said, "[state] path"),)


def _print_summary(configuration: Configuration, trials: tuple[Trial, ...]) -> None:
    say = BRITISH.say
    for note in (*configuration.warnings, *configuration.missing_secrets):
        print(say("check.note", note=note.sentence()), file=sys.stderr)
    owned = _daemons_store(configuration)
    missing = None if not configuration.missing_secrets else "daemon" if owned else "perhaps"
    print(say("check.usable", path=configuration.path, missing=missing))
    for garden in configuration.gardens:
        batches = BRITISH.listing(
            (
                say("check.batch", name=batch.name, count=batch.bales, start=str(batch.start_on))
                for batch in garden.batches
            ),
            "comma",
        )
        zone = garden.place.time_zone
        print(" ", say("check.garden", name=garden.name, zone=zone, batches=batches))
    folder, ways = str(notices_folder(configuration)), tuple(_ways(configuration))
    spare = None if configuration.notices or not ways else folder
    files = () if spare else (say("check.way.files", folder=folder),)
    listed = BRITISH.listing((*ways, *files), "comma")
    print(" ", say("check.notices", ways=listed, spare=spare))
    store = owned or str(state_file(configuration))
    print(" ", say("check.store", store=store, daemon=owned is not None))
    for trial in trials:
        said = say("check.trial", what=trial.what, well=trial.well, detail=trial.detail)
        print(" ", said)


def _ways(configuration: Configuration) -> Iterator[str]:
    """Yield the ways beside files, without loading what sends by them."""
    if configuration.mail is not None:
        recipients = BRITISH.listing(configuration.mail.recipients, "comma")
        yield BRITISH.say("check.way.email", recipients=recipients)
    if configuration.push is not None:
        yield BRITISH.say("check.way.push")
    if configuration.desktop:
        yield BRITISH.say("check.way.desktop")


def _daemons_store(configuration: Configuration) -> str | None:
    """Return which store a daemon keeps, None where none answers; why not is among the notes."""
    with suppress(GrowerError, OperationalError):
        return daemons_store(Path(configuration.path))
    return None


def _print_report(
    problems: tuple[Problem, ...],
    warnings: tuple[Problem, ...],
    trials: tuple[Trial, ...],
    missing_secrets: tuple[Problem, ...] = (),
) -> None:
    report = {
        "version": 1,
        "usable": not problems,
        "problems": [asdict(problem) | {"sentence": problem.sentence()} for problem in problems],
        "warnings": [asdict(warning) | {"sentence": warning.sentence()} for warning in warnings],
        "missing_secrets": [
            asdict(secret) | {"sentence": secret.sentence()} for secret in missing_secrets
        ],
        "trials": [asdict(trial) for trial in trials],
    }
    print(json.dumps(report, indent=2, ensure_ascii=False))


def _trials(configuration: Configuration) -> Iterator[Trial]:
    """Try each forecast service for each garden, and each channel that can be tried quietly."""
    now = SystemClock().now()
    sources = sources_of(configuration, MemoryCache())
    for garden in configuration.gardens:
        for source in sources:
            what = BRITISH.say("check.service", source=source.name, garden=garden.name)
            if not source.covers(garden.place):
                yield Trial(what, True, BRITISH.say("check.not-covered"))
                continue
            try:
                forecast = source.fetch(garden.place, now)
            except OperationalError as error:
                yield Trial(what, False, str(error))
            else:
                yield Trial(what, True, BRITISH.say("check.hours", n=len(forecast.hours)))
    channels = channels_of(configuration)
    for ear in ears_of(configuration, channels):
        what = BRITISH.say("check.answers", ear=ear.name)
        try:
            yield Trial(what, True, ear.probe())
        except OperationalError as error:
            yield Trial(what, False, str(error))
    for channel in channels:
        trial = getattr(channel, "check", None)
        if trial is None:
            yield Trial(channel.name, True, BRITISH.say("check.nothing-to-try"))
            continue
        delivery = trial()
        yield Trial(channel.name, delivery.outcome == "accepted", delivery.detail)


USEFUL_MIN = 10
"""How long a test is worth trying [min]."""


def ring(options: argparse.Namespace) -> int:
    """Send the test and print one line a channel and recipient."""
    # Here, not above: `check` sends nothing.
    from strawbell.app.outbox import queue
    from strawbell.words.notices import test_notice

    configuration = able_to_send(_read_anew(options))
    sender = new_sender()
    now = sender.clock.now()
    garden = configuration.gardens[0]
    on = garden.place.date_at(now)
    channels = channels_of(configuration)
    with open_store(configuration, now) as store:
        useful = Useful(now, now + timedelta(minutes=USEFUL_MIN))
        notice = test_notice(garden, on, now.isoformat(), useful)
        rows = queue(notice, channels, now, store.secret)
        store.enqueue(rows)
        deliveries = [sender.deliver_due(store, channel) for channel in channels]
    return print_deliveries(deliveries, {row.unique_key for row in rows})


def print_deliveries(deliveries: Iterable[DeliveryRun], only: Container[str] | None = None) -> int:
    """Print what became of messages, those of some keys or all; return the exit code."""
    well = True
    for delivery in deliveries:
        for result in delivery.results:
            row = result.row
            if only is None or row.unique_key in only:
                well = well and result.state is OutboxState.ACCEPTED
                state = BRITISH.of("outcome", result.state)
                way, whom, detail = row.channel, row.recipient, result.detail
                print(
                    BRITISH.say(
                        "reach.settled", channel=way, recipient=whom, state=state, detail=detail
                    )
                )
        if delivery.trouble:
            well = False
            print(delivery.trouble, file=sys.stderr)
    return 0 if well else 1
