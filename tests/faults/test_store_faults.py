"""The store on a bad day: full, locked, shared, killed, of another layout."""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path

import pytest

from strawbell.app.ports import CachedAnswer
from strawbell.edges.store import connection, examine
from strawbell.edges.store.connection import APPLICATION_ID, NEWEST_VERSION, Migration, is_passing
from strawbell.edges.store.safeguards import copies, newest_good, rows_of
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import Defect, OperationalError, StrawbellError
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import OutboxRow, OutboxState
from support.queued import GARDEN
from support.used_store import NOW, PAGE_BYTES, entry, fill, message, set_aside, texts


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("filled") / "strawbell.db"
    fill(path)
    return path.parent


@pytest.fixture
def state(filled: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(filled, tmp_path / "state")) / "strawbell.db"


def test_a_sound_store_opens_without_a_word(state: Path) -> None:
    """Nothing is moved, nothing is told, and all rows are there."""
    before = state.read_bytes()
    with SqliteStore(state, NOW, owner=True) as store:
        assert store.incident == ""
        assert len(texts(store)) == 40
        assert len(store.due(NOW, ["email"])) == 6
    assert set_aside(state) == []
    assert len(before) > 20 * PAGE_BYTES


def test_a_copy_made_under_a_clock_in_the_future_does_not_stay_the_newest(state: Path) -> None:
    """What counts is how much a copy holds, not the date in its name."""
    with SqliteStore(state, NOW, owner=True) as store:
        store.backup(NOW.replace(year=2099))
        store.write([entry(41)])
        store.backup(NOW)
    future, today, *_ = copies(state)
    assert "2099" in future.name
    assert newest_good(state) == today


def test_a_command_beside_the_daemon_mends_nothing(state: Path) -> None:
    """It says what is wrong and leaves every file where it is."""
    os.truncate(state, 0)
    names = sorted(path.name for path in state.parent.iterdir())
    with pytest.raises(OperationalError, match="strawbell run"):
        SqliteStore(state, NOW)
    assert sorted(path.name for path in state.parent.iterdir()) == names
    assert state.stat().st_size == 0


def test_a_command_beside_the_daemon_reads_and_writes(state: Path) -> None:
    """Two processes' worth of connections see each other's rows."""
    with SqliteStore(state, NOW, owner=True) as daemon, SqliteStore(state, NOW) as command:
        command.write([entry(1000)])
        assert texts(daemon)[-1] == "row 1000"


def test_a_row_claimed_by_a_living_process_is_left_to_it(state: Path) -> None:
    """A command does not send what the daemon is sending; a dead owner's row is free."""
    with SqliteStore(state, NOW, owner=True) as store:
        sleeper = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
        assert sleeper.stdin is not None
        try:
            started = Path(f"/proc/{sleeper.pid}/stat").read_text(encoding="ascii")
            token = f"{sleeper.pid}:{started.rpartition(')')[2].split()[19]}"
            with sqlite3.connect(state) as other:
                other.execute(
                    "UPDATE outbox SET state = 'sending', attempts = 1, claimed_by = ?"
                    " WHERE unique_key = 'k5'",
                    (token,),
                )
            other.close()
            assert "k5" not in {row.unique_key for row in store.due(NOW, ["email"])}
        finally:
            sleeper.kill()
            sleeper.wait(10)
            sleeper.stdin.close()
        assert "k5" in {row.unique_key for row in store.due(NOW, ["email"])}


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE journal SET text = 'changed'",
        "DELETE FROM journal",
        "DELETE FROM outbox",
        "UPDATE bodies SET body = x'00' WHERE unique_key = 'k1'",
        "DELETE FROM bodies WHERE unique_key = 'k1'",
        "UPDATE outbox SET message_id = '<x>' WHERE unique_key = 'k1'",
        "UPDATE outbox SET unique_key = 'x' WHERE unique_key = 'k1'",
        "UPDATE outbox SET state = 'lost' WHERE unique_key = 'k1'",
        "INSERT INTO outbox (unique_key) VALUES ('k1')",
    ],
)
def test_the_database_itself_keeps_what_was_written(state: Path, statement: str) -> None:
    """Not even a statement by hand edits the journal or a queued message."""
    hand = sqlite3.connect(state, isolation_level=None)
    with pytest.raises(sqlite3.IntegrityError):
        hand.execute(statement)
    hand.close()


def test_numbers_of_rows_are_never_used_twice(state: Path) -> None:
    """Order in the journal is the order of numbers, without end."""
    hand = sqlite3.connect(state)
    numbers = [number for (number,) in hand.execute("SELECT number FROM journal")]
    hand.close()
    assert numbers == sorted(set(numbers))


def test_files_belong_to_the_grower_alone(tmp_path: Path) -> None:
    """Folder 0700; store, marker and copies 0600."""
    path = tmp_path / "deep" / "state" / "strawbell.db"
    with SqliteStore(path, NOW, owner=True) as store:
        store.enqueue([message(1)])
        store.backup(NOW)
        files = [one for one in path.parent.rglob("*") if one.is_file()]
        assert {oct(one.stat().st_mode & 0o777) for one in files} == {"0o600"}
        assert len(files) >= 4
    folders = [path.parent, path.parent / "backups"]
    assert {oct(one.stat().st_mode & 0o777) for one in folders} == {"0o700"}


def test_a_week_of_copies_is_kept(tmp_path: Path) -> None:
    """One a day, the eighth takes the place of the first, and each is a whole store."""
    path = tmp_path / "strawbell.db"
    with SqliteStore(path, NOW, owner=True) as store:
        for day in range(10):
            store.write([entry(day)])
            store.backup(NOW + timedelta(days=day))
            store.backup(NOW + timedelta(days=day, hours=1))
    names = [copy.name for copy in copies(path)]
    assert names == [f"strawbell-2027-04-{day:02}.db" for day in range(18, 11, -1)]
    with SqliteStore(copies(path)[0], NOW) as copy:
        assert len(texts(copy)) == 10
    assert [one.name for one in (tmp_path / "backups").glob("*unfinished*")] == []


def test_a_copy_that_takes_the_place_of_the_oldest_is_whole_and_writes_what_a_week_changed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever had become of the oldest, which nobody needs any more."""
    written: list[int] = []
    pwrite = os.pwrite

    def counted(file: int, block: bytes, at: int) -> int:
        written.append(len(block))
        return pwrite(file, block, at)

    monkeypatch.setattr(os, "pwrite", counted)
    path = tmp_path / "strawbell.db"
    with SqliteStore(path, NOW, owner=True) as store:
        store.write([entry(number) for number in range(2_000)])
        for day in range(20):
            store.write([entry(2_000 + day)])
            written.clear()
            if day == 15:
                copies(path)[-1].write_bytes(os.urandom(5_000))
            store.backup(NOW + timedelta(days=day))
            newest = copies(path)[0]
            if 7 <= day != 15:
                assert 0 < sum(written) < newest.stat().st_size / 4
            assert rows_of(newest) == (2_001 + day, 0)
            with contextlib.closing(sqlite3.connect(path)) as hand:
                whole = tuple(hand.iterdump())
            with contextlib.closing(sqlite3.connect(newest)) as copy:
                assert tuple(copy.iterdump()) == whole


def test_old_texts_go_with_the_daily_copy_and_rows_stay(tmp_path: Path) -> None:
    """After thirty days a finished message is a row without its text; an open one keeps it."""
    with SqliteStore(tmp_path / "strawbell.db", NOW, owner=True) as store:
        store.enqueue([message(1), message(2)])
        store.move("k1", OutboxState.ACCEPTED, attempts=1, next_attempt_at=NOW, detail="")
        store.backup(NOW + timedelta(days=30))
        assert len(store.outbox(GARDEN, date.min)[0].body) == 9000
        store.backup(NOW + timedelta(days=30, seconds=1))
        assert [len(row.body) for row in store.outbox(GARDEN, date.min)] == [0, 9000]
        assert store.enqueue([message(1)]) == 0


def test_a_season_stays_small(tmp_path: Path) -> None:
    """180 days with a brief and two messages a day stay under 4 MB, texts thinned out."""
    path = tmp_path / "strawbell.db"
    words = "hold the feeding before heavy rain; water 4 l per bale on the top surface. "
    with SqliteStore(path, NOW, owner=True) as store:
        for day in range(180):
            at = NOW + timedelta(days=day)
            brief = {f"task {n}": f"{words}{random.Random(day + n).random()}" for n in range(90)}
            store.write(
                [
                    JournalEntry(at, GARDEN, at.date(), EntryKind.BRIEF, data=brief),
                    *(JournalEntry(at, GARDEN, at.date(), EntryKind.TOLD) for _ in range(5)),
                ]
            )
            body = "\n".join(brief.values()).encode() * 2
            for number in range(2):
                key = day * 2 + number
                one = OutboxRow(**{**_fields(message(key, at)), "body": body})
                store.enqueue([one])
                store.move(
                    f"k{key}", OutboxState.ACCEPTED, attempts=1, next_attempt_at=at, detail=""
                )
            if day % 10 == 0:
                store.backup(at)
    assert path.stat().st_size < 4_000_000


def _fields(row: OutboxRow) -> dict[str, object]:
    return {name: getattr(row, name) for name in OutboxRow.__slots__}


def test_a_step_of_the_layout_is_whole_or_not_at_all(
    state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A failing second statement undoes the first, keeps the version, and left a copy."""
    bad = Migration(NEWEST_VERSION + 1, ("ALTER TABLE journal ADD COLUMN soil TEXT", "NONSENSE"))
    opening = sys.modules["strawbell.edges.store.opening"]
    monkeypatch.setattr(opening, "migrations", lambda: (*connection.migrations(), bad))
    monkeypatch.setattr(opening, "NEWEST_VERSION", bad.number)
    with pytest.raises(OperationalError):
        SqliteStore(state, NOW, owner=True)
    hand = sqlite3.connect(state)
    assert hand.execute("PRAGMA user_version").fetchone()[0] == NEWEST_VERSION
    assert "soil" not in str(hand.execute("SELECT sql FROM sqlite_schema").fetchall())
    hand.close()
    before = state.parent / "backups" / f"strawbell-before-version-{bad.number}.db"
    assert before.exists()
    monkeypatch.undo()
    with SqliteStore(state, NOW, owner=True) as store:
        assert len(texts(store)) == 40


def test_a_failed_copy_leaves_the_older_ones_and_nothing_half_done(
    state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A damaged store is not copied over a good day."""
    kept = {copy.name: copy.read_bytes() for copy in copies(state)}
    safeguards = sys.modules["strawbell.edges.store.safeguards"]
    with SqliteStore(state, NOW, owner=True) as store:
        monkeypatch.setattr(safeguards, "problem_of", lambda _: "row missing")
        with pytest.raises(OperationalError, match="row missing"):
            store.backup(NOW)
    found = {copy.name: copy.read_bytes() for copy in (state.parent / "backups").iterdir()}
    assert found == kept


def test_a_good_step_of_the_layout_is_applied_once(
    state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rows stay, the version grows, and opening again changes nothing."""
    good = Migration(NEWEST_VERSION + 1, ("ALTER TABLE journal ADD COLUMN soil TEXT",))
    for name in ("opening", "examine", "safeguards"):
        module = sys.modules[f"strawbell.edges.store.{name}"]
        monkeypatch.setattr(module, "NEWEST_VERSION", good.number)
    opening = sys.modules["strawbell.edges.store.opening"]
    monkeypatch.setattr(opening, "migrations", lambda: (*connection.migrations(), good))
    for _ in range(2):
        with SqliteStore(state, NOW, owner=True) as store:
            assert store.incident == ""
            assert len(texts(store)) == 40


def test_the_steps_of_the_layout_are_numbered_without_a_gap() -> None:
    """Up to the newest version, each with a statement at least."""
    steps = connection.migrations()
    assert [each.number for each in steps] == list(range(1, NEWEST_VERSION + 1))
    assert all(each.statements for each in steps)


def test_the_store_says_whose_it_is(state: Path) -> None:
    """Application id and layout version stand in the file."""
    hand = sqlite3.connect(state)
    assert hand.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
    assert hand.execute("PRAGMA user_version").fetchone()[0] == NEWEST_VERSION
    assert hand.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    hand.close()


def test_commits_wait_for_the_disk(state: Path) -> None:
    """WAL with synchronous FULL: what is called sent survives a power cut."""
    with SqliteStore(state, NOW) as store:
        assert store._connection.execute("PRAGMA synchronous").fetchone()[0] == 2
        assert store._connection.execute("PRAGMA foreign_keys").fetchone()[0] == 1


def test_a_broken_rule_of_the_store_is_our_defect(state: Path) -> None:
    """An end that would change is a mistake of the program, not of the disk."""
    with SqliteStore(state, NOW) as store:
        store.move("k1", OutboxState.ACCEPTED, attempts=1, next_attempt_at=NOW, detail="")
        with pytest.raises(Defect):
            store.move("k1", OutboxState.LATER, attempts=1, next_attempt_at=NOW, detail="")
        assert store.outbox(GARDEN, date.min)[1].state is OutboxState.ACCEPTED


WRITER = """
import sys
from datetime import datetime, UTC
from pathlib import Path
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.journal import EntryKind, JournalEntry
NOW = datetime(2027, 4, 9, tzinfo=UTC)
store = SqliteStore(Path(sys.argv[1]), NOW, owner=True)
number = 0
while True:
    store.write([JournalEntry(NOW, "G", NOW.date(), EntryKind.SERVICE, text=str(number))] * 2)
    print(number, flush=True)
    number += 1
"""


def test_what_was_acknowledged_survives_a_kill(tmp_path: Path) -> None:
    """Ten times kill -9 in mid-write: each acknowledged pair is there, no half pair."""
    path = tmp_path / "strawbell.db"
    expected = 0
    for _ in range(10):
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True
        )
        assert writer.stdout is not None
        acknowledged = [writer.stdout.readline() for _ in range(20)]
        writer.send_signal(signal.SIGKILL)
        acknowledged += writer.stdout.readlines()
        writer.wait(10)
        writer.stdout.close()
        expected += len(acknowledged)
        with SqliteStore(path, NOW, owner=True) as store:
            assert store.incident == ""
            found = len(store.journal("G"))
        assert found % 2 == 0
        assert found // 2 >= expected
        expected = found // 2


@pytest.mark.parametrize(
    ("column", "damaged", "is_lost"),
    [
        ("body", "x'00'", True),
        ("fetched_at", "'2027-04-0q'", True),
        ("expires_at", "CAST(x'ff' AS TEXT)", True),
        ("etag", "CAST(x'ff' AS TEXT)", False),
    ],
)
def test_a_damaged_answer_counts_as_none(
    state: Path, column: str, damaged: str, is_lost: bool
) -> None:
    """It costs a request, not the morning; a mark of the service's may be anything."""
    with SqliteStore(state, NOW) as store:
        store.keep(CachedAnswer("u", "e", None, NOW, NOW, b"{}"))
        hand = sqlite3.connect(state, isolation_level=None)
        hand.execute(f"UPDATE answers SET {column} = {damaged}")
        hand.close()
        assert (store.load("u") is None) is is_lost


def test_a_locked_store_is_an_operational_error(
    state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever holds the file too long makes a sentence, not a traceback."""
    monkeypatch.setattr(connection, "BUSY_TIMEOUT_S", 0.05)
    with SqliteStore(state, NOW) as store:
        hand = sqlite3.connect(state, isolation_level=None)
        hand.execute("BEGIN IMMEDIATE")
        with pytest.raises(StrawbellError, match="locked"):
            store.write([entry(1)])
        hand.close()
        store.write([entry(1)])


def failing(code: int) -> sqlite3.OperationalError:
    """Return an error of SQLite as it comes with a result code."""
    error = sqlite3.OperationalError("disk I/O error")
    error.sqlite_errorcode = code
    return error


@pytest.mark.parametrize(
    ("code", "passing"),
    [
        (sqlite3.SQLITE_IOERR, True),
        (sqlite3.SQLITE_IOERR_READ, True),
        (sqlite3.SQLITE_BUSY, True),
        (sqlite3.SQLITE_FULL, True),
        (sqlite3.SQLITE_CANTOPEN, True),
        (sqlite3.SQLITE_IOERR_SHORT_READ, False),
        (sqlite3.SQLITE_CORRUPT, False),
        (sqlite3.SQLITE_NOTADB, False),
        (sqlite3.SQLITE_ERROR, False),
    ],
)
def test_a_failing_disk_is_told_from_damage(code: int, passing: bool) -> None:
    """A file shorter than it says is damaged."""
    assert is_passing(failing(code)) is passing


def test_a_disk_that_fails_while_it_is_looked_into_costs_no_store(
    state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is put aside and nothing begins anew: the next start finds all of it."""

    def fail(*_: object) -> None:
        raise failing(sqlite3.SQLITE_IOERR)

    with monkeypatch.context() as broken:
        broken.setattr(examine, "_finding_of", fail)
        with SqliteStore(state, NOW, owner=True) as store:
            assert store.incident == ""
    with SqliteStore(state, NOW, owner=True) as store:
        assert len(texts(store)) == 40
    assert not list(state.parent.glob("*.damaged-*"))


def test_a_store_has_a_secret_of_its_own_that_stays_and_goes_with_its_copies(
    tmp_path: Path,
) -> None:
    """The same after opening again and after a restore, another in another store."""
    path = tmp_path / "one" / "strawbell.db"
    with SqliteStore(path, NOW, owner=True) as store:
        secret = store.secret
        store.enqueue([message(1)])
        store.backup(NOW)
    with SqliteStore(path, NOW) as again:
        assert again.secret == secret
    path.write_bytes(b"")
    with SqliteStore(path, NOW, owner=True) as restored:
        assert restored.incident
        assert restored.secret == secret
    with SqliteStore(tmp_path / "two" / "strawbell.db", NOW, owner=True) as other:
        assert other.secret != secret


@pytest.mark.parametrize("kept", [None, b"", b"x" * 31])
def test_a_store_without_a_fit_secret_gets_one_once(tmp_path: Path, kept: bytes | None) -> None:
    """As one of an older layout, or one that a hand has been at."""
    path = tmp_path / "strawbell.db"
    SqliteStore(path, NOW, owner=True).close()
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as hand:
        hand.execute("UPDATE identity SET secret = ?", (kept,))
    with SqliteStore(path, NOW) as store:
        secret = store.secret
    with SqliteStore(path, NOW) as again:
        assert again.secret == secret
