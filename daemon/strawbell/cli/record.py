"""`strawbell record`: the grower's own words for the journal."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Sequence
from datetime import datetime
from difflib import get_close_matches

from strawbell.cli import record_harvest
from strawbell.cli.context import moment_meant, one_garden, read_configuration
from strawbell.cli.record_words import batch_named, entry_at
from strawbell.edges.clock import SystemClock
from strawbell.errors import GrowerError, Problem
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.planning.brief import brief
from strawbell.planning.record import Record
from strawbell.wiring import open_store

_READING = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)\s*\u00b0?\s*([CFcf])\s*")
COLDEST_READING_C, HOTTEST_READING_C = -40.0, 110.0
"""Range of what a probe in straw can show [degC]; outside it is a slip of the pen."""


def run(options: argparse.Namespace) -> int:
    """Write one row and say what was written."""
    configuration = read_configuration(options)
    garden = one_garden(configuration, options.garden)
    with open_store(configuration, SystemClock().now()) as store:
        now = moment_meant(options.at, garden)
        journal = store.journal(garden.name)
        rows = _ENTRIES[options.kind](options, garden, journal, now)
        store.write(rows)
    print(_confirmation(rows, garden, journal))
    return 0


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
}


def _task(typed: str, garden: Garden, journal: Journal, now: datetime) -> tuple[str | None, str]:
    """Return batch and key of the task meant: by its key, or by a part that only one has."""
    today = brief(garden, journal, None, now)
    record = Record.of(journal)
    known: dict[str, str | None] = {}
    for name, batch_record in record.batches.items():
        for told in batch_record.told.values():
            known.update(dict.fromkeys(told, name))
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


def _confirmation(rows: Sequence[JournalEntry], garden: Garden, journal: Journal) -> str:
    entry = rows[0]
    on = entry.local_date.isoformat()
    if entry.kind is EntryKind.HARVEST:
        return f"Recorded for {on}: {record_harvest.harvest_said(rows, garden, journal)}."
    what = {
        EntryKind.DONE: f"{entry.task} is done",
        EntryKind.MISSED: f"{entry.task} was missed; a feeding is due again on the next fit day",
        EntryKind.TEMPERATURE: f"{entry.batch}: {entry.value or 0.0:.1f} degC inside",
        EntryKind.NOTE: "the note",
        EntryKind.COST: f"{entry.value or 0.0:.2f} for {entry.text}",
    }[entry.kind]
    return f"Recorded for {on}: {what}."
