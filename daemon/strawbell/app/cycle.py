"""One garden, one moment: what is due is decided, worded and put on disk in one transaction.

Nothing is sent here. A decision and its notices are committed together, so that a crash leaves
either both or none; the outbox sends what is on disk.

Decided 2026-11-25: A watch decides today alone; only when it finds a change the whole brief is
made.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, time, timedelta
from itertools import islice

from msgspec import Struct, field, to_builtins

from strawbell.app.calendar_keeper import CalendarKeeper
from strawbell.app.cells import ForecastFor, in_order_of_cells, shared
from strawbell.app.identity import Settled, settled_in
from strawbell.app.kept_indexes import KeptIndexes
from strawbell.app.meant import tongue_of
from strawbell.app.neighbours import Neighbours
from strawbell.app.outbox import queue, queue_together
from strawbell.app.ports import Calendars, Channel, Store
from strawbell.app.surfacing import failure_sentence, failures_for_brief
from strawbell.decision.brief import brief
from strawbell.decision.journal_rows import (
    Changes,
    change_entries,
    changes_since,
    told_entries,
    weather_entries,
)
from strawbell.decision.routine import spoken
from strawbell.decision.shopping import needed_soon
from strawbell.errors import OperationalError
from strawbell.model.brief import Brief
from strawbell.model.forecast import Forecast, ForecastStatus
from strawbell.model.garden import Garden
from strawbell.model.household import APART, BY_MAIL, Helper, Household
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import Notice, OutboxRow
from strawbell.season.due_times import Due, Occasion, due, next_look
from strawbell.season.evening import evening
from strawbell.season.journal_index import OUTAGE_BEGAN, OUTAGE_ENDED, JournalIndex
from strawbell.season.local_time import DAY, local_date, moment_of, zone_of
from strawbell.words.asking import away_said, told_back
from strawbell.words.json_v1 import brief_json
from strawbell.words.notices import (
    all_clear_notice,
    change_notice,
    evening_notice,
    helper_notice,
    morning_notice,
    trouble_notice,
)
from strawbell.words.shopping import supply_sentence

TROUBLE_KEPT = timedelta(days=3)
"""How long word of a trouble stays useful."""
MOST_TOGETHER = 8
"""Gardens that share a mail at most: more is no mail for a phone."""
MOST_REFUSALS = 3
"""Gardens that the store may refuse in one tick before the rest wait: each may cost the wait for
a lock."""


class Told(Struct, frozen=True):
    """What one garden was told in one tick."""

    garden: str
    on: date
    occasions: tuple[Occasion, ...]
    notices: tuple[Notice, ...]
    complaints: tuple[str, ...] = ()


class _Look(Struct, frozen=True):
    """One look at one garden: what was seen, and the brief that came of it."""

    garden: Garden
    index: JournalIndex
    forecast: Forecast | None
    complaints: tuple[str, ...]
    today: Brief
    """Whole, but for a watch that finds nothing."""
    now: datetime

    def whole(self) -> Brief:
        """Return the whole brief, for a notice that came of a watch."""
        return brief(self.garden, self.index, self.forecast, self.now)


class _Writing(Struct):
    """What a tick of one garden will commit, all of it or none."""

    entries: list[JournalEntry] = field(default_factory=list)
    rows: list[OutboxRow] = field(default_factory=list)
    surfaced: list[str] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    mornings: list[Notice] = field(default_factory=list)
    """What may share a mail with other gardens, and so is not in `rows` yet."""
    helpers: list[tuple[Helper, Notice]] = field(default_factory=list)
    """What helpers are told, the same way."""
    changes: Changes = field(default_factory=Changes)
    """What the watch of this look has told."""


class _Decided(Struct):
    """What came of one garden in a tick, before it is on disk."""

    garden: Garden
    what: Due
    writing: _Writing
    forecast: Forecast | None
    complaints: tuple[str, ...]


class Cycle:
    """Looks at every garden whenever it is asked to; asking twice changes nothing."""

    def __init__(
        self,
        gardens: Sequence[Garden],
        store: Store,
        channels: Sequence[Channel],
        forecast_for: ForecastFor,
        calendars: Calendars | None = None,
        household: Household = APART,
        build: str | None = None,
    ) -> None:
        """Keep the parts; nothing is read or fetched yet.

        `build` names the program, for what one build lays by and another must not take up.
        """
        self._household = household
        self.gardens = tuple(gardens)
        self._store = store
        self._channels = tuple(channels)
        self._calendar = CalendarKeeper(calendars)
        self._forecast_for = shared(forecast_for)
        self._in_order = sorted(gardens, key=lambda garden: in_order_of_cells(garden.place))
        self._last_watch: dict[str, datetime] = {}
        self._looked: dict[str, tuple[datetime, datetime]] = {}
        self._neighbours = Neighbours()
        self._indexes = KeptIndexes(store, build)
        self._failed: dict[str, list[OutboxRow]] | None = None
        """Failed messages by garden, read once a tick and only when a morning is told."""
        self._is_which: Settled | None = None
        """What is which, read once a tick and only when a morning is told."""
        self._one_at_a_time = threading.Lock()
        self.unrecorded: dict[str, Brief] = {}
        """Mornings by garden that were decided and that the store did not take."""

    def due(self, now: datetime) -> bool:
        """Return whether anything can be due at `now`; costs no look at the disk."""
        return any(self._is_time(garden, now) for garden in self.gardens)

    def tick(self, now: datetime) -> tuple[Told, ...]:
        """Do what is due at `now` (aware) for every garden; return what was told."""
        return tuple(self.tell(now))

    def tell(self, now: datetime) -> Iterator[Told]:
        """Do the same garden by garden while the caller takes them, so that none is kept.

        A garden that the store refuses costs the next ones nothing; after a few of them the
        store is given up. Raises the first refusal, `strawbell.errors.OperationalError`.
        """
        refusals: list[OperationalError] = []
        with self._one_at_a_time:
            self._failed = self._is_which = None
            size = MOST_TOGETHER if self._household.merge else 1
            due = (garden for garden in self._in_order if self._is_time(garden, now))
            while len(refusals) < MOST_REFUSALS and (group := list(islice(due, size))):
                decided: list[_Decided] = []
                try:
                    for garden in group:
                        try:
                            found = self._decide(garden, now)
                        except OperationalError as error:
                            refusals.append(error)
                            continue
                        if found is not None:
                            decided.append(found)
                    self._commit(decided, now)
                    told = [self._committed(each, now) for each in decided]
                except OperationalError as error:
                    refusals.append(error)
                    continue
                yield from told
        if refusals:
            raise refusals[0]

    def _is_time(self, garden: Garden, now: datetime) -> bool:
        """Return whether a garden has to be looked at; a clock put back is looked at too."""
        looked, next_time = self._looked.get(garden.name, (now, now))
        return now >= next_time or now < looked

    def _decide(self, garden: Garden, now: datetime) -> _Decided | None:
        """Return what a garden is told, None where nothing is due; hardly anything is written."""
        index = self._indexes.of(garden)
        what = due(garden, index, now, self._last_watch.get(garden.name))
        if not what.occasions and not what.too_late:
            self._remember_look(garden, index, now)
            return None
        writing = _Writing(entries=[*_excuses(garden, what, now), *_away(garden, index, now)])
        if writing.entries and any(row.kind is EntryKind.AWAY for row in writing.entries):
            # What is told in this very look is told to nobody who is there.
            self._store.write([row for row in writing.entries if row.kind is EntryKind.AWAY])
            writing.entries = [row for row in writing.entries if row.kind is not EntryKind.AWAY]
            index = self._indexes.of(garden)
        forecast: Forecast | None = None
        complaints: tuple[str, ...] = ()
        if what.occasions:
            forecast, complaints = self._forecast_for(garden.place, now)
            whole = what.occasions != (Occasion.WATCH,)
            today = self._neighbours.brief(garden, index, forecast, now, whole=whole)
            look = _Look(garden, index, forecast, complaints, today, now)
            if Occasion.MORNING in what.occasions and worth_telling(today):
                # Until it is committed, which a disk may refuse.
                self.unrecorded[garden.name] = today
            for occasion in what.occasions:
                _DOES[occasion](self, look, writing)
            self._note_outage(look, writing)
        return _Decided(garden, what, writing, forecast, complaints)

    def _commit(self, decided: Sequence[_Decided], now: datetime) -> None:
        """Put all of it on disk, or none: gardens that share a mail belong together."""
        mornings = [notice for each in decided for notice in each.writing.mornings]
        secret = self._store.secret
        rows = [row for each in decided for row in each.writing.rows]
        rows += queue_together(mornings, self._channels, now, secret)
        told = [pair for each in decided for pair in each.writing.helpers]
        by_mail = [channel for channel in self._channels if channel.name == BY_MAIL]
        for helper in dict.fromkeys(helper for helper, _ in told):
            notices = [notice for other, notice in told if other == helper]
            rows += queue_together(notices, by_mail, now, secret, helper.address)
        with self._store.together():
            for each in decided:
                self._store.write(each.writing.entries)
                self._store.mark_surfaced(each.writing.surfaced)
            self._store.enqueue(rows)
            for each in decided:
                if Occasion.MORNING in each.what.occasions:
                    self._indexes.lay_by(each.garden)

    def _committed(self, decided: _Decided, now: datetime) -> Told:
        """Remember what is on disk now, and return what was told."""
        garden, what, complaints = decided.garden, decided.what, decided.complaints
        self.unrecorded.pop(garden.name, None)
        self._last_watch[garden.name] = now
        index = self._indexes.of(garden)
        self._remember_look(garden, index, now)
        if what.occasions:
            row = self._indexes.last_row(garden.name)
            complaints += self._calendar.keep(garden, index, row, decided.forecast, now)
        notices = tuple(decided.writing.notices)
        return Told(garden.name, what.on, what.occasions, notices, complaints)

    def _remember_look(self, garden: Garden, index: JournalIndex, now: datetime) -> None:
        last_watch = self._last_watch.get(garden.name, now)
        self._looked[garden.name] = (now, next_look(garden, index, now, last_watch))

    def _morning(self, look: _Look, writing: _Writing) -> None:
        garden, today, now = look.garden, look.today, look.now
        zone = zone_of(garden.place.time_zone)
        writing.entries += weather_entries(today, zone, look.forecast, now)
        told = spoken(today, garden, look.index)
        today = told.brief
        data = brief_json(today, garden)
        if told.week is not None:
            data["week"] = to_builtins(told.week)
        writing.entries += told_entries(today, now, data)
        failed = failures_for_brief(self._store, garden.name, self._failed_of(garden))
        asked = self._asked_in(garden, now)
        is_due = worth_telling(today) and not told.is_silent
        if not (is_due or failed or asked or look.index.heard):
            return
        expires_at = moment_of(today.on, garden.times.give_up, zone)
        troubles = tuple(failure_sentence(row) for row in failed)
        writing.surfaced += [row.unique_key for row in failed]
        helpers = [each for each in self._household.helpers if each.looks_after(garden.name)]
        away = away_said(look.index.away, today, tongue_of(garden), helpers)
        heard = " ".join(
            filter(None, (told_back(look.index.heard, look.index.amounts, garden, today), away))
        )
        is_away = look.index.away_on(today.on) is not None
        notice = morning_notice(
            today,
            garden,
            now,
            expires_at,
            troubles,
            asked,
            heard,
            look.index.explained(today.on),
            is_away=is_away,
            week=told.week,
        )
        writing.notices.append(notice)
        writing.mornings.append(notice)
        for helper in self._household.helpers:
            if helper.is_told(garden.name, is_away=is_away):
                is_new = helper.only_while_away and today.on in look.index.away
                explained = {} if is_new else look.index.explained(today.on)
                said = helper_notice(today, garden, helper, now, expires_at, explained)
                writing.helpers += [] if said is None else [(helper, said)]

    def _asked_in(self, garden: Garden, now: datetime) -> tuple[str, ...]:
        """Return what is asked in a brief about things that the configuration lost."""
        if self._is_which is None:
            self._is_which = settled_in(self._store, self.gardens, now)
        return self._is_which.questions(garden.name)

    def _failed_of(self, garden: Garden) -> list[OutboxRow]:
        """Return the messages of a garden that failed and that nobody was told of yet."""
        if self._failed is None:
            self._failed = {}
            for row in self._store.unsurfaced():
                self._failed.setdefault(row.garden, []).append(row)
        return self._failed.get(garden.name, [])

    def _evening(self, look: _Look, writing: _Writing) -> None:
        garden, today, now = look.garden, look.today, look.now
        writing.entries.append(_entry(garden, today.on, EntryKind.EVENING, now))
        if today.on not in look.index.briefed:
            return  # The morning is told in this very look, and says it all.
        note = evening(today, look.index)
        protect = tuple(each for each in note.protect if not writing.changes.cover(each))
        needed = needed_soon(garden, look.index, look.forecast, now, today)
        soon = tuple(supply_sentence(need, garden, today.on) for need in needed)
        if protect or note.prepare or soon:
            ends = _end_of(today.on, garden)
            notice = evening_notice(today, garden, protect, note.prepare, now, ends, soon)
            self._say(notice, now, writing)

    def _watch(self, look: _Look, writing: _Writing) -> None:
        today, now = look.today, look.now
        changes = changes_since(today, look.index)
        if not changes:
            return
        writing.changes = changes
        writing.entries += change_entries(today, changes, now)
        notice = change_notice(
            look.whole(),
            look.garden,
            changes.tasks,
            changes.alerts,
            changes.passed,
            occasion=today.as_of.strftime("%H:%M"),
            created_at=now,
            expires_at=_end_of(today.on, look.garden),
        )
        self._say(notice, now, writing)

    def _note_outage(self, look: _Look, writing: _Writing) -> None:
        """Write down when forecasts stop and come back: one warning, one all-clear."""
        garden, today, now = look.garden, look.today, look.now
        out = today.forecast.status is not ForecastStatus.FRESH
        was_out = look.index.in_outage
        if out and not was_out:
            text = " ".join(look.complaints)
            writing.entries.append(
                _entry(garden, today.on, EntryKind.SERVICE, now, OUTAGE_BEGAN, text)
            )
            # A morning that is told in the same look says it itself.
            if today.on in look.index.briefed and worth_telling(today):
                notice = trouble_notice(
                    garden, today.on, "forecast", look.complaints, now, now + TROUBLE_KEPT
                )
                self._say(notice, now, writing)
        elif was_out and not out:
            writing.entries.append(_entry(garden, today.on, EntryKind.SERVICE, now, OUTAGE_ENDED))
            if worth_telling(today):
                ends = _end_of(today.on, garden)
                self._say(all_clear_notice(garden, look.whole(), now, ends), now, writing)

    def _say(self, notice: Notice, now: datetime, writing: _Writing) -> None:
        writing.notices.append(notice)
        writing.rows += queue(notice, self._channels, now, self._store.secret)


_Do = Callable[[Cycle, _Look, _Writing], None]
_DOES: dict[Occasion, _Do] = {
    Occasion.MORNING: Cycle._morning,
    Occasion.EVENING: Cycle._evening,
    Occasion.WATCH: Cycle._watch,
}


def worth_telling(today: Brief) -> bool:
    """Return whether a brief has anything in it; an empty garden is left in peace."""
    prepare = any(each.steps for each in today.preparing)
    asks = today.questions or today.crowding
    return bool(today.tasks or today.alerts or asks or prepare)


def _excuses(garden: Garden, what: Due, now: datetime) -> list[JournalEntry]:
    """Return the rows for dates on which nothing could be told."""
    reason = "Strawbell was not running, or could not tell it before the give-up hour."
    return [_entry(garden, on, EntryKind.NOT_TOLD, now, text=reason) for on in what.too_late]


def _away(garden: Garden, index: JournalIndex, now: datetime) -> list[JournalEntry]:
    """Return the rows for the configured times away that the journal does not know yet."""
    today = local_date(now, zone_of(garden.place.time_zone))
    return [
        _entry(garden, first, EntryKind.AWAY, now, text=last.isoformat())
        for first, last in garden.times.away
        if first not in index.away and last >= today
    ]


def _entry(
    garden: Garden,
    on: date,
    kind: EntryKind,
    now: datetime,
    state: str | None = None,
    text: str = "",
) -> JournalEntry:
    return JournalEntry(now, garden.name, on, kind, state=state, text=text)


def _end_of(on: date, garden: Garden) -> datetime:
    return moment_of(on + DAY, time(0), zone_of(garden.place.time_zone))
