"""What is still to be bought for a season: the same projection as the season, added up."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import date, datetime

from strawbell.agronomy.feeding.dosing import dose_of
from strawbell.agronomy.feeding.supplies import FeedItem, Item, MixItem, WaterItem, needs
from strawbell.decision.projection import season
from strawbell.model.brief import Also, Brief, State, Task
from strawbell.model.details import MixDetail
from strawbell.model.feeds import Dose
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import Journal
from strawbell.model.season import SeasonDay
from strawbell.model.supplies import Need, Supply
from strawbell.season.feedings import feedings_given
from strawbell.season.fold import state_at
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import local_date, zone_of

REMIND_DAYS = 3
"""How long before something new is needed the evening note speaks of it [days]."""


def shopping(
    garden: Garden, journal: Journal | JournalIndex, forecast: Forecast | None, now: datetime
) -> tuple[Need, ...]:
    """Return every feed, mix and water amount for what is left of the plan.

    What was given, by the plan or beyond it, was taken out of packages that are counted as
    bought whole. Held work counts when it is projected to be due; water to the end of the season
    is what the plan asks for, rain is not taken off.
    """
    today = local_date(now, zone_of(garden.place.time_zone))
    index = JournalIndex.of(journal)
    days = season(garden, index, forecast, now)
    items = _items(garden, (day for day in days if day.on >= today))
    return needs(items, _used_g(garden, index, today))


def _used_g(garden: Garden, index: JournalIndex, today: date) -> Mapping[str, float]:
    """Return how much of each feed was given before a date, in all batches [g].

    Of a feed whose stock was counted on a date, what was given from that morning on.
    """
    used: dict[str, float] = {}
    for batch in garden.batches:
        state = state_at(garden, batch, index, max(today, batch.start_on))
        for given in feedings_given(batch, state, index.day(batch, today)):
            since = None if given.feed is None else given.feed.stock_on
            if given.feed is not None and (since is None or given.on >= since):
                used[given.feed.name] = used.get(given.feed.name, 0.0) + given.total_g
    return used


def needed_soon(
    garden: Garden,
    journal: Journal | JournalIndex,
    forecast: Forecast | None,
    now: datetime,
    today: Brief,
) -> tuple[Need, ...]:
    """Return what is needed for the first time ever, or runs out, in exactly `REMIND_DAYS`.

    The amount is for all that is left of the plan. A feed that was told before is at hand, one
    whose stock is known until that is used up, and water is not bought. Only for what is new the
    rest of the season is projected: on most evenings the days ahead in `today`, the brief of
    `now`, show that there is nothing.
    """
    near = (
        SeasonDay(today.on, today.tasks, today.weather, projected=False),
        *(
            SeasonDay(day.on, day.tasks, day.weather, projected=True)
            for day in today.ahead[:REMIND_DAYS]
        ),
    )
    index = JournalIndex.of(journal)
    at_hand = index.feeds_at_hand(min((each.start_on for each in garden.batches), default=today.on))
    items = tuple(_items(garden, near))
    counted = any(isinstance(item, FeedItem) and item.feed.stock_kg is not None for item in items)
    used = _used_g(garden, index, today.on) if counted else {}
    soon = _first_needed(needs(items, used), at_hand, today.on)
    if not soon:
        return ()
    return _first_needed(shopping(garden, index, forecast, now), at_hand, today.on)


def _first_needed(
    wanted: Iterable[Need], at_hand: Collection[str], today: date
) -> tuple[Need, ...]:
    return tuple(
        need
        for need in wanted
        if (need.needed_by - today).days == REMIND_DAYS
        and need.kind is not Supply.WATER
        and not need.is_at_hand
        and (need.stock_kg is not None or need.name not in at_hand)
    )


def _items(garden: Garden, days: Iterable[SeasonDay]) -> Iterator[Item]:
    batches = {batch.name: batch for batch in garden.batches}
    for day in days:
        for task in day.tasks:
            if task.state is State.DUE:
                yield from _of_task(task, batches[task.batch], day.on)


def _planned(batch: Batch, task: Task) -> Dose | None:
    """Return the whole dose of a day of which the bale is only expected to have no room."""
    if not {Also.LITTLE_ROOM, Also.FULL} & set(task.also):
        return None
    steps = (step for step in batch.schedule.days if step.day == task.day)
    return next((dose_of(batch, step) for step in steps), None)


def _of_task(task: Task, batch: Batch, on: date) -> Iterator[Item]:
    if task.dose is not None:
        dose = _planned(batch, task) or task.dose
        known = (feed for feed in batch.feeds() if feed.name == dose.feed)
        yield from (FeedItem(on, feed, dose) for feed in known)
    if isinstance(task.detail, MixDetail):
        yield MixItem(on, task.detail.per_bale_l * task.bales)
    if task.water_per_bale_l is not None:
        yield WaterItem(on, task.water_per_bale_l * task.bales * task.times_a_day)
