"""A word that is taken back counts no more; the rows all stay."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace

from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.journal_index import (
    ANSWERED_BY,
    JournalIndex,
    last_words,
    standing,
    taken_back,
)
from support.gardens import START, at, done, missed

WHEN = at(START, 9)
FED = done("row-a-1-feed", WHEN, START)
WATERED = done("row-a-2-water", WHEN, START)


def undo_of(entry: JournalEntry) -> JournalEntry:
    return taken_back(entry, JournalEntry(at(START, 12), "x", START, EntryKind.UNDONE))


def test_only_the_row_that_is_named_is_left_out() -> None:
    """And so is the row that names it."""
    assert standing((FED, WATERED, undo_of(FED))) == (WATERED,)
    assert standing((FED, WATERED)) == (FED, WATERED)


def test_the_index_takes_the_words_that_stand() -> None:
    """Without the word that was taken back, and with all others."""
    fed, watered = (replace(each, batch="Row A") for each in (FED, WATERED))
    told = {key.text() for key in JournalIndex.of((fed, watered, undo_of(fed))).answers}
    assert told == {watered.task}
    told = {key.text() for key in JournalIndex.of((fed, watered)).answers}
    assert told == {fed.task, watered.task}


@pytest.mark.parametrize(("minutes", "heard"), [(-1, True), (0, False), (1, False)])
def test_an_answer_that_takes_back_what_a_brief_confirmed_is_confirmed_too(
    minutes: int, heard: bool
) -> None:
    """One about a word since that brief is not: nothing was confirmed yet."""
    brief = JournalEntry(WHEN, "x", START, EntryKind.BRIEF)
    word = replace(FED, at=WHEN + timedelta(minutes=minutes))
    undo = undo_of(word)
    answer = replace(undo, data={**undo.data, ANSWERED_BY: "push"})
    rows = (word, brief, answer) if heard else (brief, word, answer)
    assert JournalIndex.of(rows).heard == ([answer] if heard else [])
    assert JournalIndex.of((word, brief, undo)).heard == []


def test_of_two_rows_that_look_the_same_one_goes() -> None:
    """The later, as it was said last; taking back twice takes both."""
    assert standing((FED, FED, undo_of(FED))) == (FED,)
    assert standing((FED, FED, undo_of(FED), undo_of(FED))) == ()


def test_what_nobody_said_cannot_be_taken_back() -> None:
    """A told task is no word of the grower's."""
    told = JournalEntry(WHEN, "x", START, EntryKind.TOLD, "Row A", "row-a-1-feed", "due")
    assert standing((told, undo_of(told))) == (told,)


def test_the_last_answer_is_all_that_was_said_at_once() -> None:
    """And once it is taken back, the one before it."""
    earlier = missed("row-a-1-feed", WHEN - timedelta(hours=1), START)
    journal = (earlier, FED, WATERED)
    assert last_words(journal) == (FED, WATERED)
    assert last_words((*journal, undo_of(FED), undo_of(WATERED))) == (earlier,)
    assert last_words(()) == ()
