"""The plan whose worth is measured: a quick feed and a slow one, a tender crop and a sown one."""

from __future__ import annotations

from datetime import date, time

from strawbell.agronomy.bale.size_and_mass import BALES
from strawbell.agronomy.crops.table import CROPS
from strawbell.agronomy.feeding.dosing import dosed
from strawbell.agronomy.feeding.feeds import FEEDS
from strawbell.agronomy.feeding.schedules import SCHEDULES
from strawbell.model.garden import Batch, Garden, Method, Place, Planting, Rules, Times
from strawbell.weather.thresholds import DEFAULT_RULES

FEEDS_COMPARED = ("Urea", "Blood meal")
GROWN = (
    Planting(CROPS["tomato"], 12, Method.TRANSPLANT),
    Planting(CROPS["radish"], 60, Method.SEED),
)
ANY_START = date(2012, 4, 1)
"""The board moves it to each of its start dates."""


def batch_on(feed: str, plantings: tuple[Planting, ...] = ()) -> Batch:
    """Return six two-string bales on the alternate-days schedule, called by their feed."""
    schedule = SCHEDULES["alternate-days"]
    batch = Batch(
        name=feed,
        bales=6,
        bale=BALES["two-string"],
        start_on=ANY_START,
        schedule=schedule,
        feed=FEEDS[feed],
        finishing_feed=FEEDS["Balanced"],
        nitrogen_per_full_dose_g=1.0,
        plantings=plantings,
    )
    return dosed(batch)


def garden_with(
    place: Place, *batches: Batch, rules: Rules = DEFAULT_RULES, watch_min: int = 60
) -> Garden:
    """Return a garden with the default times of the configuration."""
    times = Times(time(6, 30), time(18, 30), watch_min, time(21, 30), time(6, 0), time(20, 0))
    return Garden("Scoreboard", place, batches, rules, times)


def plan_on(place: Place, *feeds: str) -> Garden:
    """Return the plan of the board: the same crops on a batch of each feed."""
    return garden_with(place, *(batch_on(feed, GROWN) for feed in feeds))
