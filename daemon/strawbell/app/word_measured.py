"""What the grower's own instruments showed, and words that are taken back."""

from __future__ import annotations

import re
from datetime import date, datetime, time

from strawbell.app.called import is_called
from strawbell.app.word_parts import Word, entry_at
from strawbell.errors import GrowerError, Problem
from strawbell.model.garden import Garden
from strawbell.model.journal import GROWERS_KINDS, EntryKind, Journal, JournalEntry
from strawbell.season.journal_index import Record
from strawbell.season.local_time import DAY, local_date, zone_of
from strawbell.season.undone import last_words, standing, taken_back

_DEPTH = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(mm|in|inch|inches)\s*", re.IGNORECASE)
_DEGREES = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)\s*\u00b0?\s*([CFcf])\s*")
MM_PER_INCH = 25.4
MOST_RAIN_MM = 500.0
"""More in a day is a slip of the pen; a gauge does not hold it."""
COLDEST_C, HOTTEST_C = -50.0, 45.0
"""Range of a night's low that a garden sees [degC]; outside it is a slip of the pen."""
LONGEST_AWAY_D = 92
"""Longest time away [day]: a summer; longer is a slip of the pen."""
NOON = time(12)
"""A gauge read before it holds the rain of the day before (common practice: read at breakfast)."""


def rain(word: Word, garden: Garden, journal: Journal, now: datetime) -> tuple[JournalEntry, ...]:
    """Return the row of what stood in the rain gauge."""
    del journal
    found = _DEPTH.fullmatch(word.amount)
    if found is None:
        raise _refusal("not an amount of rain", "rain", word.amount, "such as 12mm or 0.5in")
    mm = float(found[1].replace(",", ".")) * (1.0 if found[2].lower() == "mm" else MM_PER_INCH)
    if mm > MOST_RAIN_MM:
        raise _refusal("no gauge holds that", "rain", word.amount, f"at most {MOST_RAIN_MM:g}mm")
    here = now.astimezone(zone_of(garden.place.time_zone))
    on = word.on or (here.date() - DAY if here.time() < NOON else here.date())
    return (entry_at(garden, now, EntryKind.RAIN, value=round(mm, 2), on=on),)


def low(word: Word, garden: Garden, journal: Journal, now: datetime) -> tuple[JournalEntry, ...]:
    """Return the row of the lowest temperature of the night that ended on a date."""
    del journal
    found = _DEGREES.fullmatch(word.amount)
    if found is None:
        raise _refusal("not a temperature", "low", word.amount, "such as -2C or 28F")
    value = float(found[1].replace(",", "."))
    celsius = value if found[2].upper() == "C" else (value - 32) / 1.8
    if not COLDEST_C <= celsius <= HOTTEST_C:
        allowed = f"{COLDEST_C:g}C to {HOTTEST_C:g}C"
        raise _refusal("no night is like that", "low", word.amount, allowed)
    on = word.on or local_date(now, zone_of(garden.place.time_zone))
    return (entry_at(garden, now, EntryKind.LOW, value=round(celsius, 2), on=on),)


def away(word: Word, garden: Garden, journal: Journal, now: datetime) -> tuple[JournalEntry, ...]:
    """Return the rows of a time away, from `on` (else today) to the date in `text`.

    One that ends before it begins is no time away: whoever is away by now is back.
    """
    today = local_date(now, zone_of(garden.place.time_zone))
    first, last = word.on or today, _day(word.text)
    if last is None or last < today - DAY or (last - first).days > LONGEST_AWAY_D:
        allowed = f"two dates from {today} on, at most {LONGEST_AWAY_D} days apart"
        raise _refusal("not a time away", "away", f"{word.on or ''} {word.text}".strip(), allowed)
    if last >= today:
        return (entry_at(garden, now, EntryKind.AWAY, text=last.isoformat(), on=first),)
    known = Record.of(journal).away
    running = [begin for begin, end in known.items() if end >= today]
    return tuple(
        entry_at(garden, now, EntryKind.AWAY, text=last.isoformat(), on=begin) for begin in running
    ) or (entry_at(garden, now, EntryKind.AWAY, text=last.isoformat(), on=today),)


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        return None


def undo(word: Word, garden: Garden, journal: Journal, now: datetime) -> tuple[JournalEntry, ...]:
    """Return the rows that take back the last word, or the last one about what is named."""
    rows = last_words(journal)
    wanted = word.task.strip()
    if wanted:
        named = [row for row in standing(journal) if _is_about(row, wanted)]
        rows = tuple(row for row in named if row.at == named[-1].at) if named else ()
    if not rows:
        raise GrowerError(
            Problem(
                what="there is nothing to take back" if not wanted else "no word fits that",
                where="record undo",
                found=repr(word.task) if wanted else "",
                remedy="`strawbell journal` shows what was recorded; nothing was changed.",
            )
        )
    marker = entry_at(garden, now, EntryKind.UNDONE)
    return tuple(taken_back(row, marker) for row in rows)


def _is_about(row: JournalEntry, wanted: str) -> bool:
    """Return whether a row of the grower's is about what was named: kind, batch, task or crop."""
    if row.kind not in GROWERS_KINDS:
        return False
    return is_called(wanted, row.kind.value, row.batch or "", row.task or "", row.text)


def _refusal(what: str, kind: str, found: str, allowed: str) -> GrowerError:
    return GrowerError(
        Problem(what, f"record {kind}", repr(found), allowed, "Nothing was recorded.")
    )
