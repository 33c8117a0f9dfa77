"""A morning and its answer: the stages that both go through, in one direction.

    answer     what came in is a word in the journal, and the look that follows sees it
    look       what is due for a garden, the state of its season, the forecast
    decide     the brief: pure
    word       what is said of it, and what the journal keeps: pure but for what failed before
    commit     decision and frozen messages on disk, in one transaction
    deliver    what is due on the outbox is sent; its fate is on disk right after
    report     what failed is told elsewhere

`Pipeline.stages` is that list. A run may be for ears, gardens or channels; a stage that it is not
for does nothing. Whatever a run leaves undone lies on disk, for a run of another thread or of
another process: nothing is sent that is not on disk, and going through it twice changes nothing.

Decided 2026-11-25: A watch decides today alone; only when it finds a change the whole brief is
made.

Decided 2026-11-29: Answers come first, since the look that follows has to see them: who runs this
program every quarter of an hour is not told of work that is done.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime
from itertools import islice

from msgspec import Struct, field

from strawbell.app.answering import Answering
from strawbell.app.identity import Settled, settled_in
from strawbell.app.looks import KeptIndexes, Neighbours, in_order_of_cells, shared
from strawbell.app.occasions import (
    Look,
    away_entries,
    evening,
    morning,
    outage,
    too_late_entries,
    watch,
    worth_telling,
)
from strawbell.app.outbox import DeliveryRun, Sender, queue, queue_together
from strawbell.app.ports import Calendars, Channel, Ear, ForecastFor, Store
from strawbell.app.trouble import failures_for_brief, report_failures, report_settings
from strawbell.decision.projection import season
from strawbell.errors import OperationalError
from strawbell.model.brief import Brief
from strawbell.model.configuration import APART, BY_MAIL, Household
from strawbell.model.garden import Garden, slug
from strawbell.model.notice import Notice, OutboxRow
from strawbell.season.due_times import Occasion, due, next_look
from strawbell.season.journal_index import JournalIndex

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


class Run(Struct):
    """One run through the stages: whom it is for, and what it has come to so far."""

    now: datetime
    ears: Sequence[Ear] = ()
    gardens: Sequence[Garden] = ()
    channels: Sequence[Channel] = ()
    heard: list[str] = field(default_factory=list)
    """Lines for the log on answers that came in."""
    looks: list[Look] = field(default_factory=list)
    """At the gardens for which something is due."""
    refusals: list[OperationalError] = field(default_factory=list)
    """What the store could not do; the garden it was for waits for the next run."""
    told: list[Told] = field(default_factory=list)
    deliveries: list[DeliveryRun] = field(default_factory=list)
    is_reported: bool = False
    """Whether something was queued on a failure just now."""


Stage = Callable[[Run], None]
"""Takes a run one step further."""


class Pipeline:
    """The gardens of a configuration, and all that a morning of theirs goes through."""

    def __init__(
        self,
        gardens: Sequence[Garden],
        store: Store,
        channels: Sequence[Channel],
        forecast_for: ForecastFor,
        sender: Sender,
        calendars: Calendars | None = None,
        household: Household = APART,
        build: str | None = None,
        ears: Sequence[Ear] = (),
        spare: Channel | None = None,
    ) -> None:
        """Keep the parts; nothing is read or fetched yet.

        `build` names the program: no build may go on from the checkpoint of another.
        `spare` takes what no other channel could deliver; it gets nothing else.
        """
        self.stages: tuple[Stage, ...] = (
            self.answer,
            self.look,
            self.decide,
            self.word,
            self.commit,
            self.deliver,
            self.report,
        )
        self.gardens, self.channels, self.sender = tuple(gardens), tuple(channels), sender
        self.ways = self.channels if spare is None else (*self.channels, spare)
        """Every channel that may have something to send."""
        self.answering = Answering(gardens, store, channels, spare, household.helpers, ears)
        self.unrecorded: dict[str, Brief] = {}
        """Mornings by garden that were decided and that the store did not take."""
        self._store, self._spare, self._household = store, spare, household
        self._calendars, self._forecast_for = calendars, shared(forecast_for)
        self._in_order = sorted(gardens, key=lambda garden: in_order_of_cells(garden.place))
        self._indexes, self._neighbours = KeptIndexes(store, build), Neighbours()
        self._last_watch: dict[str, datetime] = {}
        self._looked: dict[str, tuple[datetime, datetime]] = {}
        """When each garden was looked at, and when it has to be looked at next."""
        self._calendar_of_row: dict[str, int] = {}
        """Up to which row of the journal each calendar was written."""
        self._failed: dict[str, list[OutboxRow]] | None = None
        """Failed messages by garden, read once a tick and only when a morning is told."""
        self._is_which: Settled | None = None
        """What is which, read once a tick and only when a morning is told."""
        self._one_tick, self._one_report = threading.Lock(), threading.Lock()

    def through(self, run: Run) -> Run:
        """Take a run through all the stages."""
        for stage in self.stages:
            stage(run)
        return run

    def once(self, now: datetime, now_s: float) -> Iterator[Run]:
        """Go through the stages with all that is due, by the wall and the monotonic clock [s].

        What a channel fails with is told on the next; the spare one is the last.
        """
        for ear in self.answering.due(now_s):
            yield self.through(Run(now, ears=(ear,)))
        yield from self._ticked(now)
        for channel in self.ways:
            yield self.through(Run(now, channels=(channel,)))

    def due(self, now: datetime) -> bool:
        """Return whether anything can be due at `now`; costs no look at the disk."""
        return any(self._is_time(garden, now) for garden in self.gardens)

    def tick(self, now: datetime) -> tuple[Told, ...]:
        """Do what is due at `now` (aware) for every garden; return what was told."""
        return tuple(self.tell(now))

    def tell(self, now: datetime) -> Iterator[Told]:
        """Do the same garden by garden while the caller takes them, so that none is kept."""
        return (told for run in self._ticked(now) for told in run.told)

    def _ticked(self, now: datetime) -> Iterator[Run]:
        """Yield a run for every few gardens that are due.

        A garden that the store refuses costs the next ones nothing; after a few of them the
        store is given up. Raises the first refusal, `strawbell.errors.OperationalError`.
        """
        refusals: list[OperationalError] = []
        with self._one_tick:
            self._failed = self._is_which = None
            size = MOST_TOGETHER if self._household.merge else 1
            due = (garden for garden in self._in_order if self._is_time(garden, now))
            while len(refusals) < MOST_REFUSALS and (group := tuple(islice(due, size))):
                run = self.through(Run(now, gardens=group))
                refusals += run.refusals
                yield run
        if refusals:
            raise refusals[0]

    def _is_time(self, garden: Garden, now: datetime) -> bool:
        """Return whether a garden has to be looked at; a clock put back is looked at too."""
        looked, next_time = self._looked.get(garden.name, (now, now))
        return now >= next_time or now < looked

    def answer(self, run: Run) -> None:
        """Take what came in by each ear; what is said back to it waits in the outbox."""
        for ear in run.ears:
            now_s = self.sender.clock.monotonic()
            run.heard += self.answering.listen(ear, run.now, now_s)

    def look(self, run: Run) -> None:
        """See for which gardens something is due, in what state they are, and the forecast."""
        for garden in run.gardens:
            try:
                look = self._seen(garden, run.now)
            except OperationalError as error:
                run.refusals.append(error)
                continue
            if look is not None:
                run.looks.append(look)

    def _seen(self, garden: Garden, now: datetime) -> Look | None:
        """Return a look at a garden, None where nothing is due."""
        index = self._indexes.of(garden)
        what = due(garden, index, now, self._last_watch.get(garden.name))
        if not what.occasions and not what.too_late:
            self._remember_look(garden, index, now)
            return None
        if away := away_entries(garden, index, now):
            # What is told in this very look is told to nobody who is there.
            self._store.write(away)
            index = self._indexes.of(garden)
        forecast, complaints = (
            self._forecast_for(garden.place, now) if what.occasions else (None, ())
        )
        folds = self._indexes.folds(garden)
        return Look(garden, index, folds, what, now, forecast, complaints)

    def decide(self, run: Run) -> None:
        """Make the brief of each garden that is spoken to."""
        for look in run.looks:
            if look.what.occasions:
                whole = look.what.occasions != (Occasion.WATCH,)
                look.today = self._neighbours.brief(
                    look.garden,
                    look.index,
                    look.forecast,
                    run.now,
                    whole=whole,
                    folds=look.folds,
                )

    def word(self, run: Run) -> None:
        """Say what each garden is told on its occasions, and what the journal keeps of it."""
        for look in tuple(run.looks):
            try:
                self._worded(look)
            except OperationalError as error:
                run.refusals.append(error)
                run.looks.remove(look)

    def _worded(self, look: Look) -> None:
        look.entries += too_late_entries(look)
        today, garden, occasions = look.today, look.garden, look.what.occasions
        if today is None:
            return
        if Occasion.MORNING in occasions:
            if worth_telling(today):
                # Until it is committed, which a disk may refuse.
                self.unrecorded[garden.name] = today
            failed = failures_for_brief(self._store, garden.name, self._failed_of(garden))
            morning(look, today, failed, self._asked_in(look), self._household.helpers)
        if Occasion.WATCH in occasions:
            watch(look, today)
        if Occasion.EVENING in occasions:
            evening(look, today)
        outage(look, today)

    def _failed_of(self, garden: Garden) -> list[OutboxRow]:
        """Return the messages of a garden that failed and that nobody was told of yet."""
        if self._failed is None:
            self._failed = {}
            for row in self._store.unsurfaced():
                self._failed.setdefault(row.garden, []).append(row)
        return self._failed.get(garden.name, [])

    def _asked_in(self, look: Look) -> tuple[str, ...]:
        """Return what is asked in a brief about things that the configuration lost."""
        if self._is_which is None:
            self._is_which = settled_in(self._store, self.gardens, look.now)
        return self._is_which.questions(look.garden.name)

    def commit(self, run: Run) -> None:
        """Put all of it on disk, or none: gardens that share a mail belong together."""
        if not run.looks:
            return
        try:
            rows = self._frozen(run)
            with self._store.together():
                for look in run.looks:
                    self._store.write(look.entries)
                    self._store.mark_surfaced(look.surfaced)
                self._store.enqueue(rows)
                for look in run.looks:
                    if Occasion.MORNING in look.what.occasions:
                        self._indexes.save_checkpoint(look.garden)
            run.told += [self._told(look) for look in run.looks]
        except OperationalError as error:
            run.refusals.append(error)
        # A run of many gardens stays small without them.
        run.looks.clear()

    def _frozen(self, run: Run) -> list[OutboxRow]:
        """Return what is said in a run as it will be sent."""
        now, secret = run.now, self._store.secret
        rows: list[OutboxRow] = []
        for look in run.looks:
            for notice in look.notices:
                if notice is not look.morning:
                    rows += queue(notice, self.channels, now, secret)
        mornings = [look.morning for look in run.looks if look.morning is not None]
        rows += queue_together(mornings, self.channels, now, secret)
        by_mail = [channel for channel in self.channels if channel.name == BY_MAIL]
        told = [pair for look in run.looks for pair in look.helpers]
        for helper in dict.fromkeys(helper for helper, _ in told):
            notices = [notice for other, notice in told if other == helper]
            rows += queue_together(notices, by_mail, now, secret, helper.address)
        return rows

    def _told(self, look: Look) -> Told:
        """Remember what is on disk now, and return what was told."""
        garden, what, complaints = look.garden, look.what, look.complaints
        self.unrecorded.pop(garden.name, None)
        self._last_watch[garden.name] = look.now
        look.index = self._indexes.of(garden)
        self._remember_look(garden, look.index, look.now)
        if what.occasions:
            complaints += self._calendar_kept(look)
        return Told(garden.name, what.on, what.occasions, tuple(look.notices), complaints)

    def _remember_look(self, garden: Garden, index: JournalIndex, now: datetime) -> None:
        last_watch = self._last_watch.get(garden.name, now)
        self._looked[garden.name] = (now, next_look(garden, index, now, last_watch))

    def _calendar_kept(self, look: Look) -> tuple[str, ...]:
        """Write the calendar of a garden where its journal has grown since; return complaints.

        The same plan gives the same bytes, and then the file is left alone. What cannot be
        written now is tried again at the next look.
        """
        garden, row = look.garden, self._indexes.last_row(look.garden.name)
        if self._calendars is None or self._calendar_of_row.get(garden.name) == row:
            return ()
        # Here, not above: who keeps no calendar need not load how one is written.
        from strawbell.words.calendar import calendar_bytes

        name = slug(garden.name)
        try:
            before = self._calendars.read(name)
            days = season(garden, look.index, look.forecast, look.now)
            content = calendar_bytes(days, garden, before, look.now)
            if content != before:
                self._calendars.write(name, content)
        except OperationalError as error:
            return (str(error),)
        self._calendar_of_row[garden.name] = row
        return ()

    def deliver(self, run: Run) -> None:
        """Send what is due on each channel, and put on disk what became of it."""
        for channel in run.channels:
            run.deliveries.append(self.sender.deliver_due(self._store, channel))

    def report(self, run: Run) -> None:
        """See to it that a failure ends in somebody being told."""
        for delivery in run.deliveries:
            now = self.sender.clock.now()
            with self._one_report:
                told = report_failures(self._store, self.channels, now, self._spare)
                asked = report_settings(self._store, self.channels, delivery, now, self._spare)
            run.is_reported = run.is_reported or bool(told or asked)
