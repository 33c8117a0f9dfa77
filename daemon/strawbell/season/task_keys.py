"""Keys of tasks: stable, unique in a garden, and easy to type after `strawbell record done`."""

from __future__ import annotations

from datetime import date
from functools import lru_cache

from strawbell.model.brief import Action
from strawbell.model.names import slug

KEYS_KEPT = 1024
"""The keys of a large garden's crops, which every stage of every date asks for."""

__all__ = ["alert_key", "conditioning_key", "dated_key", "is_dated", "once_key", "slug"]


def conditioning_key(batch: str, day: int, action: Action) -> str:
    """Return the key of a conditioning day; a held feeding keeps it until it is done."""
    return f"{slug(batch)}-{day}-{action}"


@lru_cache(maxsize=KEYS_KEPT)
def once_key(batch: str, action: Action, crop: str | None = None) -> str:
    """Return the key of a task that is done once in a batch, or once for a crop of it."""
    return f"{slug(batch)}-{action}-{slug(crop)}" if crop else f"{slug(batch)}-{action}"


def dated_key(batch: str, action: Action, on: date, what: str | None = None) -> str:
    """Return the key of a task that comes again on other dates."""
    middle = f"{action}-{slug(what)}" if what else f"{action}"
    return f"{slug(batch)}-{middle}-{on.isoformat()}"


def is_dated(key: str) -> bool:
    """Return whether a task key carries the date it belongs to, so that it never comes again."""
    return key[-10:-6].isdigit() and key[-6:-5] == "-" and key[-3:-2] == "-"


def alert_key(code: str, batch: str | None) -> str:
    """Return the key of an alert of a date, for a batch or for the whole garden."""
    return f"alert-{code}-{slug(batch)}" if batch else f"alert-{code}"
