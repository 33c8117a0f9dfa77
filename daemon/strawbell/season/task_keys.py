"""The keys of the plan's work, from the names the grower gave."""

from __future__ import annotations

from datetime import date
from functools import lru_cache

from strawbell.model.brief import Action, FeedSeries, TaskKey
from strawbell.model.names import slug

KEYS_KEPT = 1024
"""The keys of a large garden's crops, which every stage of every date asks for."""


def conditioning_key(batch: str, day: int, action: Action) -> TaskKey:
    """Return the key of a conditioning day; a held feeding keeps it until it is done."""
    return TaskKey(slug(batch), action, day=day)


@lru_cache(maxsize=KEYS_KEPT)
def once_key(batch: str, action: Action, crop: str | None = None) -> TaskKey:
    """Return the key of a task that is done once in a batch, or once for a crop of it."""
    return TaskKey(slug(batch), action, crop=slug(crop) if crop else "")


@lru_cache(maxsize=KEYS_KEPT)
def ending_key(batch: str, crop: str) -> TaskKey:
    """Return the key of the last harvest of a crop."""
    return TaskKey(slug(batch), Action.HARVEST, crop=slug(crop), last=True)


def picking_key(batch: str, crop: str, number: int) -> TaskKey:
    """Return the key of a picking of a crop, counted from 1."""
    return TaskKey(slug(batch), Action.HARVEST, crop=slug(crop), number=number)


def season_feeding_key(batch: str, number: int) -> TaskKey:
    """Return the key of a feeding of the season, counted from 1."""
    return TaskKey(slug(batch), Action.FEED, series=FeedSeries.SEASON, number=number)


def dated_key(batch: str, action: Action, on: date, crop: str | None = None) -> TaskKey:
    """Return the key of a task that comes again on other dates."""
    return TaskKey(slug(batch), action, crop=slug(crop) if crop else "", on=on)


def extra_key(batch: str, on: date) -> TaskKey:
    """Return the key of what a batch was fed beyond the plan on a date: one sum a date."""
    return TaskKey(slug(batch), Action.FEED, series=FeedSeries.EXTRA, on=on)
