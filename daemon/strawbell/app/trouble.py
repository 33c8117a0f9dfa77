"""What goes wrong beside the bales ends in somebody being told: through the store, else past it.

A message that failed is told elsewhere at once, and in the next brief. What happened to the daemon
itself, a store that was mended or a clock that jumped, is put on disk at once or not at all: a row
in every journal, since the store is one for all gardens, and one notice for each recipient, in the
name of the first.

All of it is on disk before it is sent, since what cannot be recorded would come again and again.
Word that the disk is full cannot be on disk. It alone goes out past the store, once for each
channel and local date, with the day's work where the morning could not be recorded; what keeps it
from coming again is in memory, so a process that starts anew on a full disk says it anew.

Decided 2026-11-25: What was told only in a brief that reached nobody is told again in the next.

Decided 2026-11-26: A store that takes nothing is told past the store, from memory: once for each
trouble, channel and local date, and with the work of a morning that could not be recorded, since
that morning may never be told otherwise. This is the only thing sent that is not on disk first. It
says that the morning may come a second time and that nothing is done twice.

Decided 2026-11-26: A trouble of the store is over when the record of it is written, not when work
gets through: work also gets through when there is nothing left to write.

Decided 2026-11-26: A daemon that cannot open its store for now waits for it, as `run` only, and
tells the grower that it waits: a row of starts could not remember that somebody was told. What no
waiting mends ends the start with code 2.
"""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import TypeVar

from msgspec import Struct, field
from msgspec.structs import replace

from strawbell.app.outbox import SETTINGS_RETRY_MIN, DeliveryRun, Sender, key_elsewhere, queue
from strawbell.app.ports import Channel, Incident, Manager, Store
from strawbell.app.word import tongue_of
from strawbell.errors import OperationalError, Outlook
from strawbell.model.brief import Brief
from strawbell.model.garden import Garden
from strawbell.model.identity import StoreSecret
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import Notice, NoticeKind, OutboxRow, OutboxState, Outcome, Useful
from strawbell.season.local_time import DAY, moment_of
from strawbell.words.catalogue import BRITISH
from strawbell.words.notices import trouble_notice, undelivered_notice, unrecorded_morning_notice
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
                garden, useful = gardens[0], Useful(now, now + timedelta(days=USEFUL_D))
                on, said = garden.place.date_at(now), (self.said(garden),)
                notice = trouble_notice(garden, on, self.trouble, said, useful)
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
            now, garden.name, garden.place.date_at(now), EntryKind.SERVICE,
            state=self.state, text=text, data=data,
        )  # fmt: skip


def store_mended(incident: Incident) -> News:
    """Return what the store suffered; two incidents of one day are two notices."""
    mark = _digest(incident.key)
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


TROUBLED_BEAT_S = 15.0
"""How often what the store refused is tried again [s]: with two tries and the sending, what waited
is under way well within a minute after the disk works again."""

LASTS_S = 10.0
"""Work that is refused for so long is a trouble to tell of [s]; what is shorter is a lock that
somebody held for a moment."""

ALARM_AGAIN_S = 3600.0
"""Wait after an alarm that did not get through [s]: a server that is down is not called at every
beat of a daemon that cannot note when to call again."""

ALARM = "disk"
"""Occasion of a notice that the store takes nothing."""
ALARM_WITH_WORK = "disk morning"
"""Occasion of the same with the work of a morning that could not be recorded."""
ALARM_AT_START = "disk at start"
"""Occasion of a notice that the daemon cannot begin."""
START = "start"
"""The work of opening the store."""

T = TypeVar("T")

_BARE = {ALARM, ALARM_AT_START}
_PROOF = "proof"
"""The work of recording that the store takes everything again."""


class StoreTrouble(Struct):
    """What the store refuses, since when, and who was told; used by every thread."""

    _guard: threading.Lock = field(default_factory=threading.Lock)
    _refused_s: dict[str, float] = field(default_factory=dict)
    """Since when each piece of work is refused, on the monotonic clock [s]."""
    _since: datetime | None = None
    _sentences: list[str] = field(default_factory=list)
    _lasting: str | None = None
    _told_on: list[str] = field(default_factory=list)
    _told: set[tuple[str, str, str, date]] = field(default_factory=set)
    _again_s: dict[str, float] = field(default_factory=dict)

    @property
    def stands(self) -> bool:
        """Return whether anything is refused now."""
        return self._since is not None

    @property
    def lasting(self) -> str | None:
        """Return what a trouble says that is worth an alarm, None when there is none."""
        return self._lasting

    def refused(self, work: str, sentence: str, now: datetime, monotonic_s: float) -> bool:
        """Note that the store refused some work; return whether this sentence is new."""
        with self._guard:
            self._since = self._since or now
            since_s = self._refused_s.setdefault(work, monotonic_s)
            if self._lasting is None and monotonic_s - since_s >= LASTS_S:
                self._lasting = sentence
            is_new = sentence not in self._sentences
            if is_new:
                self._sentences.append(sentence)
            return is_new

    def took(self, work: str) -> bool:
        """Note that some work got through; return whether its record has to prove it now.

        Work may get through because there is nothing left to write. So a trouble that was worth
        an alarm is over once the record of it is written, with `close`; a shorter one at once.
        """
        with self._guard:
            was_refused = self._refused_s.pop(work, None) is not None
            if not was_refused or self._refused_s:
                return False
            if self._lasting is None:
                self._end()
                return False
            self._refused_s[_PROOF] = float("inf")
            return True

    def over(self, now: datetime) -> News | None:
        """Return that the trouble is over, as it is to be recorded; None when there is none."""
        with self._guard:
            if self._since is None:
                return None
            told_on = tuple(self._told_on)
            return store_takes_again(self._since, now, self._lasting or "", told_on)

    def close(self) -> None:
        """Note that the store has taken the record of the trouble."""
        with self._guard:
            self._end()

    def _end(self) -> None:
        self._since, self._lasting = None, None
        for what in (self._refused_s, self._sentences, self._told_on, self._again_s):
            what.clear()

    def owed(
        self, channel: str, notices: Sequence[Notice], monotonic_s: float
    ) -> tuple[Notice, ...]:
        """Return which of the notices a channel still has to be given.

        One that only says what is wrong comes once a trouble; one with the day's work always.
        """
        with self._guard:
            if monotonic_s < self._again_s.get(channel, float("-inf")):
                return ()
            return tuple(
                notice
                for notice in notices
                if _mark(channel, notice) not in self._told
                and not (notice.occasion in _BARE and channel in self._told_on)
            )

    def told(self, channel: str, notice: Notice) -> None:
        """Note that a channel took an alarm."""
        with self._guard:
            self._told.add(_mark(channel, notice))
            if channel not in self._told_on:
                self._told_on.append(channel)

    def failed(self, channel: str, monotonic_s: float) -> None:
        """Note that an alarm did not get through a channel."""
        with self._guard:
            self._again_s[channel] = monotonic_s + ALARM_AGAIN_S


def alarms(
    gardens: Sequence[Garden], unrecorded: Mapping[str, Brief], sentence: str, now: datetime
) -> tuple[Notice, ...]:
    """Return what is to be told past the store.

    These are the mornings of this local date that could not be recorded (`unrecorded`, by
    garden); without any, one notice that the store takes nothing.
    """
    mornings = [
        unrecorded_morning_notice(garden, today, ALARM_WITH_WORK, sentence, _today(garden, now))
        for garden in gardens
        if (today := unrecorded.get(garden.name)) is not None
        and today.on == garden.place.date_at(now)
    ]
    return tuple(mornings) or _bare(gardens, ALARM, sentence, now)


def _bare(
    gardens: Sequence[Garden], occasion: str, sentence: str, now: datetime
) -> tuple[Notice, ...]:
    """Return one notice, in the name of the first garden: the store is one."""
    return tuple(
        trouble_notice(each, each.place.date_at(now), occasion, (sentence,), _today(each, now))
        for each in gardens[:1]
    )


def send_unrecorded(
    channel: Channel,
    notices: Sequence[Notice],
    trouble: StoreTrouble,
    sender: Sender,
    secret: StoreSecret,
) -> bool:
    """Give a channel what it is owed, with nothing on disk; return whether all was accepted.

    The outbox keeps from the channel meanwhile. One that rests, since its settings need the
    grower, is left in peace. `secret` is the store's, or where it could not be opened a new one.
    """
    clock = sender.clock
    if sender.memory.rests(channel.name, clock.monotonic()):
        return False
    with sender.memory.claim(channel) as is_ours:
        for notice in trouble.owed(channel.name, notices, clock.monotonic()) if is_ours else ():
            rows = queue(notice, (channel,), clock.now(), secret)
            # Everybody is tried; one who has it is reason enough not to try all again every hour.
            if any([_is_accepted(channel, row) for row in rows]):  # noqa: C419 - all of them
                trouble.told(channel.name, notice)
            else:
                trouble.failed(channel.name, clock.monotonic())
                return False
        return is_ours


def _is_accepted(channel: Channel, row: OutboxRow) -> bool:
    try:
        outcome = channel.send(row).outcome
    except Exception:
        # A defect of one channel must not cost another its alarm.
        return False
    # What may have arrived has: nobody could keep a double from coming again and again.
    return outcome in {Outcome.ACCEPTED, Outcome.UNKNOWN}


def open_patiently(
    open_store: Callable[[datetime], T],
    channels: Sequence[Channel],
    gardens: Sequence[Garden],
    trouble: StoreTrouble,
    sender: Sender,
    manager: Manager,
    report: Callable[[str], object],
    sleep: Callable[[float], object],
    secret: StoreSecret,
) -> T:
    """Return the open store, however long it takes; a trouble that was met stays in `trouble`.

    `secret` is for the alarms, as that of the store cannot be read.
    Raises what no waiting mends: `strawbell.errors.GrowerError`, and an `OperationalError` whose
    outlook is not for now.
    """
    clock, watched_s = sender.clock, manager.watchdog_interval_s
    while True:
        try:
            return open_store(clock.now())
        except OperationalError as error:
            if error.outlook is not Outlook.FOR_NOW:
                raise
            if trouble.refused(START, str(error), clock.now(), clock.monotonic()):
                report(BRITISH.say("daemon.tried-again", error=str(error), seconds=TROUBLED_BEAT_S))
        # The process is up, and does what it can.
        manager.ready(BRITISH.say("daemon.waits"))
        manager.watchdog()
        for channel in channels:
            _sound(channel, gardens, trouble, sender, secret)
        sleep(TROUBLED_BEAT_S if watched_s is None else min(TROUBLED_BEAT_S, watched_s))


def _sound(
    channel: Channel,
    gardens: Sequence[Garden],
    trouble: StoreTrouble,
    sender: Sender,
    secret: StoreSecret,
) -> None:
    """Tell on one channel, in a thread of its own: a server that hangs must not keep the rest."""
    sentence = trouble.lasting
    if sentence is None:
        return
    notices = _bare(gardens, ALARM_AT_START, sentence, sender.clock.now())
    if trouble.owed(channel.name, notices, sender.clock.monotonic()):
        threading.Thread(
            target=send_unrecorded,
            args=(channel, notices, trouble, sender, secret),
            name=f"alarm-{channel.name}",
            daemon=True,
        ).start()


def _mark(channel: str, notice: Notice) -> tuple[str, str, str, date]:
    return channel, notice.garden, notice.occasion, notice.local_date


def _today(garden: Garden, now: datetime) -> Useful:
    """Return now to the end of the garden's date."""
    place = garden.place
    return Useful(now, moment_of(place.date_at(now) + DAY, time(0), place.zone))


TROUBLE_USEFUL = timedelta(hours=24)
"""How long a notice about a failed message is worth sending; the next brief says it again."""

LOOK_BACK_D = 14
"""How far before a brief that reached nobody its own news are looked for [day]: a fortnight of
briefs that all failed says more than any list."""

_ARRIVED = OutboxState.ACCEPTED
_FAILED = {OutboxState.FOR_GOOD, OutboxState.EXPIRED}


def failure_sentence(row: OutboxRow) -> str:
    """Return one sentence on what did not reach whom, and why."""
    return BRITISH.say(
        "failure.line",
        subject=row.subject,
        day=BRITISH.day(row.local_date),
        way=row.channel,
        whom=None if row.recipient == row.channel else row.recipient,
        detail=row.detail,
    )


def failures_for_brief(
    store: Store, garden: str, unsurfaced: Sequence[OutboxRow]
) -> tuple[OutboxRow, ...]:
    """Return the failed messages that the next brief of a garden has to tell of.

    These are the ones nobody was told of yet. Where a brief itself is among them, and reached
    nobody, what was told in it is told again: all that failed since the last brief that arrived.
    """
    briefs = [row for row in unsurfaced if row.kind is NoticeKind.MORNING]
    if not briefs:
        return tuple(unsurfaced)
    since = min(row.local_date for row in briefs) - timedelta(days=LOOK_BACK_D)
    rows = store.outbox(garden, since)
    arrived = [row for row in rows if row.kind is NoticeKind.MORNING and row.state is _ARRIVED]
    last = max((row.created_at for row in arrived), default=None)
    if last is not None and last >= max(row.created_at for row in briefs):
        return tuple(unsurfaced)
    waiting = {row.unique_key for row in unsurfaced}
    again = [
        row
        for row in rows
        # The last attempt of a row that is at its end is the moment it failed.
        if row.state in _FAILED and (last is None or row.next_attempt_at > last)
        if row.unique_key not in waiting
    ]
    return (*unsurfaced, *again)


def report_failures(
    store: Store, channels: Sequence[Channel], now: datetime, spare: Channel | None = None
) -> tuple[OutboxRow, ...]:
    """Queue a notice about failed messages on the channels that did not fail.

    Where all failed, the notice goes to the `spare` one, and the messages themselves too. Returns
    the rows that are told of now for the first time. They stay unmarked for the next brief, which
    says it again: a desktop notice is soon gone. The key sees to it that the same failures are
    told once until then. Failed notices about failures are for the brief alone; they would
    otherwise breed.
    """
    told: list[OutboxRow] = []
    rows = [row for row in store.unsurfaced() if row.kind is not NoticeKind.TROUBLE]
    for garden in dict.fromkeys(row.garden for row in rows):
        failed = [row for row in rows if row.garden == garden]
        others = _others(channels, {row.channel for row in failed}, spare)
        if not others:
            continue
        if spare is not None and spare in others:
            store.enqueue([_copy(row, spare, now) for row in failed])
        said = [failure_sentence(row) for row in failed]
        occasion = f"failed {_digest(chr(10).join(sorted(row.unique_key for row in failed)))}"
        heading, useful = BRITISH.say("failure.head"), Useful(now, now + TROUBLE_USEFUL)
        notice = undelivered_notice(failed[-1], occasion, heading, said, useful)
        if store.enqueue(queue(notice, others, now, store.secret)):
            told += failed
    return tuple(told)


def report_settings(
    store: Store,
    channels: Sequence[Channel],
    run: DeliveryRun,
    now: datetime,
    spare: Channel | None = None,
) -> int:
    """Queue a notice about refusals that the grower can mend; return how many rows are new.

    Once a garden, channel and local date, however often the refusal comes: the key sees to it.
    Where there is no other channel, what waits goes to the `spare` one as well.
    """
    new = 0
    seen: set[tuple[str, str]] = set()
    for result in run.settings_problems:
        row = result.row
        if (row.garden, row.channel) in seen or row.kind is NoticeKind.TROUBLE:
            continue
        seen.add((row.garden, row.channel))
        others = _others(channels, {row.channel}, spare)
        if spare is not None and spare in others:
            # They are tried again within the hour; the copies are there meanwhile.
            waiting = store.due(now + timedelta(minutes=SETTINGS_RETRY_MIN), (row.channel,))
            new += store.enqueue([_copy(each, spare, now) for each in waiting])
        said = BRITISH.say("failure.settings", way=row.channel, detail=result.detail)
        heading = BRITISH.say("failure.settings-head", way=row.channel)
        occasion, useful = f"settings {row.channel}", Useful(now, now + TROUBLE_USEFUL)
        notice = undelivered_notice(row, occasion, heading, (said,), useful)
        new += store.enqueue(queue(notice, others, now, store.secret))
    return new


def _others(channels: Sequence[Channel], failed: set[str], spare: Channel | None) -> list[Channel]:
    """Return the channels that did not fail, else the spare one."""
    others = [channel for channel in channels if channel.name not in failed]
    if not others and spare is not None and spare.name not in failed:
        return [spare]
    return others


def _copy(row: OutboxRow, spare: Channel, now: datetime) -> OutboxRow:
    """Return a message as one more for the spare channel, with the same bytes."""
    (recipient,) = spare.recipients
    return replace(
        row,
        unique_key=key_elsewhere(row.unique_key, spare.name, recipient),
        channel=spare.name,
        recipient=recipient,
        state=OutboxState.DUE,
        attempts=0,
        next_attempt_at=now,
        expires_at=max(row.expires_at, now + TROUBLE_USEFUL),
        detail="",
        surfaced=False,
    )


def _digest(text: str) -> str:
    """Return what tells one text from another in a key."""
    return hashlib.sha256(text.encode()).hexdigest()[:16]
