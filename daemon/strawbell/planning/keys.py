"""Keys of tasks: stable, unique in a garden, and easy to type after `strawbell record done`."""

from __future__ import annotations

import re
import unicodedata
from datetime import date
from functools import lru_cache

from strawbell.model.brief import Action

_NOT_A_WORD = re.compile(r"[^a-z0-9]+")


@lru_cache(maxsize=1024)
def slug(name: str) -> str:
    """Return a name as lower-case ASCII words joined by hyphens ("Row Ä 1" -> "row-a-1").

    A name without any Latin letter or digit keeps its code points in hexadecimal, so that two
    different names never share an empty slug.
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii").lower()
    words = _NOT_A_WORD.sub("-", plain).strip("-")
    return words or "-".join(f"{ord(letter):x}" for letter in name.strip()) or "unnamed"


def conditioning_key(batch: str, day: int, action: Action) -> str:
    """Return the key of a conditioning day; a held feeding keeps it until it is done."""
    return f"{slug(batch)}-{day}-{action}"


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
