"""What the grower has to know of the daemon itself: a mended store, a clock that jumped."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from msgspec.structs import replace

from strawbell.app.outbox import queue
from strawbell.app.ports import Channel, Incident, Store
from strawbell.app.store_trouble import Over
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.local_time import local_date, zone_of
from strawbell.words.notices import trouble_notice

STORE_MENDED = "store-mended"
"""State of a journal row that says the store was restored from a copy, or begun anew."""
CLOCK_MOVED = "clock-moved"
"""State of a journal row that says the clock jumped."""
STORE_REFUSED = "store-refused"
"""State of a journal row that says the store took nothing for a while."""

_KEY = "incident"
"""Under this the data of such a row names the incident."""

CLOCK_NEWS_H = 3
"""A jump of the clock beyond this is written into the journal [h]. The cron of most systems takes
a change of less than three hours for a change of summer time and what is more for a correction of
the clock (manual page cron(8))."""

INCIDENT_USEFUL_D = 3
"""How long word of a mended store is worth sending [day]; the journal keeps it."""


def store_mended(
    store: Store,
    channels: Sequence[Channel],
    gardens: Sequence[Garden],
    incident: Incident,
    now: datetime,
) -> None:
    """Put on disk, at once or not at all, what the store suffered; nothing if that was done.

    The store is one, so there is a row in every journal, but one notice for each recipient.
    """
    if not gardens:
        return
    garden = gardens[0]
    if any(entry.data.get(_KEY) == incident.key for entry in _mended(store.journal(garden.name))):
        # A kill came after the telling and before the incident was let go.
        return
    entries = [
        replace(_entry(each, now, STORE_MENDED, incident.text), data={_KEY: incident.key})
        for each in gardens
    ]
    ends = now + timedelta(days=INCIDENT_USEFUL_D)
    notice = trouble_notice(garden, entries[0].local_date, "store", (incident.text,), now, ends)
    # Two incidents of one day are two notices.
    mark = hashlib.sha256(incident.key.encode()).hexdigest()
    notice = replace(notice, occasion=f"store {mark[:16]}")
    with store.together():
        store.write(entries)
        store.enqueue(queue(notice, channels, now, store.secret))


def _mended(journal: Journal) -> Iterator[JournalEntry]:
    return (entry for entry in journal if entry.state == STORE_MENDED)


def store_takes_again(
    store: Store,
    channels: Sequence[Channel],
    gardens: Sequence[Garden],
    over: Over,
    now: datetime,
) -> None:
    """Write into every journal that the store took nothing; tell those who had an alarm."""
    told = [channel for channel in channels if channel.name in over.told_on]
    with store.together():
        for garden in gardens:
            text = f"{refusal_sentence(over.since, now, garden)} {over.sentence}"
            store.write([_entry(garden, now, STORE_REFUSED, text)])
        for garden in gardens[:1]:
            on = local_date(now, zone_of(garden.place.time_zone))
            said = (refusal_sentence(over.since, now, garden),)
            ends = now + timedelta(days=INCIDENT_USEFUL_D)
            notice = trouble_notice(garden, on, "disk back", said, now, ends)
            # Two troubles of one day are two notices.
            notice = replace(notice, occasion=f"disk back {over.since.isoformat()}")
            store.enqueue(queue(notice, told, now, store.secret))


def refusal_sentence(since: datetime, until: datetime, garden: Garden) -> str:
    """Return one sentence on how long the store took nothing, on the garden's clock."""
    zone = zone_of(garden.place.time_zone)
    began, ended = since.astimezone(zone), until.astimezone(zone)
    end = f"{ended:%H:%M}" if ended.date() == began.date() else f"{ended:%Y-%m-%d %H:%M}"
    return f"The store took nothing from {began:%Y-%m-%d %H:%M} to {end}."


def copy_failed(
    store: Store, channels: Sequence[Channel], gardens: Sequence[Garden], why: str, now: datetime
) -> None:
    """Tell that the store could not be copied; once a local date, the key sees to it."""
    for garden in gardens[:1]:
        on = local_date(now, zone_of(garden.place.time_zone))
        ends = now + timedelta(days=INCIDENT_USEFUL_D)
        notice = trouble_notice(garden, on, "copy", (why,), now, ends)
        store.enqueue(queue(notice, channels, now, store.secret))


def clock_moved(
    store: Store, gardens: Sequence[Garden], before: datetime, after: datetime, now: datetime
) -> None:
    """Write a jump of the clock into every journal."""
    store.write(
        [
            _entry(garden, now, CLOCK_MOVED, clock_sentence(before, after, garden))
            for garden in gardens
        ]
    )


def clock_sentence(before: datetime, after: datetime, garden: Garden) -> str:
    """Return one sentence on a jump of the clock, on the garden's clock."""
    zone = zone_of(garden.place.time_zone)
    way = "forward" if after > before else "back"
    shown = [f"{moment.astimezone(zone):%Y-%m-%d %H:%M}" for moment in (before, after)]
    slept = ": it was set, or the machine slept" if after > before else ": it was set"
    return f"The machine's clock went {way} from {shown[0]} to {shown[1]} at once{slept}."


def _entry(garden: Garden, now: datetime, state: str, text: str) -> JournalEntry:
    on = local_date(now, zone_of(garden.place.time_zone))
    return JournalEntry(now, garden.name, on, EntryKind.SERVICE, state=state, text=text)
