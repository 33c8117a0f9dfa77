"""What was fed beyond the plan, as to make up for a storm: known only from the grower's word."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from strawbell.model.brief import Action
from strawbell.model.garden import Batch
from strawbell.season.journal_index import Record
from strawbell.season.task_keys import dated_key

EXTRA = "extra"
"""What the key of such a feeding has beside action and date ("row-a-feed-extra-2027-04-18")."""

ISO_DATE_LENGTH = 10
"""Characters of a date as YYYY-MM-DD (ISO 8601)."""


@dataclass(frozen=True, slots=True)
class ExtraFeeding:
    """A feeding beyond the plan: when, of what, and how much nitrogen it gave a bale [g]."""

    on: date
    feed: str
    nitrogen_per_bale_g: float


def extra_key(batch: str, on: date) -> str:
    """Return the key of what a batch was fed beyond the plan on a date: one sum a date."""
    return dated_key(batch, Action.FEED, on, EXTRA)


def extra_feedings(batch: Batch, record: Record) -> tuple[ExtraFeeding, ...]:
    """Return what a batch was fed beyond the plan since its start, oldest first.

    The last word about a date counts; what was taken back as missed does not.
    """
    begins = extra_key(batch.name, batch.start_on)[:-ISO_DATE_LENGTH]
    found = []
    for key, words in record.answers.items():
        if not key.startswith(begins) or not words[-1].done or words[-1].batch != batch.name:
            continue
        on, told = _date_in(key[len(begins) :]), record.amounts.get(key, {})
        nitrogen_g = told.get("nitrogen_per_bale_g")
        if on and on >= batch.start_on and isinstance(nitrogen_g, (int, float)):
            found.append(ExtraFeeding(on, str(told.get("feed", "")), float(nitrogen_g)))
    return tuple(sorted(found, key=lambda each: each.on))


def _date_in(text: str) -> date | None:
    """Return the date a key ends in; one that somebody else made up has none."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def extra_nitrogen_g(batch: Batch, record: Record) -> float:
    """Return the nitrogen each bale was fed beyond the plan, all together [g]."""
    return sum(each.nitrogen_per_bale_g for each in extra_feedings(batch, record))
