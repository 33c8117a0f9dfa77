"""A damaged store is found or harmless, kept as it is, mended in one start, and told of once."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import takewhile
from pathlib import Path

import pytest
from msgspec.structs import replace

from strawbell.app.trouble import STORE_MENDED
from strawbell.edges.store.connection import NEWEST_VERSION
from strawbell.edges.store.opening import RESEND_AFTER_RESTORE_H
from strawbell.edges.store.safeguards import copies, newest_good
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import GrowerError, StrawbellError
from strawbell.model.journal import Journal, JournalEntry
from strawbell.model.notice import OutboxRow, OutboxState
from support import mending
from support.damages import BITS, DAMAGES, WAL_HARMS, Damage
from support.measured import record
from support.queued import GARDEN
from support.used_store import (
    NAME,
    NOW,
    PAGE_BYTES,
    entry,
    fill,
    fill_and_kill,
    overwrite,
    random_bytes,
    set_aside,
    texts,
)

MOST_STARTS = 3
"""A store that no start of these mends is left in an endless row of them."""


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("filled") / "state" / NAME
    fill(path)
    return path.parent


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("killed") / "state" / NAME
    fill_and_kill(path)
    return path.parent


@pytest.fixture
def state(filled: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(filled, tmp_path / "state")) / NAME


@pytest.fixture
def killed_state(killed: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(killed, tmp_path / "state")) / NAME


@dataclass(frozen=True)
class Rows:
    """What a store holds: its journal, and its messages by key as they were frozen."""

    journal: list[JournalEntry]
    messages: dict[str, OutboxRow]


@dataclass(frozen=True)
class Sound:
    """A store before its damage: its folder, and what it holds."""

    folder: Path
    rows: Rows


Test = Callable[["Aftermath"], bool]


def rows_of(path: Path) -> Rows:
    """Read a whole store; what became of a message since it was queued does not count."""
    with SqliteStore(path, mending.NOW) as store:
        return Rows(
            list(store.journal(GARDEN)),
            {row.unique_key: frozen(row) for row in store.outbox(GARDEN, date.min)},
        )


def frozen(row: OutboxRow) -> OutboxRow:
    """Return a message without what became of it."""
    return replace(
        row,
        state=OutboxState.DUE,
        attempts=0,
        next_attempt_at=row.created_at,
        detail="",
        surfaced=False,
    )


def sound(folder: Path, make: Callable[[Path, datetime], None]) -> Sound:
    """Return a store that was used until now."""
    path = folder / "state" / NAME
    make(path, mending.NOW)
    copy = shutil.copytree(path.parent, folder / "read")
    return Sound(path.parent, rows_of(copy / NAME))


def files(path: Path) -> dict[str, bytes]:
    """Return the content of a database and its write-ahead file, as far as they are there."""
    both = {ending: path.with_name(path.name + ending) for ending in ("", "-wal")}
    return {ending: file.read_bytes() for ending, file in both.items() if file.exists()}


def letters_in(folder: Path) -> list[dict[str, str]]:
    """Return what the grower got; nothing where no start got that far."""
    told = folder / "told"
    lines = told.read_bytes().splitlines() if told.exists() else []
    return [json.loads(line) for line in lines]


def names_aside(path: Path) -> list[str]:
    """Return the names of the files that were put aside."""
    found = (one.name for one in path.parent.glob("*.damaged-*"))
    return [name for name in found if not name.endswith("-shm")]


class Aftermath:
    """A damaged store, and what the next starts of the daemon came to."""

    def __init__(self, damage: Damage, sound: Sound, folder: Path) -> None:
        """Damage a copy of a store, start on it until a start works, and once more after that."""
        self.damage, self.before = damage, sound.rows
        self.path = folder / "state" / NAME
        shutil.copytree(sound.folder, self.path.parent)
        damage.harm(self.path)
        self.damaged = files(self.path)
        self.starts, self.works, self.refusal = 0, False, ""
        while not self.works and self.starts < MOST_STARTS:
            self._start()
        journal: Journal = mending.start(self.path) if self.works else ()
        self.rows_that_tell = sum(row.state == STORE_MENDED for row in journal)
        self.letters = letters_in(folder)
        self.letters_that_tell = sum("was damaged" in letter["text"] for letter in self.letters)
        self.after = rows_of(self.path) if self.works else Rows([], {})

    def _start(self) -> None:
        self.starts += 1
        try:
            mending.start(self.path)
            self.works = True
        except StrawbellError as error:
            self.refusal = str(error)

    @property
    def is_refused(self) -> bool:
        """Whether no start works, as it should be, and path and reason are told."""
        asked = self.damage.refused
        is_told = asked in self.refusal and str(self.path) in self.refusal
        return bool(asked) and not self.works and is_told

    @property
    def times_told(self) -> tuple[int, int]:
        """How often it was told in the journal and in letters."""
        return self.rows_that_tell, self.letters_that_tell

    @property
    def is_mended(self) -> bool:
        """Whether something was put aside or told."""
        return self.times_told != (0, 0) or bool(names_aside(self.path))

    @property
    def is_missed(self) -> bool:
        """Whether nobody noticed it although a row or message does not read as before."""
        same = self.saved == len(self.before.journal) and all(
            self.after.messages.get(key) == one for key, one in self.before.messages.items()
        )
        return not (self.is_refused or self.is_mended or same)

    @property
    def is_kept(self) -> bool:
        """Whether the files are as they were: under one dated name, or in place where refused."""
        if self.is_refused:
            return files(self.path) == self.damaged
        names = {name.removesuffix("-wal") for name in names_aside(self.path)}
        found = [files(self.path.with_name(name)) for name in names]
        return found == ([self.damaged] if self.damaged and self.is_mended else [])

    @property
    def is_saved(self) -> bool:
        """Whether as much of the journal came through as could."""
        return self.saved >= self.damage.keeps

    @property
    def sent_again(self) -> list[str]:
        """Messages that were sent although they were old when the store was mended."""
        oldest = mending.NOW - timedelta(hours=RESEND_AFTER_RESTORE_H)
        old = {key for key, one in self.before.messages.items() if one.created_at < oldest}
        return [letter["key"] for letter in self.letters if letter["key"] in old]

    @property
    def saved(self) -> int:
        """How many rows of the journal came through, from the first on."""
        pairs = zip(self.before.journal, self.after.journal, strict=False)
        return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], pairs))


def test_every_damage_is_found_or_harmless_kept_mended_at_once_and_told_once(
    tmp_path: Path,
) -> None:
    """Each on a store of its own, with the start that meets it and the one after."""
    ended, killed = sound(tmp_path / "ended", fill), sound(tmp_path / "killed", fill_and_kill)
    all_of = [
        Aftermath(damage, killed if damage.killed else ended, tmp_path / f"{number}")
        for number, damage in enumerate((*DAMAGES, *BITS))
    ]
    listed, bits = all_of[: len(DAMAGES)], all_of[len(DAMAGES) :]
    mended = [each for each in all_of if each.is_mended]

    def none_of(figure: str, these: Iterable[Aftermath], wrong: Test, most: str = "= 0") -> None:
        names = [each.damage.name for each in these if wrong(each)]
        record(10, figure, len(names), target=most, found=names)

    record(10, "damages", len(listed), target=">= 60")
    refused = sum(each.is_refused for each in listed)
    record(10, "refused in words, no mending being for them", refused, target="= 2")
    record(10, "mended", sum(each.is_mended for each in listed), target=">= 60", varies=True)
    none_of("neither found nor harmless", listed, lambda each: each.is_missed)
    record(10, "single bits turned", len(bits), target=">= 60")
    none_of(
        "single bits turned, neither found nor harmless", bits, lambda each: each.is_missed, "<= 1"
    )
    none_of("damaged files not kept as they were", all_of, lambda each: not each.is_kept)
    none_of("told more or less than once", mended, lambda each: each.times_told != (1, 1))
    none_of(
        "mended with messages over 24 h old sent again", mended, lambda each: bool(each.sent_again)
    )
    none_of("mended with less than could be saved", mended, lambda each: not each.is_saved)
    most = max((each.starts for each in mended), default=MOST_STARTS)
    record(10, "starts until it works again, most", most, target="<= 1")


def test_messages_of_a_sound_store_are_sent_however_old(tmp_path: Path) -> None:
    """What is measured above can happen: only a mending lets old messages rest."""
    sane = Damage("none", lambda path: None)
    start = Aftermath(sane, sound(tmp_path / "ended", fill), tmp_path / "after")
    assert not start.is_mended
    assert not start.is_missed
    assert start.sent_again == ["k0", "k1", "k2"]
    assert [letter["key"] for letter in start.letters] == [f"k{number}" for number in range(6)]


def check_mended(path: Path, damaged: bytes | None) -> SqliteStore:
    """Detected, kept, restored, and old messages stay unsent; the next opening is silent."""
    store = SqliteStore(path, NOW, owner=True)
    assert store.incident
    assert path.name in store.incident
    kept = set_aside(path)
    assert [one.read_bytes() for one in kept] == ([] if damaged is None else [damaged])
    due = store.due(NOW, ["email"])
    assert all(row.created_at >= NOW - timedelta(hours=24) for row in due)
    store.write([entry(99)])
    store.close()
    again = SqliteStore(path, NOW, owner=True)
    assert again.incident == ""
    assert len(set_aside(path)) == len(kept)
    return again


def test_a_killed_store_opens_with_all_that_was_committed(killed_state: Path) -> None:
    """A write-ahead file is no damage."""
    assert killed_state.with_name("strawbell.db-wal").stat().st_size > 0
    with SqliteStore(killed_state, NOW, owner=True) as store:
        assert store.incident == ""
        assert len(texts(store)) == 50
        assert len(store.due(NOW, ["email"])) == 9


@pytest.mark.parametrize(("at", "size"), [(0, 16), (0, PAGE_BYTES), (68, 4), (100, 400)], ids=str)
def test_a_damaged_beginning_is_mended_from_the_copy(state: Path, at: int, size: int) -> None:
    """Magic, the whole first page, the mark of the program, the table of tables."""
    overwrite(state, at, random_bytes(1, size))
    damaged = state.read_bytes()
    with check_mended(state, damaged) as store:
        assert texts(store)[:20] == [f"row {number}" for number in range(20)]


def test_an_emptied_store_is_not_taken_for_a_new_one(state: Path) -> None:
    """A file of no bytes opens as a healthy database; the marker knows better."""
    os.truncate(state, 0)
    with check_mended(state, b"") as store:
        assert len(texts(store)) == 21


def test_a_vanished_store_is_restored(state: Path) -> None:
    """There is nothing to keep aside, and yesterday's copy comes back."""
    state.unlink()
    with check_mended(state, None) as store:
        assert len(texts(store)) == 21


def test_a_lost_store_without_a_copy_begins_anew_and_says_so(state: Path) -> None:
    """No endless restart."""
    shutil.rmtree(state.parent / "backups")
    overwrite(state, 0, random_bytes(1, PAGE_BYTES))
    damaged = state.read_bytes()
    with check_mended(state, damaged) as store:
        assert texts(store) == ["row 99"]


def test_a_damaged_copy_is_passed_over_for_an_older_one(state: Path) -> None:
    """The newest good copy is taken, not the newest."""
    with SqliteStore(state, NOW, owner=True) as store:
        store.backup(NOW)
    newest = copies(state)[0]
    overwrite(newest, PAGE_BYTES, random_bytes(3, PAGE_BYTES))
    assert newest_good(state) == copies(state)[1]
    os.truncate(state, 0)
    with check_mended(state, b"") as store:
        assert len(texts(store)) == 21


def test_a_database_of_another_program_in_our_place_is_kept_and_ours_restored(
    state: Path,
) -> None:
    """There was a store of ours here, so somebody put this one in its place."""
    state.unlink()
    with sqlite3.connect(state) as other:
        other.execute("CREATE TABLE songs (name)")
    other.close()
    damaged = state.read_bytes()
    with check_mended(state, damaged) as store:
        assert len(texts(store)) == 21


@pytest.mark.parametrize("content", ["database", "text", "short"])
@pytest.mark.parametrize("owner", [True, False])
def test_a_file_that_was_never_ours_is_left_alone(
    tmp_path: Path, content: str, owner: bool
) -> None:
    """A mistyped path must not cost anybody a file."""
    path = tmp_path / "theirs.db"
    if content == "database":
        with sqlite3.connect(path) as other:
            other.execute("CREATE TABLE songs (name)")
        other.close()
    else:
        path.write_text("my notes\n" * (100 if content == "text" else 1), encoding="ascii")
    before = path.read_bytes()
    with pytest.raises(GrowerError, match="not a store of Strawbell") as refusal:
        SqliteStore(path, NOW, owner=owner)
    assert str(path) in str(refusal.value)
    assert path.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["theirs.db"]


@pytest.mark.parametrize("owner", [True, False])
def test_a_newer_store_is_refused_and_left_alone(state: Path, owner: bool) -> None:
    """An older program must not guess."""
    with sqlite3.connect(state) as newer:
        newer.execute(f"PRAGMA user_version = {NEWEST_VERSION + 1}")
    newer.close()
    before = state.read_bytes()
    with pytest.raises(GrowerError, match="newer version of Strawbell"):
        SqliteStore(state, NOW, owner=owner)
    assert state.read_bytes() == before


@pytest.mark.parametrize("harm", WAL_HARMS)
def test_a_harmed_write_ahead_file_is_found(
    killed_state: Path, harm: Callable[[Path], None]
) -> None:
    """SQLite would pass over it in silence, or fold a stranger's into the store."""
    harm(killed_state)
    with check_mended(killed_state, killed_state.read_bytes()) as store:
        assert len(texts(store)) == 41, "what the main file held, not only yesterday's copy"
