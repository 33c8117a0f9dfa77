"""`strawbell ring`: a test notice through every channel, and what became of it."""

from __future__ import annotations

import argparse
import os
from datetime import timedelta

from strawbell.app.outbox import drain, queue
from strawbell.cli.configured import able_to_send
from strawbell.config.plain import read_plain
from strawbell.edges.clock import SystemClock
from strawbell.model.notice import OutboxState
from strawbell.season.local_time import local_date, zone_of
from strawbell.wiring import channels_of, new_rng, open_store
from strawbell.words.notices import test_notice

USEFUL_MIN = 10
"""How long a test is worth trying [min]."""


def run(options: argparse.Namespace) -> int:
    """Send the test and print one line a channel and recipient."""
    configuration = able_to_send(read_plain(options.config, os.environ))
    clock = SystemClock()
    now = clock.now()
    garden = configuration.gardens[0]
    on = local_date(now, zone_of(garden.place.time_zone))
    channels = channels_of(configuration)
    with open_store(configuration, now) as store:
        expires_at = now + timedelta(minutes=USEFUL_MIN)
        notice = test_notice(garden, on, now.isoformat(), now, expires_at)
        rows = queue(notice, channels, now, store.secret)
        store.enqueue(rows)
        report = drain(store, channels, clock, new_rng())
    mine = {row.unique_key for row in rows}
    all_well = not report.trouble
    for settled in report.settled:
        if settled.row.unique_key not in mine:
            continue
        all_well = all_well and settled.state is OutboxState.ACCEPTED
        detail = f": {settled.detail}" if settled.detail else ""
        print(f"{settled.row.channel} to {settled.row.recipient}: {settled.state.value}{detail}")
    for line in report.trouble:
        print(line)
    return 0 if all_well else 1
