"""Rows are kept under keys and read by the names of today."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from msgspec.structs import replace

from strawbell.model.identity import KeptNames
from strawbell.model.journal import EntryKind, JournalEntry

NAMES = KeptNames(
    {"Mill lane": "Orchard corner"},
    {"Mill lane": {"Long row": "Row A", "Row": "Row", "Row A": "Row B"}},
)
ROW = JournalEntry(datetime(2027, 4, 9, tzinfo=UTC), "Mill lane", date(2027, 4, 9), EntryKind.TOLD)


@pytest.mark.parametrize(
    ("batch", "task", "kept_batch", "kept_task"),
    [
        ("Long row", "long-row-5-feed", "Row A", "row-a-5-feed"),
        (None, "long-row-5-feed", None, "row-a-5-feed"),
        ("Row A", "row-a-water-2027-06-01", "Row B", "row-b-water-2027-06-01"),
        (None, "row-a-5-feed", None, "row-b-5-feed"),
        ("Row", "row-5-feed", "Row", "row-5-feed"),
        ("Long row", "alert-frost-long-row", "Row A", "alert-frost-row-a"),
        (None, "alert-frost", None, "alert-frost"),
        (None, None, None, None),
    ],
)
def test_a_row_is_kept_under_keys_and_given_by_names(
    batch: str | None, task: str | None, kept_batch: str | None, kept_task: str | None
) -> None:
    row = replace(ROW, batch=batch, task=task)
    kept = NAMES.kept(row)
    assert (kept.garden, kept.batch, kept.task) == ("Orchard corner", kept_batch, kept_task)
    assert NAMES.called(kept) == row


def test_a_garden_without_another_name_is_left_as_it_is() -> None:
    row = replace(ROW, garden="Far field", batch="Row A", task="row-a-5-feed")
    assert NAMES.kept(row) == NAMES.called(row) == row


def test_what_things_are_known_by_is_kept_under_the_key_it_names() -> None:
    row = replace(ROW, garden="Mill lane", kind=EntryKind.KNOWN)
    assert NAMES.kept(row) is row
