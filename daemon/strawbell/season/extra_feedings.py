"""What was fed beyond the plan, as to make up for a storm: known only from the grower's word.

Decided 2026-11-26: A feeding beyond the plan is a word of the grower's with a key of its own date
(`record feed`): one sum a date, which a later word replaces or takes back. It counts in the
nitrogen book, in the spent straw, and against what a storm is made up for, so that nothing is
asked for twice.
"""

from __future__ import annotations

from datetime import date

from msgspec import Struct

from strawbell.model.brief import FeedSeries, TaskKey
from strawbell.model.garden import Batch
from strawbell.model.names import slug
from strawbell.season.journal_index import JournalIndex

FEED_PER_BALE = "feed_per_bale_g"
"""Figure of such a feeding alone: what each bale got of the feed [g]."""


class ExtraFeeding(Struct, frozen=True):
    """A feeding beyond the plan: when, of what, how much, and the nitrogen it gave a bale [g]."""

    key: TaskKey
    on: date
    feed: str
    feed_per_bale_g: float
    nitrogen_per_bale_g: float


def extra_feedings(batch: Batch, index: JournalIndex) -> tuple[ExtraFeeding, ...]:
    """Return what a batch was fed beyond the plan since its start, oldest first.

    The last word about a date counts; what was taken back as missed does not.
    """
    own = slug(batch.name)
    found = []
    for key, words in index.answers.items():
        if key.series is not FeedSeries.EXTRA or key.batch != own or key.on is None:
            continue
        if not words[-1].done or words[-1].batch != batch.name or key.on < batch.start_on:
            continue
        told = index.amounts.get(key, {})
        nitrogen_g, feed_g = told.get("nitrogen_per_bale_g"), told.get(FEED_PER_BALE)
        if isinstance(nitrogen_g, (int, float)) and isinstance(feed_g, (int, float)):
            feed = str(told.get("feed", ""))
            found.append(ExtraFeeding(key, key.on, feed, float(feed_g), float(nitrogen_g)))
    return tuple(sorted(found, key=lambda each: each.on))
