"""What a garden is told on each occasion, and what its journal keeps of it.

Everything goes into the look it came of; nothing is on disk yet. Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from msgspec import Struct, field, to_builtins

from strawbell.app.trouble import failure_sentence
from strawbell.app.word import tongue_of
from strawbell.decision.brief import brief
from strawbell.decision.projection import needed_soon
from strawbell.decision.telling import (
    Changes,
    change_entries,
    changes_since,
    spoken,
    told_entries,
    weather_entries,
)
from strawbell.model.brief import Brief
from strawbell.model.configuration import Helper
from strawbell.model.forecast import Forecast, ForecastStatus
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import Notice, OutboxRow, Useful
from strawbell.season.due_times import Due
from strawbell.season.due_times import evening as evening_note
from strawbell.season.fold import FoldCache
from strawbell.season.journal_index import OUTAGE_BEGAN, OUTAGE_ENDED, JournalIndex
from strawbell.season.local_time import DAY, moment_of
from strawbell.words.asking import away_said, told_back
from strawbell.words.documents import brief_json
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


class Look(Struct):
    """One look at one garden, on its way from stage to stage."""

    garden: Garden
    index: JournalIndex
    folds: FoldCache
    what: Due
    now: datetime
    forecast: Forecast | None = None
    complaints: tuple[str, ...] = ()
    """Of the services that gave none."""
    today: Brief | None = None
    """Whole, but for a watch that finds nothing; None where only a give-up hour has passed."""
    entries: list[JournalEntry] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    morning: Notice | None = None
    """The one of the notices that may share a mail with those of other gardens."""
    helpers: list[tuple[Helper, Notice]] = field(default_factory=list)
    """What helpers are told."""
    surfaced: list[str] = field(default_factory=list)
    """Keys of the failed messages that are told of."""
    changes: Changes = field(default_factory=Changes)
    """What a watch has told in this look."""

    def useful(self) -> Useful:
        """Return that what is told now is so to the end of the local date that it is about."""
        ends = moment_of(self.what.on + DAY, time(0), self.garden.place.zone)
        return Useful(self.now, ends)

    def entry(
        self, kind: EntryKind, state: str | None = None, text: str = "", on: date | None = None
    ) -> JournalEntry:
        """Return a row of the journal, of the local date unless another is given."""
        day = on or self.what.on
        return JournalEntry(self.now, self.garden.name, day, kind, state=state, text=text)


def worth_telling(today: Brief) -> bool:
    """Return whether a brief has anything in it; an empty garden is left in peace."""
    prepare = any(each.steps for each in today.preparing)
    asks = today.questions or today.crowding
    return bool(today.tasks or today.alerts or asks or prepare)


def too_late_entries(look: Look) -> list[JournalEntry]:
    """Return the rows for dates on which nothing could be told."""
    reason = tongue_of(look.garden).say("incident.too-late")
    return [look.entry(EntryKind.NOT_TOLD, text=reason, on=on) for on in look.what.too_late]


def away_entries(garden: Garden, index: JournalIndex, now: datetime) -> list[JournalEntry]:
    """Return the rows for the configured times away that the journal does not know yet."""
    today = garden.place.date_at(now)
    return [
        JournalEntry(now, garden.name, first, EntryKind.AWAY, text=last.isoformat())
        for first, last in garden.times.away
        if first not in index.away and last >= today
    ]


def morning(
    look: Look,
    today: Brief,
    failed: Sequence[OutboxRow],
    asked: Sequence[str],
    household: Sequence[Helper],
) -> None:
    """Tell the day: its brief, what failed, what is asked, what was heard, what is to be bought.

    Decided 2026-11-29: Supplies go with the morning, which mostly is sent anyway; they had an
    evening's notice of their own. They are still looked up in the evening: mornings of many gardens
    come at once.
    """
    garden, index, now = look.garden, look.index, look.now
    zone = garden.place.zone
    look.entries += weather_entries(today, zone, look.forecast, now)
    supplies = index.evenings.get(max(index.briefed, default=today.on), "").splitlines()
    told = spoken(today, garden, index)
    today = told.brief
    data = brief_json(today, garden)
    if told.week is not None:
        data["week"] = to_builtins(told.week)
    look.entries += told_entries(today, now, data)
    is_due = bool(supplies) or (worth_telling(today) and not told.is_silent)
    if not (is_due or failed or asked or index.heard):
        return
    useful = Useful(now, moment_of(today.on, garden.times.give_up, zone))
    look.surfaced += [row.unique_key for row in failed]
    helpers = [each for each in household if each.looks_after(garden.name)]
    heard = (
        told_back(index.heard, index.amounts, garden, today),
        away_said(index.away, today, tongue_of(garden), helpers),
    )
    is_away = index.away_on(today.on) is not None
    look.morning = morning_notice(
        today,
        garden,
        useful,
        tuple(failure_sentence(row) for row in failed),
        tuple(asked),
        " ".join(filter(None, heard)),
        index.explained(today.on),
        is_away=is_away,
        week=told.week,
        supplies=supplies,
    )
    look.notices.append(look.morning)
    for helper in helpers:
        if helper.is_told(garden.name, is_away=is_away):
            is_new = helper.only_while_away and today.on in index.away
            explained = {} if is_new else index.explained(today.on)
            said = helper_notice(today, garden, helper, useful, explained)
            if said is not None:
                look.helpers.append((helper, said))


def evening(look: Look, today: Brief) -> None:
    """Tell what to cover for the night and to have at hand in the morning; note what to buy."""
    garden, now = look.garden, look.now
    needed = needed_soon(garden, look.index, look.forecast, now, today)
    supplies = "\n".join(supply_sentence(need, garden, today.on) for need in needed)
    look.entries.append(look.entry(EntryKind.EVENING, text=supplies))
    if today.on not in look.index.briefed:
        return  # The morning is told in this very look, and says it all.
    note = evening_note(today, look.index.alerts.get(today.on, ()))
    protect = tuple(each for each in note.protect if not look.changes.cover(each))
    if protect or note.prepare:
        look.notices.append(evening_notice(today, garden, protect, note.prepare, look.useful()))


def watch(look: Look, today: Brief) -> None:
    """Tell what is different from what was told in the morning."""
    changes = changes_since(today, look.index)
    if not changes:
        return
    look.changes = changes
    look.entries += change_entries(today, changes, look.now)
    look.notices.append(
        change_notice(
            _whole(look),
            look.garden,
            changes.tasks,
            changes.alerts,
            changes.passed,
            occasion=today.as_of.strftime("%H:%M"),
            useful=look.useful(),
        )
    )


def outage(look: Look, today: Brief) -> None:
    """Write down when forecasts stop and come back: one warning, one all-clear."""
    garden, now = look.garden, look.now
    out, was_out = today.forecast.status is not ForecastStatus.FRESH, look.index.in_outage
    # A morning that is told in the same look says it itself.
    by_itself = today.on in look.index.briefed and worth_telling(today)
    if out and not was_out:
        text = " ".join(look.complaints)
        look.entries.append(look.entry(EntryKind.SERVICE, OUTAGE_BEGAN, text))
        if by_itself:
            useful = Useful(now, now + TROUBLE_KEPT)
            look.notices.append(
                trouble_notice(garden, today.on, "forecast", look.complaints, useful)
            )
    elif was_out and not out:
        look.entries.append(look.entry(EntryKind.SERVICE, OUTAGE_ENDED))
        if by_itself:
            look.notices.append(all_clear_notice(garden, _whole(look), look.useful()))


def _whole(look: Look) -> Brief:
    """Return the whole brief, for a notice that came of a watch."""
    return brief(look.garden, look.index, look.forecast, look.now, folds=look.folds)
