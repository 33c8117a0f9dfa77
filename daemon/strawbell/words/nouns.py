"""Names of crops and feeds as they stand in a sentence: how many of them, and in which spelling.

A name that the grower gave is left letter for letter.
"""

from __future__ import annotations

from strawbell.words.catalogue import Tongue
from strawbell.words.escaping import NAME_LIMIT, cut, name


def feed_name(feed: str, tongue: Tongue) -> str:
    """Return a feed as it is said in a sentence."""
    return tongue.known(f"feed.{_row(feed)}") or name(feed)


def crops_name(crop: str, tongue: Tongue, limit: int = NAME_LIMIT) -> str:
    """Return a crop of which there are several: "tomatoes", "kale"."""
    sort, _, last = name(crop).rpartition(" ")
    known = tongue.known(f"crop.{_row(crop)}.many", sort=None)
    return cut(known or tongue.known(f"crop.{last}.many", sort=sort) or name(crop), limit)


def counted_crop(number: int, crop: str, tongue: Tongue) -> str:
    """Return a number of plants: "8 tomatoes", "1 tomato", "8 kale plants"."""
    sort, _, last = name(crop).rpartition(" ")
    known = tongue.known(f"crop.{_row(crop)}.counted", count=number, sort=None)
    known = known or tongue.known(f"crop.{last}.counted", count=number, sort=sort)
    return known or tongue.say("crop.other.counted", count=number, sort=name(crop))


def _row(known: str) -> str:
    return known.replace(" ", "-")
