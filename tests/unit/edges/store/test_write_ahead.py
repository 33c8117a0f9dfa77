"""A torn header over nothing is no damage; one over commits that are nowhere else is."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from strawbell.edges.store.examine import wal_of, wal_problem
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import OutboxState
from support.queued import GARDEN, queued

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
HEADER_BYTES, FRAME_HEADER_BYTES, PAGE_BYTES = 32, 24, 4096
HARMED_AT = (0, 3, 4, 8, 12, 16, 23, 24, 31)
"""Magic, version, page size, sequence, salts, checksum: each field once."""


def copied(path: Path, folder: Path) -> Path:
    """Return a copy of the files of a store as a kill leaves them."""
    folder.mkdir()
    for found in (path, wal_of(path)):
        shutil.copyfile(found, folder / found.name)
    return folder / path.name


@pytest.fixture(scope="module")
def folded() -> Iterator[Path]:
    """A store whose commits are all in the database, with their frames still behind the header."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "living" / "s.db"
        with SqliteStore(path, NOW, owner=True) as store:
            store.write([JournalEntry(NOW, GARDEN, NOW.date(), EntryKind.SERVICE, text="row")])
            store.enqueue([queued(1, NOW, 60_000)])
            other = sqlite3.connect(path)
            assert other.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()[0] == 0
            yield copied(path, Path(name) / "folded")
            other.close()


@pytest.fixture(scope="module")
def unfolded() -> Iterator[Path]:
    """A store whose last commit, that a message was accepted, is in the write-ahead file only.

    That adds no row, so the marker cannot tell it from the state before.
    """
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "living" / "s.db"
        with SqliteStore(path, NOW, owner=True) as store:
            store.enqueue([queued(1, NOW, 200)])
        with SqliteStore(path, NOW, owner=True) as store:
            store.move("k1", OutboxState.ACCEPTED, attempts=1, next_attempt_at=NOW, detail="")
            yield copied(path, Path(name) / "unfolded")


@pytest.fixture(params=["folded", "unfolded"])
def either(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    path: Path = request.getfixturevalue(request.param)
    return copied(path, tmp_path / "state")


def harm(path: Path, at: int, content: bytes) -> None:
    with wal_of(path).open("r+b") as file:
        file.seek(at)
        file.write(content)


def flip(path: Path, at: int) -> None:
    harm(path, at, bytes([wal_of(path).read_bytes()[at] ^ 0xFF]))


def test_a_sound_file_is_no_problem(either: Path) -> None:
    """With its commits folded in or not."""
    assert wal_problem(either) is None


def test_no_file_and_an_empty_one_are_no_problem(folded: Path, tmp_path: Path) -> None:
    """Nothing was ever in them that this could tell."""
    path = copied(folded, tmp_path / "state")
    os.truncate(wal_of(path), 0)
    assert wal_problem(path) is None
    wal_of(path).unlink()
    assert wal_problem(path) is None


@pytest.mark.parametrize("size", [1, 17, 31, 32, 33, HEADER_BYTES + FRAME_HEADER_BYTES])
def test_a_torn_header_with_no_frame_behind_it_is_no_problem(
    folded: Path, tmp_path: Path, size: int
) -> None:
    """The power went while a write-ahead file was begun; no commit was in it yet."""
    path = copied(folded, tmp_path / "state")
    os.truncate(wal_of(path), size)
    flip(path, 0)
    assert wal_problem(path) is None


@pytest.mark.parametrize("at", HARMED_AT)
def test_a_torn_header_over_frames_that_are_folded_in_is_no_problem(
    folded: Path, tmp_path: Path, at: int
) -> None:
    """The power went while a write-ahead file was begun over an old one."""
    path = copied(folded, tmp_path / "state")
    flip(path, at)
    assert wal_problem(path) is None
    with SqliteStore(path, NOW, owner=True) as store:
        assert store.incident == ""
        assert len(store.journal(GARDEN)) == 1
        assert len(store.outbox(GARDEN, NOW.date())) == 1


@pytest.mark.parametrize("at", HARMED_AT)
def test_a_harmed_header_over_a_commit_that_is_nowhere_else_is_one(
    unfolded: Path, tmp_path: Path, at: int
) -> None:
    """The acceptance would be forgotten and the message sent again without a word."""
    path = copied(unfolded, tmp_path / "state")
    flip(path, at)
    assert wal_problem(path) is not None
    with SqliteStore(path, NOW, owner=True) as store:
        assert "write-ahead file" in store.incident


@pytest.mark.parametrize(
    "at", [HEADER_BYTES, HEADER_BYTES + 8, HEADER_BYTES + FRAME_HEADER_BYTES + 2 * PAGE_BYTES]
)
def test_frames_that_cannot_be_followed_are_a_problem(
    folded: Path, tmp_path: Path, at: int
) -> None:
    """No power cut harms frame and header at once: number and salt of the first frame, or the
    content of the second."""
    path = copied(folded, tmp_path / "state")
    flip(path, 12)
    harm(path, at, os.urandom(16))
    assert wal_problem(path) is not None


def test_nonsense_is_a_problem(either: Path) -> None:
    """As long as a commit, and not a word of it to be read."""
    wal_of(either).write_bytes(bytes(5 * PAGE_BYTES))
    assert wal_problem(either) == "the write-ahead file is no write-ahead file"


def test_an_unfinished_commit_behind_folded_ones_is_no_problem(
    folded: Path, tmp_path: Path
) -> None:
    """Frames after the last commit were never acknowledged."""
    path = copied(folded, tmp_path / "state")
    whole = wal_of(path).read_bytes()
    step = FRAME_HEADER_BYTES + PAGE_BYTES
    last = whole[-step:]
    wal_of(path).write_bytes(whole + last[:4] + bytes(4) + last[8:])
    flip(path, 12)
    assert wal_problem(path) is None
