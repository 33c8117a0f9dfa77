"""Garden-local dates and times across changes of the clock.

The policy: a local time that does not exist (spring) happens at the first valid minute after the
gap; one that happens twice (autumn) counts at its first pass. So every local date has exactly
one morning, whatever the zone does.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

DAY = timedelta(days=1)
MINUTE = timedelta(minutes=1)
MOMENTS_KEPT = 128
"""A brief asks for the few moments of its ten dates again and again."""


@lru_cache(maxsize=MOMENTS_KEPT)
def moment_of(on: date, at: time, zone: ZoneInfo) -> datetime:
    """Return the one moment (UTC) at which a local date and time happens, by the policy above."""
    wall = datetime.combine(on, at.replace(tzinfo=None, fold=0), zone)
    moment = wall.astimezone(UTC)
    if moment.astimezone(zone).replace(tzinfo=None) == wall.replace(tzinfo=None):
        return moment
    return _end_of_gap(wall, zone)


def bounds_of(on: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Return the first moment of a local date and that of the next one (UTC)."""
    return moment_of(on, time(0), zone), moment_of(on + DAY, time(0), zone)


def _end_of_gap(wall: datetime, zone: ZoneInfo) -> datetime:
    """Return the moment the clock jumped over a local time that does not exist.

    In a gap the offset before it (fold 0) gives a moment after the jump, the offset after it
    (fold 1) one before the jump; the jump lies between, on a whole minute.
    """
    late = wall.replace(fold=0).astimezone(UTC)
    early = wall.replace(fold=1).astimezone(UTC)
    offset_after = late.astimezone(zone).utcoffset()
    while late - early > MINUTE:
        middle = early + timedelta(minutes=(late - early) // MINUTE // 2)
        if middle.astimezone(zone).utcoffset() == offset_after:
            late = middle
        else:
            early = middle
    return late
