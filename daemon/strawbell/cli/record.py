"""`strawbell record`: the grower's own words for the journal."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from difflib import get_close_matches

from strawbell.app.ports import Store
from strawbell.cli import record_feed, record_harvest
from strawbell.cli.context import moment_meant, no_one_garden, one_garden, read_configuration
from strawbell.cli.record_words import batch_named, entry_at
from strawbell.decision.brief import brief
from strawbell.edges.clock import SystemClock
from strawbell.errors import GrowerError, Problem
from strawbell.model.brief import Alert, AlertCode, Reason, ReasonCode
from strawbell.model.configuration import Configuration
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.journal_index import Record
from strawbell.wiring import open_store
from strawbell.words.alerts import alert_words
from strawbell.words.escaping import clean, wrap
from strawbell.words.units import Measures
from strawbell.words.voice import Voice

_READING = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)\s*\u00b0?\s*([CFcf])\s*")
COLDEST_READING_C, HOTTEST_READING_C = -40.0, 110.0
"""Range of what a probe in straw can show [degC]; outside it is a slip of the pen."""
EXTRA_FIGURE = "feed_per_bale_g"
"""Only a feeding beyond the plan has this figure among the grower's own words."""
SLACK = timedelta(minutes=5)
"""How far a row may lie ahead: a wall clock read a little fast."""


def run(options: argparse.Namespace) -> int:
    """Write one row and say what was written."""
    configuration = read_configuration(options)
    with open_store(configuration, SystemClock().now()) as store:
        garden, rows, journal = _meant(options, configuration, store)
        store.write(rows)
    print(_confirmation(rows, garden, journal, named=len(configuration.gardens) > 1))
    for warning in _warnings(rows[0], garden):
        print(warning)
    return 0


def _meant(
    options: argparse.Namespace, configuration: Configuration, store: Store
) -> tuple[Garden, tuple[JournalEntry, ...], Journal]:
    """Return the rows, and the garden they are for: the one named, else the only one they fit."""
    if options.garden or len(configuration.gardens) == 1:
        garden = one_garden(configuration, options.garden)
        journal = store.journal(garden.name)
        return garden, _rows(options, garden, journal), journal
    fitting, problems = [], []
    for garden in configuration.gardens:
        journal = store.journal(garden.name)
        try:
            fitting.append((garden, _rows(options, garden, journal), journal))
        except GrowerError as error:
            problems += [
                replace(each, where=f"{garden.name}, {each.where}") for each in error.problems
            ]
    if not fitting:
        raise GrowerError(problems)
    if len(fitting) > 1 or not _names_its_garden(options):
        raise no_one_garden(configuration.gardens)
    return fitting[0]


def _names_its_garden(options: argparse.Namespace) -> bool:
    """Return whether the words hold a task, a crop or a batch, by which a garden can be known."""
    return bool(options.kind in {"done", "missed", "harvest"} or options.batch)


def _rows(
    options: argparse.Namespace, garden: Garden, journal: Journal
) -> tuple[JournalEntry, ...]:
    now = moment_meant(options.at, garden)
    _refuse_the_future(options, now)
    return _ENTRIES[options.kind](options, garden, journal, now)


def _refuse_the_future(options: argparse.Namespace, at: datetime) -> None:
    """Refuse a row ahead of time: it would overrule everything measured and said until then."""
    if at <= SystemClock().now() + SLACK:
        return
    raise GrowerError(
        Problem(
            what="that time is still to come",
            where="--at",
            found=options.at.isoformat(),
            allowed="a time that has passed in the garden",
            remedy="Record it when it has happened; nothing was recorded.",
        )
    )


def _answer(
    options: argparse.Namespace, garden: Garden, journal: Journal, now: datetime
) -> tuple[JournalEntry, ...]:
    batch, key = _task(options.task, garden, journal, now)
    kind = EntryKind.DONE if options.kind == "done" else EntryKind.MISSED
    return (entry_at(garden, now, kind, batch=batch, task=key),)


def _temperature(
    options: argparse.Namespace, garden: Garden, journal: Journal, now: datetime
) -> tuple[JournalEntry, ...]:
    del journal
    found = _READING.fullmatch(options.reading)
    if found is None:
        raise GrowerError(
            Problem(
                what="not a temperature",
                where="record temperature",
                found=repr(options.reading),
                allowed="a number with its unit, such as 54C or 129F",
            )
        )
    value = float(found[1].replace(",", "."))
    celsius = value if found[2].upper() == "C" else (value - 32) / 1.8
    if not COLDEST_READING_C <= celsius <= HOTTEST_READING_C:
        raise GrowerError(
            Problem(
                what="no probe in straw shows that",
                where="record temperature",
                found=options.reading,
                allowed=f"{COLDEST_READING_C:g}C to {HOTTEST_READING_C:g}C",
            )
        )
    batch = batch_named(options.batch, garden)
    return (entry_at(garden, now, EntryKind.TEMPERATURE, batch=batch.name, value=celsius),)


def _note(
    options: argparse.Namespace, garden: Garden, journal: Journal, now: datetime
) -> tuple[JournalEntry, ...]:
    del journal
    if not clean(options.text):
        raise GrowerError(Problem("the note is empty", "record note", allowed="a few words"))
    batch = batch_named(options.batch, garden).name if options.batch else None
    return (entry_at(garden, now, EntryKind.NOTE, batch=batch, text=options.text),)


_Entries = Callable[[argparse.Namespace, Garden, Journal, datetime], tuple[JournalEntry, ...]]
_ENTRIES: dict[str, _Entries] = {
    "done": _answer,
    "missed": _answer,
    "temperature": _temperature,
    "note": _note,
    "harvest": record_harvest.harvest,
    "cost": record_harvest.cost,
    "feed": record_feed.feed,
}


def _task(typed: str, garden: Garden, journal: Journal, now: datetime) -> tuple[str | None, str]:
    """Return batch and key of the task meant: by its key, or by a part that only one has."""
    today = brief(garden, journal, None, now)
    record = Record.of(journal)
    known: dict[str, str | None] = {}
    for name, batch_record in record.batches.items():
        for told in batch_record.told.values():
            known.update(dict.fromkeys(told, name))
    known.update({key: words[-1].batch for key, words in record.answers.items()})
    known.update({each.key: each.batch for each in today.questions})
    current = {task.key: task.batch for task in today.tasks}
    known.update(current)
    wanted = typed.strip().lower()
    if wanted in known:
        return known[wanted], wanted
    parts = [key for key in current if wanted in key]
    if len(parts) == 1:
        return current[parts[0]], parts[0]
    near = get_close_matches(wanted, known, n=1)
    raise GrowerError(
        Problem(
            what="several tasks of today fit" if parts else "there is no such task",
            where="TASK",
            found=repr(typed),
            allowed=", ".join(parts or current) or "nothing is due today",
            remedy=f"Did you mean {near[0]!r}?" if near and not parts else "",
        )
    )


def _confirmation(
    rows: Sequence[JournalEntry], garden: Garden, journal: Journal, *, named: bool
) -> str:
    entry = rows[0]
    on = f"{entry.local_date.isoformat()}{', ' + clean(garden.name) if named else ''}"
    if entry.kind is EntryKind.HARVEST:
        return f"Recorded for {on}: {record_harvest.harvest_said(rows, garden, journal)}."
    if EXTRA_FIGURE in entry.data:
        return f"Recorded for {on}: {record_feed.feed_said(entry, garden)}."
    inside = Measures(garden.units).temperature(entry.value)
    what = {
        EntryKind.DONE: f"{entry.task} is done",
        EntryKind.MISSED: (
            f"{entry.task} was missed; a feeding or the first soaking is due again on the next "
            "fit day"
        ),
        EntryKind.TEMPERATURE: f"{entry.batch}: {inside} inside",
        EntryKind.NOTE: "the note",
        EntryKind.COST: f"{entry.value or 0.0:.2f} for {entry.text}",
    }[entry.kind]
    return f"Recorded for {on}: {what}."


def _warnings(entry: JournalEntry, garden: Garden) -> tuple[str, ...]:
    """Return what cannot wait for the next brief: a reading in the range of self-heating."""
    limit_c = garden.rules.self_heating_c
    if entry.kind is not EntryKind.TEMPERATURE or entry.value is None or entry.value < limit_c:
        return ()
    why = Reason(ReasonCode.SELF_HEATING, entry.value, limit_c, "degC")
    alert = Alert(AlertCode.SELF_HEATING, entry.batch, None, None, (why,))
    words = alert_words(alert, Voice.of(garden, entry.local_date))
    return tuple(wrap(each) for each in (f"{words.title}.", *words.why, words.advice))
