"""What was fed beyond the plan, as to make up for a storm: known only from the grower's word."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from strawbell.model.brief import FeedSeries
from strawbell.model.garden import Batch
from strawbell.model.names import slug
from strawbell.season.journal_index import Record


@dataclass(frozen=True, slots=True)
class ExtraFeeding:
    """A feeding beyond the plan: when, of what, and how much nitrogen it gave a bale [g]."""

    on: date
    feed: str
    nitrogen_per_bale_g: float


def extra_feedings(batch: Batch, record: Record) -> tuple[ExtraFeeding, ...]:
    """Return what a batch was fed beyond the plan since its start, oldest first.

    The last word about a date counts; what was taken back as missed does not.
    """
    own = slug(batch.name)
    found = []
    for key, words in record.answers.items():
        if key.series is not FeedSeries.EXTRA or key.batch != own or key.on is None:
            continue
        if not words[-1].done or words[-1].batch != batch.name or key.on < batch.start_on:
            continue
        told = record.amounts.get(key, {})
        nitrogen_g = told.get("nitrogen_per_bale_g")
        if isinstance(nitrogen_g, (int, float)):
            found.append(ExtraFeeding(key.on, str(told.get("feed", "")), float(nitrogen_g)))
    return tuple(sorted(found, key=lambda each: each.on))


def extra_nitrogen_g(batch: Batch, record: Record) -> float:
    """Return the nitrogen each bale was fed beyond the plan, all together [g]."""
    return sum(each.nitrogen_per_bale_g for each in extra_feedings(batch, record))
