"""What the grower has to know of the daemon itself: a mended store, a clock that jumped.

It is put on disk at once or not at all: a row in every journal, since the store is one for all
gardens, and one notice for each recipient, in the name of the first.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, timedelta

from msgspec import Struct
from msgspec.structs import replace

from strawbell.app.outbox import queue
from strawbell.app.ports import Channel, Incident, Store
from strawbell.app.word import tongue_of
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.local_time import local_date, zone_of
from strawbell.words.notices import trouble_notice
from strawbell.words.voice import Voice

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

USEFUL_D = 3
"""How long a notice of such news is worth sending [day]; the journal keeps it."""


class News(Struct, frozen=True):
    """One thing to know; `said` gives its sentence by the clock of a garden."""

    said: Callable[[Garden], str]
    state: str = ""
    """Of the row in every journal, "" for none."""
    more: str = ""
    """What only the journal adds."""
    key: str = ""
    """Known by this, it is not told again after a kill that came before it was let go."""
    trouble: str = ""
    """The occasion of the notice, "" for none."""
    mark: str = ""
    """Tells the notice from another of that occasion and date."""
    told_on: tuple[str, ...] | None = None
    """Names of the channels that get it, None for all."""

    def put_on_disk(
        self, store: Store, channels: Sequence[Channel], gardens: Sequence[Garden], now: datetime
    ) -> None:
        """Write the rows and queue the notice, in one transaction."""
        if not gardens or (self.key and self._is_known(store, gardens[0])):
            return
        with store.together():
            if self.state:
                store.write([self._entry(garden, now) for garden in gardens])
            if self.trouble:
                garden, ends = gardens[0], now + timedelta(days=USEFUL_D)
                on, said = _date(garden, now), (self.said(garden),)
                notice = trouble_notice(garden, on, self.trouble, said, now, ends)
                notice = replace(notice, occasion=f"{self.trouble} {self.mark}".rstrip())
                told = [
                    channel
                    for channel in channels
                    if self.told_on is None or channel.name in self.told_on
                ]
                store.enqueue(queue(notice, told, now, store.secret))

    def _is_known(self, store: Store, garden: Garden) -> bool:
        rows = (row for row in store.journal(garden.name) if row.state == self.state)
        return any(row.data.get(_KEY) == self.key for row in rows)

    def _entry(self, garden: Garden, now: datetime) -> JournalEntry:
        text = f"{self.said(garden)} {self.more}".rstrip()
        data = {_KEY: self.key} if self.key else {}
        return JournalEntry(
            now, garden.name, _date(garden, now), EntryKind.SERVICE,
            state=self.state, text=text, data=data,
        )  # fmt: skip


def store_mended(incident: Incident) -> News:
    """Return what the store suffered; two incidents of one day are two notices."""
    mark = hashlib.sha256(incident.key.encode()).hexdigest()[:16]
    return News(lambda _: incident.text, STORE_MENDED, key=incident.key, trouble="store", mark=mark)


def store_takes_again(
    since: datetime, until: datetime, sentence: str, told_on: tuple[str, ...]
) -> News:
    """Return that the store took nothing for a while; those who had an alarm are told."""

    def said(garden: Garden) -> str:
        first, last = _moments(garden, since, until)
        return tongue_of(garden).say("incident.store", first=first, last=last)

    mark = since.isoformat()
    return News(said, STORE_REFUSED, sentence, trouble="disk back", mark=mark, told_on=told_on)


def copy_failed(why: str) -> News:
    """Return that the store could not be copied; told once a local date, the key sees to it."""
    return News(lambda _: why, trouble="copy")


def clock_moved(before: datetime, after: datetime) -> News:
    """Return that the clock jumped."""

    def said(garden: Garden) -> str:
        first, last = _moments(garden, before, after)
        forward = after > before
        return tongue_of(garden).say("incident.clock", first=first, last=last, forward=forward)

    return News(said, CLOCK_MOVED)


def _moments(garden: Garden, first: datetime, last: datetime) -> Iterator[str]:
    """Yield two moments on the garden's clock, the second without its date where it is the same."""
    voice = Voice.of(garden, last.date())
    before = None
    for local in map(voice.local, (first, last)):
        on, clock = local.date(), voice.clock(local)
        same, before = on == before, on
        yield clock if same else voice.say("terminal.when", date=voice.day(on), clock=clock)


def _date(garden: Garden, now: datetime) -> date:
    return local_date(now, zone_of(garden.place.time_zone))
