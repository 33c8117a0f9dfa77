"""APScheduler as the bell that wakes the daemon: mornings, evenings and the watch of the weather.

It only rings. What is due is decided from the journal each time, so a job that comes late, twice
or not at all does no harm: the daemon's main loop looks as well (see app.daemon).

Decided 2026-11-25: APScheduler only rings. Its jobs may come late, twice or not at all (a clock
put back stops them); the journal and the beat of the main loop make that harmless.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.cron import CronTrigger
from apscheduler.triggers.interval import IntervalTrigger

from strawbell.model.garden import Garden

_WATCH_JITTER_S = 120
"""Spread of the watch [s]: weather services ask their users not to come on the full hour."""


class Alarms:
    """Rings at each distinct local time of the gardens, and every so often for the watch."""

    def __init__(self, gardens: Iterable[Garden], ring: Callable[[], object]) -> None:
        """Prepare the jobs; nothing rings before `start`."""
        # A late job always runs (the default drops it after a second), several become one.
        defaults = {"misfire_grace_time": None, "coalesce": True, "max_instances": 1}
        self._scheduler = BackgroundScheduler(timezone=UTC, job_defaults=defaults)
        self._ring = ring
        self._gardens = tuple(gardens)
        logging.getLogger("apscheduler").setLevel(logging.ERROR)

    def start(self) -> None:
        """Start ringing, in a thread of APScheduler's own."""
        for at, zone_name in sorted(self._local_times()):
            trigger = CronTrigger(
                hour=at.hour, minute=at.minute, second=at.second, timezone=ZoneInfo(zone_name)
            )
            self._scheduler.add_job(self._ring, trigger, id=f"{at} {zone_name}")
        every = min((each.times.watch_every_min for each in self._gardens), default=60)
        watch = IntervalTrigger(minutes=every, jitter=_WATCH_JITTER_S, timezone=UTC)
        self._scheduler.add_job(self._ring, watch, id="watch")
        self._scheduler.start()

    def clock_moved(self, now: datetime) -> None:
        """Look at the wall clock again after it jumped; sleeping jobs would oversleep."""
        every = min((each.times.watch_every_min for each in self._gardens), default=60)
        self._scheduler.modify_job("watch", next_run_time=now + timedelta(minutes=every))
        self._scheduler.wakeup()

    def stop(self) -> None:
        """Stop ringing; a job that runs is not waited for, the daemon does that itself."""
        if self._scheduler.running:
            self._scheduler.shutdown(wait=False)

    def _local_times(self) -> set[tuple[time, str]]:
        return {
            (at.replace(tzinfo=None), garden.place.time_zone)
            for garden in self._gardens
            for at in (garden.times.morning, garden.times.evening)
        }
