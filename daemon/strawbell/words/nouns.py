"""Names of crops and feeds as they stand in a sentence: how many of them, and in which spelling.

A name that the grower gave is left letter for letter.
"""

from __future__ import annotations

from collections.abc import Mapping

from strawbell.words.escaping import NAME_LIMIT, count, name
from strawbell.words.units import Measures

_MANY: Mapping[str, str] = {
    **{one: f"{one}s" for one in ("pea", "onion", "cabbage", "turnip", "lettuce", "cauliflower")},
    **{one: f"{one}s" for one in ("beet", "carrot", "bean", "pepper", "eggplant", "cucumber")},
    **{one: f"{one}s" for one in ("pumpkin", "melon", "watermelon", "artichoke")},
    "radish": "radishes",
    "strawberry": "strawberries",
    "potato": "potatoes",
    "tomato": "tomatoes",
    "squash": "squashes",
}
"""What a gardener counts; of anything else one counts plants."""
_FEEDS: Mapping[str, tuple[str, str]] = {
    "Urea": ("urea", "urea"),
    "Ammonium sulfate": ("ammonium sulphate", "ammonium sulfate"),
    "Blood meal": ("blood meal", "blood meal"),
    "Calcium nitrate": ("calcium nitrate", "calcium nitrate"),
    "Fish emulsion": ("fish emulsion", "fish emulsion"),
    "Balanced": ("balanced feed", "balanced feed"),
}
"""The built-in feeds in British and in US spelling."""


def feed_name(feed: str, measures: Measures) -> str:
    """Return a feed as it is said in a sentence."""
    if feed in _FEEDS:
        return _FEEDS[feed][measures.us]
    return name(feed)


def crops_name(crop: str, limit: int = NAME_LIMIT) -> str:
    """Return a crop of which there are several: "tomatoes", "kale"."""
    shown = name(crop, limit)
    before, blank, last = shown.rpartition(" ")
    return f"{before}{blank}{_MANY[last]}" if last in _MANY else shown


def counted_crop(number: int, crop: str) -> str:
    """Return a number of plants: "8 tomatoes", "1 tomato", "8 kale plants"."""
    shown = name(crop)
    if shown.rpartition(" ")[2] in _MANY:
        return f"{number} {shown if number == 1 else crops_name(crop)}"
    return count(number, f"{shown} plant")
