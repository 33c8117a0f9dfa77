"""What the grower's own instruments showed, and words that are taken back."""

from __future__ import annotations

from datetime import date, datetime, time

from strawbell.app.called import is_called
from strawbell.app.meant import refusal, tongue_of
from strawbell.app.word_parts import Word, entry_at, when_meant
from strawbell.model.garden import Garden
from strawbell.model.journal import GROWERS_KINDS, EntryKind, Journal, JournalEntry
from strawbell.season.journal_index import JournalIndex
from strawbell.season.local_time import DAY, local_date, zone_of
from strawbell.season.undone import last_words, standing, taken_back
from strawbell.words.answers import read_degrees, read_depth_mm
from strawbell.words.units import Measures

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
    mm = read_depth_mm(word.amount, garden.units)
    if mm is None:
        raise refusal(tongue_of(garden).say("refusal.no-rain"), "record rain", word.amount)
    if mm > MOST_RAIN_MM:
        most = Measures(garden.units).rain(MOST_RAIN_MM)
        said = tongue_of(garden).say("refusal.too-much-rain", most=most)
        raise refusal(said, "record rain", word.amount)
    here = now.astimezone(zone_of(garden.place.time_zone))
    told, _ = when_meant(word, garden, now)
    on = told if word.on or here.time() >= NOON else told - DAY
    return (entry_at(garden, now, EntryKind.RAIN, value=round(mm, 2), on=on),)


def low(word: Word, garden: Garden, journal: Journal, now: datetime) -> tuple[JournalEntry, ...]:
    """Return the row of the lowest temperature of the night that ended on a date."""
    del journal
    celsius = read_degrees(word.amount, garden.units)
    if celsius is None:
        said = tongue_of(garden).say("refusal.no-temperature", of="night")
        raise refusal(said, "record low", word.amount)
    if not COLDEST_C <= celsius <= HOTTEST_C:
        least, most = map(Measures(garden.units).temperature, (COLDEST_C, HOTTEST_C))
        said = tongue_of(garden).say("refusal.out-of-range", of="night", low=least, high=most)
        raise refusal(said, "record low", word.amount)
    on, _ = when_meant(word, garden, now)
    return (entry_at(garden, now, EntryKind.LOW, value=round(celsius, 2), on=on),)


def away(word: Word, garden: Garden, journal: Journal, now: datetime) -> tuple[JournalEntry, ...]:
    """Return the rows of a time away, from `on` (else today) to the date in `text`.

    One that ends before it begins is no time away: whoever is away by now is back.
    """
    today = local_date(now, zone_of(garden.place.time_zone))
    first, last = word.on or today, _day(word.text)
    if last is None or last < today - DAY or (last - first).days > LONGEST_AWAY_D:
        said = tongue_of(garden).say(
            "refusal.no-time-away", today=today.isoformat(), days=LONGEST_AWAY_D
        )
        raise refusal(said, "record away", f"{word.on or ''} {word.text}".strip())
    if last >= today:
        return (entry_at(garden, now, EntryKind.AWAY, text=last.isoformat(), on=first),)
    known = JournalIndex.of(journal).away
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
        said = tongue_of(garden).say("refusal.nothing-to-undo", named=bool(wanted))
        raise refusal(said, "record undo", wanted or None)
    marker = entry_at(garden, now, EntryKind.UNDONE)
    return tuple(taken_back(row, marker) for row in rows)


def _is_about(row: JournalEntry, wanted: str) -> bool:
    """Return whether a row of the grower's is about what was named: kind, batch, task or crop."""
    if row.kind not in GROWERS_KINDS:
        return False
    return is_called(wanted, row.kind.value, row.batch or "", row.task or "", row.text)
