"""What a schema cannot say: whether the values make sense together. All findings at once.

Every check is a generator of mistakes and of things to look at (`warning`); `reads` names the
values a finding rests on, so that nothing is said about values that are wrong themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from strawbell.config import checks_feeds as feeding
from strawbell.config import checks_place, checks_room
from strawbell.config import checks_plan as plan
from strawbell.config import checks_season as season
from strawbell.config import checks_services as services
from strawbell.config import checks_supplies as supplies
from strawbell.config.checks_context import Context
from strawbell.config.mistakes import Mistake

CHECKS: tuple[Callable[[Context], Iterator[Mistake]], ...] = (
    plan.emptiness, plan.duplicate_names, checks_place.places, plan.starts, plan.plantings,
    checks_room.too_many_plants, season.harvests, season.crowding, season.raw_manure,
    feeding.days_fed, feeding.feeds_in_use, feeding.doses, plan.nothing_ahead,
    supplies.feeds, supplies.schedules, supplies.crops,
    services.rules, services.times, services.forecast_services,
    services.email, services.household, services.inbox, services.push,
)  # fmt: skip


def check(context: Context) -> Iterator[Mistake]:
    """Yield the findings of every check."""
    for each in CHECKS:
        yield from each(context)
