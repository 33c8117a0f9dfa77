"""Plays days through the very same pipeline, journal and outbox that the daemon runs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from strawbell.app.pipeline import Pipeline, Run, Told
from strawbell.rehearsal.clock import SimulatedClock


def play(pipeline: Pipeline, clock: SimulatedClock, moments: Iterable[datetime]) -> Iterator[Told]:
    """Move the clock from moment to moment; yield what was told at each, already delivered.

    `clock` is the one that the pipeline sends by.
    """
    for moment in moments:
        clock.set(moment)
        told = pipeline.tick(moment)
        if told:
            pipeline.through(Run(moment, channels=pipeline.channels))
        yield from told
