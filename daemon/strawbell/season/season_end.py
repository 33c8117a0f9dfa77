"""The end that a first freeze of autumn sets to the crops that die in it.

The freeze is the one the grower has written for the garden; without it nothing ends here. It is a
date of even odds and not a forecast: it keeps work from being begun that can hardly be finished,
and takes nothing out of the bales.

Decided 2026-11-26: What cannot ripen before `first_freeze_on` is left out, told once and fed no
more, where the grower has written that date; nothing ends without it. What still waits for the
crop before it is not spoken of: it may be meant for spring.
"""

from __future__ import annotations

from datetime import date, timedelta

from strawbell.agronomy.crops.leaf_frost import dies_in_a_freeze
from strawbell.agronomy.crops.ripening import days_to_harvest
from strawbell.model.brief import Reason, ReasonCode
from strawbell.model.crops import Crop
from strawbell.model.garden import Garden, Planting
from strawbell.season.stage import Day

STALE_FREEZE_DAYS = 120
"""So long after its date a freeze is that of an autumn past (design choice, as the check of the
configuration has it) [days]."""


def ends_by_freeze(garden: Garden, crop: Crop, on: date) -> date | None:
    """Return the first freeze that ends a crop, None where none is known or it does no harm."""
    freeze = garden.first_freeze_on
    if freeze is None or not dies_in_a_freeze(crop):
        return None
    return freeze if on <= freeze + timedelta(days=STALE_FREEZE_DAYS) else None


def too_late(day: Day, planting: Planting) -> Reason | None:
    """Return why a crop is left out for the year: put in today, a freeze comes before it is ripe.

    Even the soonest of its days to the first picking has to reach to the freeze.
    """
    freeze = ends_by_freeze(day.garden, planting.crop, day.on)
    soonest, _ = days_to_harvest(planting.crop, planting.method)
    if freeze is None or day.on + timedelta(days=soonest) < freeze:
        return None
    left = max(0, (freeze - day.on).days)
    return Reason(ReasonCode.SEASON_OVER, float(soonest), float(left), "day")
