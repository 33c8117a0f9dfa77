"""Which crop waits for which in the same bales, and what waits too long.

Decided 2026-11-28: An early crop that stands past the time of the next is told of as a choice, a
week ahead and then weekly; nothing is pulled unasked.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from strawbell.agronomy.crops.ripening import days_to_harvest
from strawbell.model.brief import Crowding
from strawbell.model.garden import Batch, Planting
from strawbell.season.harvesting import ends_by_freeze, ends_on, window_of
from strawbell.season.stage import Day, over_on, planted_on, planting_key, standing_since

TOLD_AHEAD_DAYS = 7
"""How long before a late crop is wanted the choice is told: time to harden it off, or to eat up
the early one (design choice) [days]."""
TOLD_EVERY_DAYS = 7
"""And how often again while the early crop stands (design choice) [days]."""


def predecessor(batch: Batch, planting: Planting) -> Planting | None:
    """Return the planting whose harvest another waits for: the last of that crop listed before."""
    if planting.follows is None:
        return None
    found = None
    for each in batch.plantings:
        if each is planting:
            break
        if each.crop.name == planting.follows:
            found = each
    return found


def may_go_in(day: Day, planting: Planting) -> bool:
    """Return whether the bales are free for a planting: the crop before it is over, or none is.

    A crop is over when its last harvest was told or recorded on an earlier date. A crop that
    names none of the batch's own never waits: nothing could ever end its waiting.
    """
    before = predecessor(day.batch, planting)
    if before is None:
        return True
    over = over_on(day.batch, day.state, before)
    return over is not None and over < day.on


def crowding(day: Day) -> Iterator[Crowding]:
    """Yield the early crops that would hold a late one past its time, on the days it is told."""
    for late in day.batch.plantings:
        early = predecessor(day.batch, late)
        if early is None or planted_on(day.batch, day.state, late) is not None:
            continue
        if over_on(day.batch, day.state, late) is not None:
            continue
        since = standing_since(day.batch, day.state, early)
        wanted_on = _wanted_on(day, late)
        if since is None or since > day.on or wanted_on is None:
            continue
        told_for = (day.on - wanted_on).days + TOLD_AHEAD_DAYS
        if told_for < 0 or told_for % TOLD_EVERY_DAYS:
            continue
        last_on = ends_on(day, early, since)
        if last_on > max(wanted_on, day.on):
            yield _choice(day, early, late, since, wanted_on, last_on)


def _wanted_on(day: Day, late: Planting) -> date | None:
    """Return when a crop is to go in: as written, else the last day to be ripe before a freeze."""
    if late.plant_on is not None:
        return late.plant_on
    freeze = ends_by_freeze(day.garden, late.crop, day.on)
    if freeze is None:
        return None
    _, latest = days_to_harvest(late.crop, late.method)
    return freeze - timedelta(days=latest + 1)


def _choice(
    day: Day, early: Planting, late: Planting, since: date, wanted_on: date, last_on: date
) -> Crowding:
    soonest, latest = days_to_harvest(late.crop, late.method)
    free_on = last_on + timedelta(days=1)
    return Crowding(
        batch=day.batch.name,
        early=early.crop.name,
        late=late.crop.name,
        late_key=planting_key(day.batch, late),
        wanted_on=wanted_on,
        pick_on=window_of(day, early, since).first,
        over_on=last_on,
        late_pick_on=free_on + timedelta(days=soonest),
        late_pick_latest=free_on + timedelta(days=latest),
        freeze_on=ends_by_freeze(day.garden, late.crop, free_on),
    )
