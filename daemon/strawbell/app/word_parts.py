"""A word of the grower as it was typed, and what all kinds share: batch, day, the row itself."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from enum import StrEnum

from msgspec import Struct

from strawbell.app.meant import nearest, quoted, refusal, tongue_of
from strawbell.errors import GrowerError
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.local_time import local_date, moment_of, zone_of
from strawbell.words.catalogue import Tongue

NOON = time(12)
"""When work of an earlier day is taken to have been done, where only the date is given."""


FARTHEST_BACK = timedelta(days=400)
"""What is older than a season and the winter before it is a slip of the pen in the year."""


class WordKind(StrEnum):
    """What a word is about."""

    DONE = "done"
    MISSED = "missed"
    TEMPERATURE = "temperature"
    NOTE = "note"
    HARVEST = "harvest"
    COST = "cost"
    FEED = "feed"
    GONE = "gone"
    RAIN = "rain"
    LOW = "low"
    UNDO = "undo"
    AWAY = "away"
    SAID = "said"
    """Free words, as one would answer a notice with them."""


class Word(Struct, frozen=True):
    """What the grower said, by whatever way it came; texts are as they were typed.

    `task` (done, missed, undo) is a key or a part of one. `amount` is a reading, a harvest, a cost,
    a feeding, rain or a low, degrees and depths without a unit in that of the garden; of work that
    is done what each bale got of the feed. `text` is a note, what a cost was for, what is gone, the
    last day away, or all that was said; `last` ends a crop with its harvest. `on` is a local date
    of the garden, `at` a moment, without an offset garden-local; neither means now. `garden` and
    `batch` may be left out where only one can be meant.
    """

    kind: WordKind
    task: str = ""
    amount: str = ""
    crop: str = ""
    text: str = ""
    last: bool = False
    on: date | None = None
    at: datetime | None = None
    garden: str | None = None
    batch: str | None = None


def when_meant(word: Word, garden: Garden, now: datetime) -> tuple[date, datetime]:
    """Return the local date a row belongs to and its moment; nothing is recorded ahead of time."""
    zone = zone_of(garden.place.time_zone)
    today = local_date(now, zone)
    on = word.on or today
    if word.on and word.at:
        raise refusal(tongue_of(garden).say("refusal.two-moments"), "--on")
    if not today - FARTHEST_BACK <= on <= today:
        raise not_lately(garden, on.isoformat(), today - FARTHEST_BACK, today, is_past=on < today)
    return on, now if on == today else moment_of(on, NOON, zone)


def not_lately(
    garden: Garden, typed: str, first: date, last: date, *, is_past: bool
) -> GrowerError:
    """Return the refusal of a day or a moment that nothing can be recorded for.

    A row ahead of time would overrule all that is said until then, and one of years ago is a slip
    of the pen.
    """
    span = {"first": first.isoformat(), "last": last.isoformat()}
    said = tongue_of(garden).say("refusal.not-lately", past=is_past, **span)
    return refusal(said, "record", typed)


def entry_at(
    garden: Garden,
    at: datetime,
    kind: EntryKind,
    *,
    batch: str | None = None,
    task: str | None = None,
    value: float | None = None,
    text: str = "",
    data: Mapping[str, object] | None = None,
    on: date | None = None,
) -> JournalEntry:
    """Return a row of the journal, of the local date of its moment unless another is given."""
    day = on or local_date(at, zone_of(garden.place.time_zone))
    return JournalEntry(at, garden.name, day, kind, batch, task, None, value, text, data or {})


def batch_named(name: str | None, garden: Garden) -> Batch:
    """Return the batch of a name, or the only one; an unknown name is met with the nearest."""
    names = [batch.name for batch in garden.batches]
    if name is None and len(garden.batches) == 1:
        return garden.batches[0]
    found = [batch for batch in garden.batches if name and batch.name.lower() == name.lower()]
    if found:
        return found[0]
    tongue = tongue_of(garden)
    said = tongue.say("refusal.which-batch", typed=name, names=quoted(names, tongue))
    raise refusal(said, "--batch", name, nearest(name or "", names, tongue))


def refuse_before_start(batch: Batch, on: date, kind: str, tongue: Tongue) -> None:
    """Refuse a word about bales that were not set up yet."""
    if on < batch.start_on:
        began = batch.start_on.isoformat()
        said = tongue.say("refusal.before-start", batch=batch.name, began=began)
        remedy = tongue.say("refusal.start-again")
        raise refusal(said, f"record {kind}", on.isoformat(), remedy)
