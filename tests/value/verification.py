"""How good the holds were: hits, false alarms, and what they are worth by cost and loss.

A hold costs a day of waiting (C); a feeding washed out or given on a freeze costs feed (L). Who
knows nothing but how often it happens holds always or never, whichever is cheaper; who knows all
holds exactly when it happens. The relative value of the holds is how far they get from the first
towards the second: 1 is perfect, 0 no better than knowing nothing, under 0 worse.

References
----------
[1] D. S. Richardson, "Skill and relative economic value of the ECMWF ensemble prediction system",
    Quarterly Journal of the Royal Meteorological Society 126:649-667 (2000); the formula is from
    memory. At C/L equal to the base rate it has to be H - F, which the tests check on Finley's
    table of 1884 (Australian Bureau of Meteorology, forecast verification pages).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

COST_LOSS = tuple(step / 20 for step in range(1, 20))
"""Ratios C/L at which the value is given."""


@dataclass(frozen=True, slots=True)
class Contingency:
    """Days on which a feeding was in line: held or not, and whether it was right to hold."""

    hits: int = 0
    false_alarms: int = 0
    misses: int = 0
    rightly_given: int = 0
    unknown: int = 0
    """Days of which the weather after is not known."""

    def __add__(self, other: Contingency) -> Contingency:
        return Contingency(
            self.hits + other.hits,
            self.false_alarms + other.false_alarms,
            self.misses + other.misses,
            self.rightly_given + other.rightly_given,
            self.unknown + other.unknown,
        )

    @property
    def days(self) -> int:
        """Return how many days are known."""
        return self.hits + self.false_alarms + self.misses + self.rightly_given

    @property
    def base_rate(self) -> float | None:
        """Return on what share of the days it was right to hold."""
        return (self.hits + self.misses) / self.days if self.days else None

    @property
    def hit_rate(self) -> float | None:
        """Return what share of the days to hold were held; None where there were none."""
        events = self.hits + self.misses
        return self.hits / events if events else None

    @property
    def false_alarm_ratio(self) -> float | None:
        """Return what share of the holds were for nothing; None without a hold."""
        held = self.hits + self.false_alarms
        return self.false_alarms / held if held else None

    @property
    def false_alarm_rate(self) -> float | None:
        """Return what share of the days to feed were held; None where there were none."""
        quiet = self.false_alarms + self.rightly_given
        return self.false_alarms / quiet if quiet else None

    def value(self, cost_loss: float) -> float | None:
        """Return the relative value of the holds at a ratio C/L, over 0 and under 1 [1].

        None where it never or always happened: then there is nothing to know.
        """
        if not 0.0 < cost_loss < 1.0:
            raise ValueError(f"cost_loss must be over 0 and under 1, got {cost_loss}")
        base, hit, false = self.base_rate, self.hit_rate, self.false_alarm_rate
        if base is None or hit is None or false is None:
            return None
        without = min(cost_loss, base)
        with_holds = false * cost_loss * (1 - base) + hit * cost_loss * base + (1 - hit) * base
        return (without - with_holds) / (without - base * cost_loss)

    def curve(self) -> tuple[tuple[float, float | None], ...]:
        """Return the value over the ratios of `COST_LOSS`."""
        return tuple((ratio, self.value(ratio)) for ratio in COST_LOSS)


def counted(days: Iterable[tuple[bool, bool | None]]) -> Contingency:
    """Return the table of (held, was it right to hold) for each day; None is unknown."""
    table = Contingency()
    for held, bad in days:
        table += _ONE[held, bad] if bad is not None else Contingency(unknown=1)
    return table


_ONE = {
    (True, True): Contingency(hits=1),
    (True, False): Contingency(false_alarms=1),
    (False, True): Contingency(misses=1),
    (False, False): Contingency(rightly_given=1),
}
