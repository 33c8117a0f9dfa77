"""A clock that only moves when told; wall and monotonic time can be moved apart."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

from strawbell.app.outbox import Sender

DAWN = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)


class FakeClock:
    """A Clock for tests."""

    def __init__(self, now: datetime = DAWN) -> None:
        self.wall = now
        self.seconds = 1000.0

    def now(self) -> datetime:
        return self.wall

    def monotonic(self) -> float:
        return self.seconds

    def advance(self, wait: timedelta) -> None:
        """Let time pass for both clocks."""
        self.wall += wait
        self.seconds += wait.total_seconds()

    def jump(self, by: timedelta) -> None:
        """Move the wall clock alone, as a correction or a suspend does."""
        self.wall += by


def sender(clock: FakeClock | None = None) -> Sender:
    """Return what sends by a clock, with the same chance each time."""
    return Sender(clock or FakeClock(), random.Random(1))
