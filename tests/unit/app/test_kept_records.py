"""The index of a journal is kept, and still never behind the store."""

from __future__ import annotations

from msgspec.structs import replace

from strawbell.app.kept_records import MOST_RECORDS, KeptRecords
from strawbell.model.journal import EntryKind, JournalEntry
from support.gardens import START, at
from support.memory_store import MemoryStore

BRIEF = JournalEntry(at(START), "Orchard corner", START, EntryKind.BRIEF)


def test_what_another_process_wrote_is_in_the_next_index() -> None:
    """And the index itself is the one from before, grown."""
    store = MemoryStore()
    records = KeptRecords(store)
    first = records.of("Orchard corner")
    assert (first.briefed, records.last_row("Orchard corner")) == ({}, 0)
    store.write([replace(BRIEF, garden="Elsewhere"), BRIEF])
    again = records.of("Orchard corner")
    assert again is first
    assert list(again.briefed) == [START]
    assert records.last_row("Orchard corner") == 2


def test_only_so_many_are_kept() -> None:
    """The one not asked for longest is read anew, and is the same."""
    store = MemoryStore()
    store.write([BRIEF])
    records = KeptRecords(store)
    first = records.of("Orchard corner")
    for number in range(MOST_RECORDS):
        records.of(f"Garden {number}")
    assert records.last_row("Orchard corner") == 0
    again = records.of("Orchard corner")
    assert again is not first
    assert again == first
