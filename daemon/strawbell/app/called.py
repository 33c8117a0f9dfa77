"""Whether what a grower names is what the plan and the journal call otherwise. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from strawbell.model.names import slug

SYNONYMS = {
    "feeding": "feed",
    "fed": "feed",
    "watering": "water",
    "watered": "water",
    "soaking": "soak",
    "soaked": "soak",
    "planting": "plant",
    "planted": "plant",
    "sowing": "sow",
    "sowed": "sow",
    "cover": "protect",
    "covered": "protect",
    "covering": "protect",
    "thinning": "thin",
    "thinned": "thin",
    "picking": "harvest",
    "picked": "harvest",
    "pick": "harvest",
    "reading": "temperature",
    "gauge": "rain",
    "night": "low",
    "spent": "cost",
    "remark": "note",
    "holiday": "away",
    "back": "away",
}
"""How a grower calls work and words that the plan and the journal call otherwise."""
PHRASES = {"not-today": "missed", "not-done": "missed", "can-t": "missed", "cannot": "missed"}
"""The same of more than one word, and of answers that come to the same."""
ENDINGS = (("", ""), ("s", ""), ("es", ""), ("ies", "y"), ("ves", "f"))
"""How a plural ends, and its singular instead."""


def is_called(about: str, *names: str) -> bool:
    """Return whether every word of `about` is one of the names, however it is inflected."""
    if not about:
        return True
    known = {part for each in names for part in slug(each).split("-") if each}
    wanted = PHRASES.get(slug(about), slug(about))
    return all(
        SYNONYMS.get(word, word) in known or any(each in known for each in singulars(word))
        for word in wanted.split("-")
    )


def singulars(word: str) -> Iterator[str]:
    """Yield what a word may be the plural of, itself first."""
    for ending, instead in ENDINGS:
        if word.endswith(ending):
            yield word.removesuffix(ending) + instead
