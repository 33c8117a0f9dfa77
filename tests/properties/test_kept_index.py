"""The index of the journal and how far batches were followed may be kept: the brief is the same."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from strawbell.decision.brief import brief
from strawbell.model.garden import Method
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.fold import FoldCache
from strawbell.season.journal_index import JournalIndex
from support.gardens import (
    RADISH,
    TOMATO,
    at,
    batch,
    forecast,
    garden,
    on_day,
    planting,
    tell_whole,
    word,
)

PLAN = garden(
    batch(
        plantings=(planting(RADISH, Method.SEED, 60), replace(planting(TOMATO), follows="radish"))
    ),
    batch(name="Row B", start_on=on_day(4), plantings=(planting(),)),
)
SKIES: dict[str, dict[str, float]] = {
    "mild": {},
    "freeze": {"temperature_c": -3.0},
    "rain": {"rain_mm": 2.0},
}
DAYS = 45
COMPARED_EVERY = 3
"""Days: what an index missed does not come back by itself."""

Word = tuple[int, bool, int, int]
"""Day it is written, done or missed, which of the tasks told so far, days it is about earlier."""
WORDS = st.lists(
    st.tuples(st.integers(2, DAYS), st.booleans(), st.integers(0, 200), st.integers(0, 3)),
    max_size=8,
)


def words_on(day: int, words: list[Word], journal: Journal) -> Journal:
    """Return what the grower writes in the evening of a day."""
    keys = list(dict.fromkeys(row.task for row in journal if row.kind is EntryKind.TOLD))
    written = []
    for when, is_done, number, before in words:
        if when == day and keys:
            kind = EntryKind.DONE if is_done else EntryKind.MISSED
            key = str(keys[-1 - number % len(keys)])
            about: date = on_day(day) - timedelta(days=before)
            written.append(word(kind, key, at(on_day(day), 20), about))
    return tuple(written)


@settings(max_examples=settings.default.max_examples // 25)
@given(
    words=WORDS,
    skies=st.lists(st.sampled_from(sorted(SKIES)), min_size=DAYS, max_size=DAYS),
    silent=st.sets(st.integers(1, DAYS), max_size=4),
)
def test_a_kept_index_and_all_rows_anew_give_the_same_brief(
    words: list[Word], skies: list[str], silent: set[int]
) -> None:
    """Through holds, words about past dates and days without a brief."""
    journal: Journal = ()
    kept, folds = JournalIndex(), FoldCache()
    for day in range(1, DAYS + 1):
        now = at(on_day(day))
        seen = forecast(now, **SKIES[skies[day - 1]])
        if day % COMPARED_EVERY == 0:
            anew = brief(PLAN, journal, seen, now)
            assert brief(PLAN, kept, seen, now, folds=folds) == anew
        rows: tuple[JournalEntry, ...] = ()
        if day not in silent:
            rows = tell_whole(journal, PLAN, seen, now)[len(journal) :]
        rows += words_on(day, words, (*journal, *rows))
        journal += rows
        kept.take(rows)
        folds.forget(rows, kept)
