"""A daemon that cannot open its store now waits for it, and tells the grower that it waits.

A full disk at the start is the same trouble as a full disk later: it must neither end in an
endless row of starts nor need one more start once there is room.

Decided 2026-11-26: A daemon that cannot open its store for now waits for it, as `run` only; a row
of starts could not remember that somebody was told. What no waiting mends ends the start with code
2.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TypeVar

from strawbell.app.daemon import TROUBLED_BEAT_S, Manager, Report
from strawbell.app.outbox import Memory
from strawbell.app.ports import Channel, Clock
from strawbell.app.store_trouble import START, StoreTrouble, send_unrecorded, start_alarms
from strawbell.errors import OperationalError, Outlook
from strawbell.model.garden import Garden
from strawbell.model.secret import StoreSecret

T = TypeVar("T")

WAITING = "The store cannot be opened; Strawbell waits for it."
"""Status for the service manager."""


def open_patiently(
    open_store: Callable[[datetime], T],
    channels: Sequence[Channel],
    gardens: Sequence[Garden],
    trouble: StoreTrouble,
    clock: Clock,
    manager: Manager,
    report: Report,
    sleep: Callable[[float], object],
    secret: StoreSecret,
) -> T:
    """Return the open store, however long it takes; a trouble that was met stays in `trouble`.

    `secret` is for the alarms, as that of the store cannot be read.
    Raises what no waiting mends: `strawbell.errors.GrowerError`, and an `OperationalError` whose
    outlook is not for now.
    """
    memory = Memory()
    watched_s = manager.watchdog_interval_s
    while True:
        try:
            return open_store(clock.now())
        except OperationalError as error:
            if error.outlook is not Outlook.FOR_NOW:
                raise
            if trouble.refused(START, str(error), clock.now(), clock.monotonic()):
                report(f"{error} It is tried again every {TROUBLED_BEAT_S:.0f} s.")
        # The process is up, and does what it can.
        manager.ready(WAITING)
        manager.watchdog()
        for channel in channels:
            _sound(channel, gardens, trouble, clock, memory, secret)
        sleep(TROUBLED_BEAT_S if watched_s is None else min(TROUBLED_BEAT_S, watched_s))


def _sound(
    channel: Channel,
    gardens: Sequence[Garden],
    trouble: StoreTrouble,
    clock: Clock,
    memory: Memory,
    secret: StoreSecret,
) -> None:
    """Tell on one channel, in a thread of its own: a server that hangs must not keep the rest."""
    sentence = trouble.lasting
    if sentence is None:
        return
    notices = start_alarms(gardens, sentence, clock.now())
    if trouble.owed(channel.name, notices, clock.monotonic()):
        threading.Thread(
            target=send_unrecorded,
            args=(channel, notices, trouble, clock, memory, secret),
            name=f"alarm-{channel.name}",
            daemon=True,
        ).start()
