"""The store takes nothing, or cannot be opened: that alone is told past it.

All else is on disk before it is sent, since what cannot be recorded would come again and again.
Word that the disk is full cannot be on disk. It goes out once for each channel and local date,
with the day's work where the morning could not be recorded; what keeps it from coming again is
in memory, so a process that starts anew on a full disk says it anew.

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

import threading
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, time
from typing import TypeVar

from msgspec import Struct, field

from strawbell.app.incidents import News, store_takes_again
from strawbell.app.outbox import Sender, queue
from strawbell.app.ports import Channel, Manager
from strawbell.errors import OperationalError, Outlook
from strawbell.model.brief import Brief
from strawbell.model.garden import Garden
from strawbell.model.notice import Notice, OutboxRow, Outcome
from strawbell.model.secret import StoreSecret
from strawbell.season.local_time import DAY, local_date, moment_of, zone_of
from strawbell.words.notices import trouble_notice, unrecorded_morning_notice

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

WAITING = "The store cannot be opened; Strawbell waits for it."
"""Status for the service manager."""
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
        unrecorded_morning_notice(garden, today, ALARM_WITH_WORK, sentence, now, _ends(garden, now))
        for garden in gardens
        if (today := unrecorded.get(garden.name)) is not None and today.on == _date(garden, now)
    ]
    return tuple(mornings) or _bare(gardens, ALARM, sentence, now)


def _bare(
    gardens: Sequence[Garden], occasion: str, sentence: str, now: datetime
) -> tuple[Notice, ...]:
    """Return one notice, in the name of the first garden: the store is one."""
    return tuple(
        trouble_notice(each, _date(each, now), occasion, (sentence,), now, _ends(each, now))
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
                report(f"{error} It is tried again every {TROUBLED_BEAT_S:.0f} s.")
        # The process is up, and does what it can.
        manager.ready(WAITING)
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


def _date(garden: Garden, now: datetime) -> date:
    return local_date(now, zone_of(garden.place.time_zone))


def _ends(garden: Garden, now: datetime) -> datetime:
    zone = zone_of(garden.place.time_zone)
    return moment_of(local_date(now, zone) + DAY, time(0), zone)
