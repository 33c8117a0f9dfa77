"""What was fed beyond the plan, in the grower's words."""

from __future__ import annotations

import re
from datetime import datetime

from strawbell.agronomy.feeding.doses import MOST_NITROGEN_AT_ONCE_G
from strawbell.agronomy.feeding.feeds import UNKNOWN_KG_PER_L
from strawbell.app.meant import quoted, refusal, tongue_of
from strawbell.app.word_parts import Word, batch_named, entry_at, refuse_before_start, when_meant
from strawbell.model.feeds import Feed
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.extra_feedings import FEED_PER_BALE
from strawbell.season.task_keys import extra_key
from strawbell.words.answers import read_mass_g
from strawbell.words.catalogue import Tongue
from strawbell.words.units import Measures

G_PER_KG = 1000.0
_VOLUME = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(ml|l)\s*")
PER_CENT = 100.0


def feed(word: Word, garden: Garden, journal: Journal, now: datetime) -> tuple[JournalEntry, ...]:
    """Return the row of what each bale of a batch was fed beyond the plan on a date."""
    del journal
    on, at = when_meant(word, garden, now)
    batch = batch_named(word.batch, garden)
    tongue = tongue_of(garden)
    refuse_before_start(batch, on, "feed", tongue)
    given = _feed_meant(word.text, batch, tongue)
    feed_g = read_mass_g(word.amount)
    if feed_g is None and given.form.is_poured:
        feed_g = _poured_g(word.amount, given)
    if feed_g is None:
        raise refusal(tongue.say("refusal.no-feed-amount"), "record feed", word.amount)
    nitrogen_g = round(feed_g * given.label.nitrogen_percent / PER_CENT, 2)
    if not 0 < nitrogen_g <= MOST_NITROGEN_AT_ONCE_G:
        most = Measures(garden.units).mass(
            MOST_NITROGEN_AT_ONCE_G * PER_CENT / max(given.label.nitrogen_percent, 1.0)
        )
        raise refusal(tongue.say("refusal.too-much-feed", most=most), "record feed", word.amount)
    data = {
        "feed": given.name,
        FEED_PER_BALE: round(feed_g, 2),
        "nitrogen_per_bale_g": nitrogen_g,
    }
    key = extra_key(batch.name, on).text()
    row = entry_at(garden, at, EntryKind.DONE, batch=batch.name, task=key, data=data, on=on)
    return (row,)


def _feed_meant(name: str, batch: Batch, tongue: Tongue) -> Feed:
    """Return the feed of a batch that has a name, whatever its capitals; "" means its own."""
    known = {"": batch.feed, **{each.name.casefold(): each for each in batch.feeds()}}
    found = known.get(name.casefold())
    if found is None:
        feeds = quoted((each.name for each in batch.feeds()), tongue)
        said = tongue.say("refusal.no-such-feed", batch=batch.name, feeds=feeds)
        raise refusal(said, "record feed", name)
    return found


def _poured_g(text: str, feed: Feed) -> float | None:
    """Return a volume of a poured feed in grams, by its density, else as water."""
    found = _VOLUME.fullmatch(text.lower())
    if found is None:
        return None
    litres = float(found[1].replace(",", ".")) * (1.0 if found[2] == "l" else 1e-3)
    return litres * (feed.density_kg_per_l or UNKNOWN_KG_PER_L) * G_PER_KG
