"""The stage of season feeding: a soluble feed for what grows, as often as it asks for."""

from __future__ import annotations

from strawbell.agronomy.doses import nitrogen_dose
from strawbell.agronomy.feeding_in_season import (
    SeasonFeeding,
    bale_feeding,
    growth_stage,
    season_feeding,
)
from strawbell.model.brief import Action, State, Task
from strawbell.model.feeds import Feed
from strawbell.model.garden import Batch
from strawbell.planning.batch_state import BatchState
from strawbell.planning.keys import once_key
from strawbell.planning.stage import Day, feed_cautions, next_number, standing

SEASON = "season"
"""What sets the keys of these feedings apart from those of the conditioning days."""


def season_feeding_due(day: Day) -> tuple[Task, ...]:
    """Return the feeding that is due, with its interval counted from the last one given.

    A feeding that is held keeps its key until it is given.
    """
    rule = feeding_rule(day)
    feed = season_feed(day.batch)
    if rule is None or feed is None:
        return ()
    key = _key(day.batch)
    number, last = next_number(day.state, key)
    if last is not None and (day.on - last).days < rule.every_days:
        return ()
    numbered = f"{key}-{number}"
    task = Task(
        key=numbered,
        batch=day.batch.name,
        bales=day.batch.bales,
        action=Action.FEED,
        state=State.DUE,
        dose=nitrogen_dose(feed, rule.nitrogen_per_bale_g, day.batch.bales),
        held_days=day.state.held.get(numbered, 0),
        cautions=feed_cautions(feed, first_time=number == 1),
        figures={"every_days": float(rule.every_days)},
    )
    return (task,)


def feeding_rule(day: Day) -> SeasonFeeding | None:
    """Return how the bales are fed on a date, as the hungriest crop in them asks."""
    return bale_feeding(
        [
            season_feeding(each.crop, growth_stage(each.crop, since, day.on, each.method))
            for each, since in standing(day)
        ]
    )


def season_feed(batch: Batch) -> Feed | None:
    """Return what a batch is fed with in the season: its balanced feed, else its nitrogen feed."""
    for feed in (batch.finishing_feed, batch.feed):
        if feed is not None and feed.label.nitrogen_percent > 0:
            return feed
    return None


def season_feedings_given(batch: Batch, state: BatchState) -> int:
    """Return how many feedings of the season count as given."""
    prefix = f"{_key(batch)}-"
    return sum(key.startswith(prefix) for key in state.done)


def _key(batch: Batch) -> str:
    return once_key(batch.name, Action.FEED, SEASON)
