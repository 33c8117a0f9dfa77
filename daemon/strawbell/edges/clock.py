"""The machine's clock; the only module that asks what time it is."""

from __future__ import annotations

import time
from datetime import UTC, datetime


class SystemClock:
    """The wall clock in UTC, and seconds that never jump."""

    def now(self) -> datetime:
        """Return the wall clock as an aware datetime in UTC."""
        return datetime.now(UTC)

    def monotonic(self) -> float:
        """Return seconds that never jump [s]; they stand still while the machine sleeps."""
        return time.monotonic()
