"""`strawbell run`: the daemon, or with --once what is due now."""

from __future__ import annotations

import argparse
import logging
import signal
import sys
import time
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path

from strawbell.app.daemon import Daemon
from strawbell.app.door import Doorman
from strawbell.app.outbox import Sender
from strawbell.app.pipeline import Pipeline
from strawbell.app.trouble import StoreTrouble, open_patiently
from strawbell.app.word import refusal
from strawbell.cli.check import print_deliveries
from strawbell.cli.main import text_width
from strawbell.cli.reach import RELOADED_WITHIN_S, able_to_send
from strawbell.config.places import read_apart
from strawbell.edges.door import Door, StateLock
from strawbell.edges.machine import Alarms, SystemClock, SystemdNotify
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import OperationalError
from strawbell.model.configuration import Configuration
from strawbell.model.garden import Garden
from strawbell.season.conditioning import preparing
from strawbell.wiring import (
    channels_of,
    introduce,
    load_ahead,
    new_secret,
    new_sender,
    open_store,
    own_door,
    pipeline_of,
    state_file,
)
from strawbell.words.catalogue import BRITISH
from strawbell.words.escaping import wrap
from strawbell.words.morning import coming_words

log = logging.getLogger("strawbell")


def run(options: argparse.Namespace) -> int:
    """Run until stopped, or once; only one daemon works on a store."""
    try:
        signals = Signals(once=options.once)
        logging.basicConfig(stream=sys.stderr, level=logging.INFO, format="%(message)s")
        # A service that cannot be reached is told in a sentence of ours.
        logging.getLogger("urllib3").setLevel(logging.ERROR)
        return _run(options, signals)
    except Stopped:
        log.info(BRITISH.say("reach.stopped"))
        return 0


def _run(options: argparse.Namespace, signals: Signals) -> int:
    configuration = able_to_send(read_apart(options.config))
    for warning in configuration.warnings:
        log.info(BRITISH.say("check.note", note=warning.sentence()))
    path = state_file(configuration)
    systemd, sender, trouble = SystemdNotify(), new_sender(), StoreTrouble()

    def opened(now: datetime) -> SqliteStore:
        return open_store(configuration, now, owner=True)

    def opened_patiently() -> SqliteStore:
        if options.once:
            return opened(sender.clock.now())
        channels, gardens = channels_of(configuration), configuration.gardens
        return open_patiently(
            opened, channels, gardens, trouble, sender, systemd, log.info, time.sleep, new_secret()
        )

    with StateLock(path.parent), opened_patiently() as store:
        if store.incident:
            log.warning(store.incident)
        _introduce(configuration, store)
        pipeline = pipeline_of(configuration, store, sender)
        daemon = Daemon(pipeline, Alarms, store, systemd, log.info, store.incidents, trouble)
        read = _reader(options, configuration, store, sender)

        def reload() -> None:
            if options.once:
                raise OperationalError(BRITISH.say("reach.once"))
            daemon.reload_and_tell(read, RELOADED_WITHIN_S)

        doorman = Doorman(
            lambda: daemon.gardens,
            store,
            sender.clock,
            reload,
            str(path),
            log.info,
        )
        with Door(own_door(Path(configuration.path)), doorman.answer, log.info):
            if options.once:
                return _once(daemon)
            load_ahead(configuration)
            signals.go_to(daemon, read)
            daemon.run()
    return 0


def _introduce(configuration: Configuration, store: SqliteStore) -> None:
    """Let the store remember the gardens; say which names changed, ask about what is lost."""
    found = introduce(configuration, store, SystemClock().now())
    for _, sentences in found.followed:
        log.info(sentences)
    for lost in found.lost:
        log.warning(BRITISH.say("daemon.question", question=lost.question().sentence()))


def _once(daemon: Daemon) -> int:
    """Do what is due, print what was told and what became of it."""
    runs = daemon.once()
    told = [each for run in runs for each in run.told]
    for each in told:
        for complaint in each.complaints:
            print(BRITISH.say("daemon.line", about=each.garden, said=complaint), file=sys.stderr)
        for notice in each.notices:
            print(BRITISH.say("daemon.line", about=each.garden, said=notice.subject))
    if not any(each.notices for each in told):
        print(BRITISH.say("reach.nothing-due"))
        _print_coming(daemon.gardens, SystemClock().now())
    return print_deliveries(each for run in runs for each in run.deliveries)


def _print_coming(gardens: Sequence[Garden], now: datetime) -> None:
    """Print what gardens wait for in which no bales are at work."""
    for garden in gardens:
        on = garden.place.date_at(now)
        said = coming_words(preparing(garden, {}, on), garden, on)
        if said:
            print(wrap(said, width=text_width()))


class Stopped(BaseException):
    """Asked to stop before the daemon was there; nothing in between may take it for an error."""


class Signals:
    """SIGTERM and SIGINT end the daemon, SIGHUP reads the configuration anew.

    From the first moment on: before there is a daemon, a stop ends the start, and a wish to read
    the configuration anew is kept.
    """

    def __init__(self, *, once: bool) -> None:
        """Take the signals over; `run --once` is a command like any other and leaves them."""
        self._daemon: Daemon | None = None
        self._read: Callable[[], Pipeline] | None = None
        self._is_anew_wanted = self._is_stop_wanted = False
        if not once:
            signal.signal(signal.SIGTERM, self._stop)
            signal.signal(signal.SIGINT, self._stop)
            signal.signal(signal.SIGHUP, self._read_anew)

    def go_to(self, daemon: Daemon, read: Callable[[], Pipeline]) -> None:
        """Send them to the daemon from now on."""
        self._read = read
        self._daemon = daemon
        if self._is_anew_wanted:
            daemon.reload(read)
        if self._is_stop_wanted:
            # Raised where Python ignores errors, such as in a destructor.
            daemon.stop()

    def _stop(self, *_: object) -> None:
        self._is_stop_wanted = True
        if self._daemon is None:
            raise Stopped
        self._daemon.stop()

    def _read_anew(self, *_: object) -> None:
        self._is_anew_wanted = True
        if self._daemon is not None and self._read is not None:
            self._daemon.reload(self._read)


def _reader(
    options: argparse.Namespace,
    configuration: Configuration,
    store: SqliteStore,
    sender: Sender,
) -> Callable[[], Pipeline]:
    """Return what reads the configuration anew, for the store that is open."""
    place = state_file(configuration)

    def read() -> Pipeline:
        fresh = able_to_send(read_apart(options.config))
        if state_file(fresh) != place:
            raise refusal(BRITISH.say("reach.store-stays"), "[state] path", str(state_file(fresh)))
        load_ahead(fresh)
        _introduce(fresh, store)
        return pipeline_of(fresh, store, sender)

    return read
