"""What was fed beyond the plan, in the grower's words."""

from __future__ import annotations

import re
from datetime import datetime

from strawbell.agronomy.feeding.doses import MOST_NITROGEN_AT_ONCE_G
from strawbell.agronomy.feeding.feeds import UNKNOWN_KG_PER_L
from strawbell.app.word_parts import Word, batch_named, entry_at, refuse_before_start, when_meant
from strawbell.errors import GrowerError, Problem
from strawbell.model.feeds import Feed
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.extra_feedings import FEED_PER_BALE
from strawbell.season.task_keys import extra_key
from strawbell.words.answers import read_mass_g
from strawbell.words.escaping import clean
from strawbell.words.units import Measures

AMOUNTS = "a mass for each bale, such as 120g or 4oz, or of what is poured ml, such as 60ml"
G_PER_KG = 1000.0
_VOLUME = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(ml|l)\s*")
PER_CENT = 100.0


def feed(word: Word, garden: Garden, journal: Journal, now: datetime) -> tuple[JournalEntry, ...]:
    """Return the row of what each bale of a batch was fed beyond the plan on a date."""
    del journal
    on, at = when_meant(word, garden, now)
    batch = batch_named(word.batch, garden)
    refuse_before_start(batch, on, "feed")
    given = _feed_meant(word.text, batch)
    feed_g = read_mass_g(word.amount)
    if feed_g is None and given.form.is_poured:
        feed_g = _poured_g(word.amount, given)
    if feed_g is None:
        raise _refusal("not an amount of feed", repr(word.amount), AMOUNTS)
    nitrogen_g = round(feed_g * given.label.nitrogen_percent / PER_CENT, 2)
    if not 0 < nitrogen_g <= MOST_NITROGEN_AT_ONCE_G:
        most = Measures(garden.units).mass(
            MOST_NITROGEN_AT_ONCE_G * PER_CENT / max(given.label.nitrogen_percent, 1.0)
        )
        raise _refusal(
            "nobody gives a bale that", repr(word.amount), f"more than nothing, at most {most}"
        )
    data = {
        "feed": given.name,
        FEED_PER_BALE: round(feed_g, 2),
        "nitrogen_per_bale_g": nitrogen_g,
    }
    key = extra_key(batch.name, on).text()
    row = entry_at(garden, at, EntryKind.DONE, batch=batch.name, task=key, data=data, on=on)
    return (row,)


def _feed_meant(name: str, batch: Batch) -> Feed:
    """Return the feed of a batch that has a name, whatever its capitals; "" means its own."""
    known = {"": batch.feed, **{each.name.casefold(): each for each in batch.feeds()}}
    found = known.get(name.casefold())
    if found is None:
        listed = ", ".join(clean(each.name) for each in batch.feeds())
        raise _refusal("the batch has no such feed", repr(clean(name)), listed)
    return found


def _poured_g(text: str, feed: Feed) -> float | None:
    """Return a volume of a poured feed in grams, by its density, else as water."""
    found = _VOLUME.fullmatch(text.lower())
    if found is None:
        return None
    litres = float(found[1].replace(",", ".")) * (1.0 if found[2] == "l" else 1e-3)
    return litres * (feed.density_kg_per_l or UNKNOWN_KG_PER_L) * G_PER_KG


def feed_said(row: JournalEntry, garden: Garden) -> str:
    """Return what was recorded, and how to take it back."""
    mass = Measures(garden.units).mass
    given, nitrogen = (
        mass(float(row.data[name]))  # type: ignore[arg-type]
        for name in (FEED_PER_BALE, "nitrogen_per_bale_g")
    )
    return (
        f"{given} of {clean(str(row.data['feed']))} a bale of {clean(row.batch or '')} beyond the "
        f"plan, {nitrogen} of nitrogen. Another record for that day replaces it, and "
        f"strawbell record missed {row.task} takes it back"
    )


def _refusal(what: str, found: str, allowed: str) -> GrowerError:
    return GrowerError(Problem(what, "record feed", found, allowed, "Nothing was recorded."))
