"""`strawbell ring`: a test notice through every channel, and what became of it."""

from __future__ import annotations

import argparse
import os
from datetime import timedelta

from strawbell.app.outbox import AttemptResult, queue
from strawbell.cli.configured import able_to_send
from strawbell.model.notice import OutboxState
from strawbell.season.local_time import local_date, zone_of
from strawbell.wiring import channels_of, new_sender, open_store
from strawbell.words.catalogue import BRITISH
from strawbell.words.notices import test_notice

USEFUL_MIN = 10
"""How long a test is worth trying [min]."""


def run(options: argparse.Namespace) -> int:
    """Send the test and print one line a channel and recipient."""
    # Here, not above: the daemon says by the same words what became of a message.
    from strawbell.config.plain import read_plain

    configuration = able_to_send(read_plain(options.config, os.environ))
    sender = new_sender()
    now = sender.clock.now()
    garden = configuration.gardens[0]
    on = local_date(now, zone_of(garden.place.time_zone))
    channels = channels_of(configuration)
    with open_store(configuration, now) as store:
        expires_at = now + timedelta(minutes=USEFUL_MIN)
        notice = test_notice(garden, on, now.isoformat(), now, expires_at)
        rows = queue(notice, channels, now, store.secret)
        store.enqueue(rows)
        deliveries = [sender.deliver_due(store, channel) for channel in channels]
    mine = {row.unique_key for row in rows}
    all_well = True
    for delivery in deliveries:
        for result in delivery.results:
            if result.row.unique_key in mine:
                all_well = all_well and result.state is OutboxState.ACCEPTED
                print(result_said(result))
        if delivery.trouble:
            all_well = False
            print(delivery.trouble)
    return 0 if all_well else 1


def result_said(result: AttemptResult) -> str:
    """Return what became of a message, as far as its channel said so."""
    return BRITISH.say(
        "reach.settled",
        channel=result.row.channel,
        recipient=result.row.recipient,
        state=BRITISH.of("outcome", result.state),
        detail=result.detail,
    )
