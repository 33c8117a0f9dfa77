"""The season as an iCalendar file (RFC 5545): all-day entries that move when the plan moves.

An entry keeps its identifier for life. What it was is read from the file written before: an
unchanged entry keeps its stamp and sequence, so the same plan gives the same bytes; a moved one
gets the next sequence; one that fell away is cancelled and kept for a while, so that programs
that subscribe take it out.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.brief import Action, State
from strawbell.model.garden import Garden
from strawbell.model.season import SeasonDay
from strawbell.words.advice import task_words
from strawbell.words.escaping import clean
from strawbell.words.merge import merged
from strawbell.words.voice import Voice

if TYPE_CHECKING:
    from icalendar import Event

DOMAIN = "strawbell.invalid"
"""Right side of identifiers; a name that never resolves (RFC 2606)."""
KEEP_CANCELLED = timedelta(days=14)
"""How long a cancelled entry stays in the file after its date (design choice)."""
DAILY = frozenset({Action.WATER, Action.SURFACE_WATER, Action.INSPECT, Action.UNCOVER})
"""Work that comes every day would bury the rest; only its conditioning days are entered."""


class Entry(Struct, frozen=True):
    """One all-day entry as the plan has it now."""

    uid: str
    on: date
    summary: str
    description: str


def calendar_bytes(
    days: Iterable[SeasonDay], garden: Garden, previous: bytes | None, now: datetime
) -> bytes:
    """Return the calendar of a season.

    `previous` is the file as it was written last, None or unreadable for none; `now` stamps what
    is new or has moved.
    """
    from icalendar import Calendar

    before = _entries_before(previous)
    entries = _entries(days, garden)
    calendar = Calendar()
    calendar.add("prodid", "-//Strawbell//Season//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", clean(garden.name))
    for uid in sorted({*entries, *before}, key=lambda uid: _place(uid, entries, before)):
        event = _event(uid, entries.get(uid), before.get(uid), now)
        if event is not None:
            calendar.add_component(event)
    return bytes(calendar.to_ical(sorted=False))


def _entries(days: Iterable[SeasonDay], garden: Garden) -> dict[str, Entry]:
    """Return the entries of a season; of a task told on several dates the last one counts."""
    found: dict[str, Entry] = {}
    for day in days:
        voice = Voice.of(garden, day.on)
        for task in day.tasks:
            if task.action in DAILY and task.day is None:
                continue
            if task.state in (State.HELD, State.MISSED):
                continue
            # As it is planned, whatever became of it: a task that is done keeps its entry.
            planned = replace(task, state=State.DUE, reasons=(), held_until=None, held_days=0)
            words = task_words(merged((planned,)), voice)
            uid = _uid(garden.name, task.key.text())
            found[uid] = Entry(uid, day.on, words.brief, " ".join((*words.beside, *words.steps)))
    return found


def _uid(garden: str, key: str) -> str:
    digest = hashlib.sha256(f"{garden}\n{key}".encode()).hexdigest()
    return f"{digest[:32]}@{DOMAIN}"


def _entries_before(previous: bytes | None) -> Mapping[str, Event]:
    if not previous:
        return {}
    from icalendar import Calendar, Event

    try:
        calendar = Calendar.from_ical(previous)
    except ValueError:
        return {}
    events = (each for each in calendar.walk("VEVENT") if isinstance(each, Event))
    return {str(event["uid"]): event for event in events if "uid" in event}


def _place(uid: str, entries: Mapping[str, Entry], before: Mapping[str, Event]) -> tuple[date, str]:
    return (entries[uid].on if uid in entries else _date_of(before[uid])), uid


def _event(uid: str, entry: Entry | None, old: Event | None, now: datetime) -> Event | None:
    if entry is None:
        return None if old is None else _cancelled(uid, old, now)
    if old is not None and _same(entry, old):
        return old
    sequence = 0 if old is None else _sequence(old) + 1
    return _new(entry, sequence, now, "CONFIRMED")


def _cancelled(uid: str, old: Event, now: datetime) -> Event | None:
    on = _date_of(old)
    if now.date() > on + KEEP_CANCELLED:
        return None
    if str(old.get("status")) == "CANCELLED":
        return old
    entry = Entry(uid, on, str(old.get("summary", "")), "")
    return _new(entry, _sequence(old) + 1, now, "CANCELLED")


def _new(entry: Entry, sequence: int, now: datetime, status: str) -> Event:
    from icalendar import Event

    stamp = now.astimezone(UTC).replace(microsecond=0)
    event = Event()
    event.add("uid", entry.uid)
    event.add("dtstamp", stamp)
    event.add("last-modified", stamp)
    event.add("sequence", sequence)
    event.add("dtstart", entry.on)
    event.add("dtend", entry.on + timedelta(days=1))
    event.add("summary", entry.summary)
    if entry.description:
        event.add("description", entry.description)
    event.add("status", status)
    event.add("transp", "TRANSPARENT")
    return event


def _same(entry: Entry, old: Event) -> bool:
    return (
        str(old.get("status")) == "CONFIRMED"
        and _date_of(old) == entry.on
        and str(old.get("summary", "")) == entry.summary
        and str(old.get("description", "")) == entry.description
    )


def _sequence(old: Event) -> int:
    sequence = old.get("sequence", 0)
    return int(sequence) if isinstance(sequence, int) else 0


def _date_of(event: Event) -> date:
    start = event.decoded("dtstart")
    if isinstance(start, datetime):
        return start.date()
    return start if isinstance(start, date) else date.min
