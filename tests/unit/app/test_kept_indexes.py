"""The index of a journal is kept, and still never behind the store."""

from __future__ import annotations

import secrets
from pathlib import Path

import pytest
from msgspec.structs import replace

from strawbell.app.looks import CHECKPOINT_AFTER_ROWS, MOST_INDEXES, KeptIndexes
from strawbell.app.pipeline import Pipeline
from strawbell.app.ports import Store
from strawbell.decision.brief import brief
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.brief import Brief
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.fold import FoldCache, unpacked
from strawbell.season.journal_index import JournalIndex, taken_back
from support.fake_clock import sender
from support.gardens import START, at, batch, forecast, garden, on_day, planting
from support.memory_store import MemoryStore

HERE = garden()
BRIEF = JournalEntry(at(START), "Orchard corner", START, EntryKind.BRIEF)


def test_what_another_process_wrote_is_in_the_next_index() -> None:
    """And the index itself is the one from before, grown."""
    store = MemoryStore()
    indexes = KeptIndexes(store)
    first = indexes.of(HERE)
    assert (first.briefed, indexes.last_row("Orchard corner")) == ({}, 0)
    store.write([replace(BRIEF, garden="Elsewhere"), BRIEF])
    again = indexes.of(HERE)
    assert again is first
    assert list(again.briefed) == [START]
    assert indexes.last_row("Orchard corner") == 2


def test_only_so_many_are_kept() -> None:
    """The one not asked for longest is read anew, and is the same."""
    store = MemoryStore()
    store.write([BRIEF])
    indexes = KeptIndexes(store)
    first = indexes.of(HERE)
    for number in range(MOST_INDEXES):
        indexes.of(garden(name=f"Garden {number}"))
    assert indexes.last_row("Orchard corner") == 0
    again = indexes.of(HERE)
    assert again is not first
    assert again == first


BUILD = "this build"
PLANTED = garden(batch(plantings=(planting(),)))


def played(store: Store, plan: Garden, days: int, first: int = 1) -> None:
    """Tell every morning and evening of some days, as a daemon does that makes checkpoints."""
    pipeline = Pipeline(
        (plan,), store, (), lambda _, now: (forecast(now, days=7), ()), sender(), build=BUILD
    )
    for day in range(first, first + days):
        for hour in (6, 12, 19):
            pipeline.tick(at(on_day(day), hour))


def mornings_of(store: Store, plan: Garden, day: int, build: str) -> tuple[Brief, JournalIndex]:
    moment = at(on_day(day))
    kept = KeptIndexes(store, build)
    index = kept.of(plan)
    folds = kept.folds(plan)
    return brief(plan, index, forecast(moment, days=7), moment, folds=folds), index


def test_a_morning_from_what_was_laid_by_is_the_one_from_all_rows(tmp_path: Path) -> None:
    """On every day of a season's first weeks, after a start of the program each morning."""
    with SqliteStore(tmp_path / "store.db", at(START), owner=True) as store:
        for day in range(1, 31):
            played(store, PLANTED, 1, first=day)
            laid, _ = mornings_of(store, PLANTED, day + 1, BUILD)
            anew, _ = mornings_of(store, PLANTED, day + 1, "another build")
            assert laid == anew
        assert store.checkpoint(PLANTED.name) is not None


def test_after_a_start_only_what_came_after_the_last_laying_by_is_read(tmp_path: Path) -> None:
    class Counting(SqliteStore):
        asked: int = -1

        def planners_rows(self, garden: str, after: int) -> tuple[tuple[JournalEntry, ...], int]:
            self.asked = after
            return super().planners_rows(garden, after)

    with Counting(tmp_path / "store.db", at(START), owner=True) as store:
        played(store, PLANTED, 40)
        rows, last = store.planners_rows(PLANTED.name, 0)
        KeptIndexes(store, BUILD).of(PLANTED)
        new, _ = store.planners_rows(PLANTED.name, store.asked)
        assert last > len(new)
        assert 0 < len(new) <= CHECKPOINT_AFTER_ROWS + len(rows) // 40 + 1


def test_how_far_the_batch_and_its_bales_were_followed_is_laid_by_too(tmp_path: Path) -> None:
    with SqliteStore(tmp_path / "store.db", at(START), owner=True) as store:
        played(store, PLANTED, 25)
        _, content = store.checkpoint(PLANTED.name) or (0, b"")
        _, folds = unpacked(content, PLANTED, BUILD) or (None, FoldCache())
        assert folds.states.keys() == folds.courses.keys() == {"Row A"}


def changed_build(store: SqliteStore) -> tuple[str, Garden]:
    return "another build", PLANTED


def another_batch(store: SqliteStore) -> tuple[str, Garden]:
    return BUILD, garden(batch(plantings=(planting(),), bales=7))


def damaged(store: SqliteStore) -> tuple[str, Garden]:
    last, content = store.checkpoint(PLANTED.name) or (0, b"")
    store.save_checkpoint(
        PLANTED.name, last, content[: len(content) // 2] + secrets.token_bytes(20)
    )
    return BUILD, PLANTED


@pytest.mark.parametrize("doubt", [changed_build, another_batch, damaged])
def test_on_any_doubt_the_morning_is_made_anew(tmp_path: Path, doubt) -> None:  # type: ignore[no-untyped-def]
    with SqliteStore(tmp_path / "store.db", at(START), owner=True) as store:
        played(store, PLANTED, 12)
        build, plan = doubt(store)
        found, _ = mornings_of(store, plan, 13, build)
        moment = at(on_day(13))
        rows, _ = store.planners_rows(plan.name, 0)
        assert found == brief(plan, rows, forecast(moment, days=7), moment)


def test_a_reading_taken_back_is_gone_from_what_was_laid_by(tmp_path: Path) -> None:
    low = JournalEntry(at(START, 12), PLANTED.name, START, EntryKind.LOW, value=-3.0)
    with SqliteStore(tmp_path / "store.db", at(START), owner=True) as store:
        store.write([low])
        played(store, PLANTED, 12)
        assert KeptIndexes(store, BUILD).of(PLANTED).measured == {START: {EntryKind.LOW: -3.0}}
        store.write([taken_back(low, replace(low, at=at(on_day(12), 20)))])
        assert KeptIndexes(store, BUILD).of(PLANTED).measured == {}
