"""What was fed beyond the plan counts once a date, and not when it was taken back."""

from __future__ import annotations

from datetime import date, timedelta

from msgspec.structs import replace

from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.extra_feedings import extra_feedings
from strawbell.season.journal_index import JournalIndex
from strawbell.season.task_keys import extra_key
from support.gardens import START, at, batch

ROW = batch()
DAY_8 = START + timedelta(days=7)


def word(on: date, nitrogen_g: object, kind: EntryKind = EntryKind.DONE) -> JournalEntry:
    data = {"feed": "Blood meal", "feed_per_bale_g": 100.0, "nitrogen_per_bale_g": nitrogen_g}
    return JournalEntry(
        at(on, 18),
        "Orchard corner",
        on,
        kind,
        batch="Row A",
        task=extra_key("Row A", on).text(),
        data=data if kind is EntryKind.DONE else {},
    )


def test_each_date_counts_with_its_last_word() -> None:
    """A correction replaces; it does not add."""
    index = JournalIndex.of((word(DAY_8, 12.0), word(DAY_8, 15.0), word(START, 5.0)))
    assert [(each.on, each.nitrogen_per_bale_g) for each in extra_feedings(ROW, index)] == [
        (START, 5.0),
        (DAY_8, 15.0),
    ]


def test_a_word_of_a_later_day_about_it_leaves_it_on_its_date() -> None:
    """Taken back and given after all: the key says when it was."""
    later = replace(word(DAY_8, 12.0), local_date=DAY_8 + timedelta(days=3), data={})
    rows = (word(DAY_8, 12.0), replace(later, kind=EntryKind.MISSED), later)
    (extra,) = extra_feedings(ROW, JournalIndex.of(rows))
    assert (extra.on, extra.nitrogen_per_bale_g) == (DAY_8, 12.0)


def test_what_was_taken_back_counts_no_more() -> None:
    """The word missed about it says that it was never given."""
    index = JournalIndex.of((word(DAY_8, 12.0), word(DAY_8, 0.0, EntryKind.MISSED)))
    assert extra_feedings(ROW, index) == ()


def test_of_another_batch_or_season_or_without_a_number_nothing_counts() -> None:
    """An amount that nobody wrote is unknown, not zero, and cannot be reckoned with."""
    before = word(START - timedelta(days=1), 12.0)
    odd = replace(word(DAY_8, 12.0), task="row-a-feed-extra-someday")
    assert extra_feedings(ROW, JournalIndex.of((odd,))) == ()
    assert extra_feedings(ROW, JournalIndex.of((before, word(DAY_8, "much")))) == ()
    assert extra_feedings(batch(name="Row B"), JournalIndex.of((word(DAY_8, 12.0),))) == ()
