"""`strawbell check`: every mistake of the configuration at once; with --connect, a try of all."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from msgspec import Struct
from msgspec.structs import asdict, replace

from strawbell.app.identity import settled_in
from strawbell.cli.configured import able_to_send, read_configuration
from strawbell.cli.early_signals import loading
from strawbell.cli.reach import daemons_store, reached
from strawbell.config.shards import twice
from strawbell.edges.clock import SystemClock
from strawbell.errors import GrowerError, OperationalError, Problem
from strawbell.model.configuration import Configuration
from strawbell.wiring import (
    MemoryCache,
    channels_of,
    ears_of,
    notices_folder,
    sources_of,
    state_file,
)


class Trial(Struct, frozen=True):
    """One thing that was tried, and what became of it."""

    what: str
    well: bool
    detail: str


def run(options: argparse.Namespace) -> int:
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
    if not options.connect:
        return read_configuration(options)
    # Here, not above: what checks takes most of the time of a command that finds nothing changed.
    with loading():
        from strawbell.config.plain import read_plain

    return read_plain(options.config, os.environ)


def _lost(configuration: Configuration) -> tuple[Problem, ...]:
    """Return questions about what the store's running season knows and the configuration lost."""
    now = SystemClock().now()
    try:
        with reached(configuration, now) as store:
            lost = settled_in(store, configuration.gardens, now).lost
            return tuple(each.question() for each in lost)
    except (GrowerError, OperationalError) as error:
        return (Problem(f"what it knew before could not be read: {error}", "[state] path"),)


def _print_summary(configuration: Configuration, trials: tuple[Trial, ...]) -> None:
    for warning in configuration.warnings:
        print(f"Note: {warning.sentence()}", file=sys.stderr)
    for secret in configuration.missing_secrets:
        print(f"Note: {secret.sentence()}", file=sys.stderr)
    print(f"{configuration.path} can be used{_to_what(configuration)}.")
    for garden in configuration.gardens:
        batches = ", ".join(
            f"{batch.name} ({batch.bales} bales from {batch.start_on.isoformat()})"
            for batch in garden.batches
        )
        print(f"  {garden.name}, {garden.place.time_zone}: {batches or 'no batches'}")
    folder = notices_folder(configuration)
    ways = list(_ways(configuration))
    spare = f" What none of these delivers lies in {folder}."
    if configuration.notices or not ways:
        ways, spare = [*ways, f"files in {folder}"], ""
    print(f"  Notices: {', '.join(ways)}.{spare}")
    owned = _daemons_store(configuration)
    owner = "kept by the daemon that runs" if owned else "no daemon answers"
    print(f"  Journal and outbox in {owned or state_file(configuration)}; {owner}.")
    for trial in trials:
        print(f"  {trial.what}: {'well' if trial.well else 'not now'}. {trial.detail}".rstrip())


def _ways(configuration: Configuration) -> Iterator[str]:
    """Yield the ways beside files, without loading what sends by them."""
    if configuration.mail is not None:
        yield f"email ({', '.join(configuration.mail.recipients)})"
    if configuration.push is not None:
        yield "push"
    if configuration.desktop:
        yield "desktop"


def _daemons_store(configuration: Configuration) -> str | None:
    """Return which store a daemon keeps, None where none answers; why not is among the notes."""
    with suppress(GrowerError, OperationalError):
        return daemons_store(Path(configuration.path))
    return None


def _to_what(configuration: Configuration) -> str:
    """Say what a configuration cannot be used for here, and who may have what is missing."""
    if not configuration.missing_secrets:
        return ""
    if _daemons_store(configuration) is not None:
        return "; the daemon that runs has the secret that is missing here"
    return (
        " to read and to record. To send, a secret is missing here; the daemon may have it, as a"
        " credential or in its environment"
    )


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
            what = f"{source.name} for {garden.name}"
            if not source.covers(garden.place):
                yield Trial(what, True, "It does not cover this place and is passed over.")
                continue
            try:
                forecast = source.fetch(garden.place, now)
            except OperationalError as error:
                yield Trial(what, False, str(error))
            else:
                yield Trial(what, True, f"{len(forecast.hours)} hours of forecast.")
    channels = channels_of(configuration)
    for ear in ears_of(configuration, channels):
        try:
            yield Trial(f"answers by {ear.name}", True, ear.probe())
        except OperationalError as error:
            yield Trial(f"answers by {ear.name}", False, str(error))
    for channel in channels:
        trial = getattr(channel, "check", None)
        if trial is None:
            yield Trial(channel.name, True, "Nothing to try; `strawbell ring` sends a test.")
            continue
        delivery = trial()
        yield Trial(channel.name, delivery.outcome == "accepted", delivery.detail)
