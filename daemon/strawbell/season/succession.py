"""Which crop waits for which in the same bales."""

from __future__ import annotations

from strawbell.model.garden import Batch, Planting
from strawbell.season.stage import Day, over_on


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
