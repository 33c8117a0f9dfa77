"""Scales: where a date or a value lies in a picture [px]."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import date

from msgspec import Struct


class DateScale(Struct, frozen=True):
    """Dates from `first` through `last` laid out between `left` and `right` [px]."""

    first: date
    last: date
    left: float
    right: float

    @property
    def days(self) -> int:
        """Return how many dates it holds."""
        return (self.last - self.first).days + 1

    @property
    def day_px(self) -> float:
        """Return how wide a date is [px]."""
        return (self.right - self.left) / self.days

    def x(self, on: date) -> float:
        """Return where a date begins [px]; outside the scale, its nearer end."""
        return min(max(self.left + (on - self.first).days * self.day_px, self.left), self.right)

    def middle(self, on: date) -> float:
        """Return the middle of a date [px]."""
        return self.x(on) + self.day_px / 2

    def holds(self, on: date) -> bool:
        """Return whether a date is on the scale."""
        return self.first <= on <= self.last


class ValueScale(Struct, frozen=True):
    """Values from `low` at `bottom` to `high` at `top` [px, downwards], in round `step`s."""

    low: float
    high: float
    bottom: float
    top: float
    step: float = 0.0
    """How far ticks are apart; 0 leaves it to about a third of the scale."""

    @classmethod
    def over(
        cls, values: Iterable[float], bottom: float, top: float, least_span: float, steps: int = 3
    ) -> ValueScale:
        """Return a scale with round ends that holds all values, over `least_span` at least."""
        known = [value for value in values if math.isfinite(value)] or [0.0]
        low, high = min(known), max(known)
        high = max(high, low + least_span)
        step = round_step((high - low) / steps)
        # A quotient that underflows or is rounded must not leave a value outside.
        under, over = math.floor(low / step) * step, math.ceil(high / step) * step
        return cls(min(under, low), max(over, high), bottom, top, step)

    def y(self, value: float) -> float:
        """Return where a value lies [px]; outside the scale, its nearer end."""
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.bottom + (self.top - self.bottom) * share

    def ticks(self) -> tuple[float, ...]:
        """Return the round values on the scale, from its low end to its high one."""
        step = self.step or round_step((self.high - self.low) / 3)
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return tuple(number * step for number in range(first, last + 1))


def round_step(step: float) -> float:
    """Return the round number (1, 2 or 5 with noughts) at or above a step over 0."""
    if not math.isfinite(step) or step <= 0:
        raise ValueError(f"step must be over 0, not {step}")
    power = 10.0 ** math.floor(math.log10(step))
    return next(nice * power for nice in (1.0, 2.0, 5.0, 10.0) if nice * power >= step * (1 - 1e-9))
