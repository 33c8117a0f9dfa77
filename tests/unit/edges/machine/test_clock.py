"""The machine's clock."""

from __future__ import annotations

from datetime import UTC, timedelta

from strawbell.edges.machine import SystemClock


def test_the_clock_tells_utc_and_never_goes_back() -> None:
    """An aware moment in UTC, and seconds that only grow."""
    clock = SystemClock()
    assert clock.now().tzinfo is UTC
    assert clock.now().utcoffset() == timedelta(0)
    first = clock.monotonic()
    assert clock.monotonic() >= first
