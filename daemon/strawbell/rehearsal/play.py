"""Plays days through the very same cycle, journal and outbox that the daemon runs."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from strawbell.app.cycle import Cycle, Told
from strawbell.app.outbox import Memory, drain_channel
from strawbell.app.ports import Channel, Store
from strawbell.rehearsal.clock import SimulatedClock


def play(
    cycle: Cycle,
    store: Store,
    channels: Sequence[Channel],
    clock: SimulatedClock,
    moments: Iterable[datetime],
    rng: random.Random,
) -> Iterator[Told]:
    """Move the clock from moment to moment; yield what was told at each, already delivered."""
    memory = Memory()
    for moment in moments:
        clock.set(moment)
        told = cycle.tick(moment)
        if not told:
            continue
        for channel in channels:
            drain_channel(store, channel, clock, rng, memory)
        yield from told
