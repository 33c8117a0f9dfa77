"""What a schema cannot say: whether the values make sense together. All findings at once.

Every check is a generator of mistakes and of things to look at (`warning`); `reads` names the
values a finding rests on, so that nothing is said about values that are wrong themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from strawbell.config.checks_context import Context
from strawbell.config.checks_feeds import days_fed, doses, feeds_in_use
from strawbell.config.checks_place import places
from strawbell.config.checks_plan import (
    duplicate_names,
    emptiness,
    nothing_ahead,
    plantings,
    starts,
)
from strawbell.config.checks_room import too_many_plants
from strawbell.config.checks_season import crowding, harvests, raw_manure
from strawbell.config.checks_services import (
    email,
    forecast_services,
    household,
    inbox,
    push,
    rules,
    times,
)
from strawbell.config.checks_supplies import crops, feeds, schedules
from strawbell.config.mistakes import Mistake

CHECKS: tuple[Callable[[Context], Iterator[Mistake]], ...] = (
    emptiness,
    duplicate_names,
    places,
    starts,
    plantings,
    too_many_plants,
    harvests,
    crowding,
    raw_manure,
    days_fed,
    feeds_in_use,
    doses,
    nothing_ahead,
    feeds,
    schedules,
    crops,
    rules,
    times,
    forecast_services,
    email,
    household,
    inbox,
    push,
)


def check(context: Context) -> Iterator[Mistake]:
    """Yield the findings of every check."""
    for each in CHECKS:
        yield from each(context)
