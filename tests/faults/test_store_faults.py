"""The store on a bad day: damaged, foreign, empty, full, read-only, shared, killed."""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import textwrap
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from strawbell.app.ports import CachedAnswer
from strawbell.edges.store import examine, schema
from strawbell.edges.store.backups import copies, newest_good
from strawbell.edges.store.connection import is_passing
from strawbell.edges.store.schema import APPLICATION_ID, NEWEST_VERSION, Migration
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import Defect, GrowerError, OperationalError, StrawbellError
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import OutboxRow, OutboxState
from support.measured import record
from support.queued import GARDEN, queued

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
PAGE_BYTES = 4096
SEEDS = range(20)


def entry(number: int, at: datetime = NOW) -> JournalEntry:
    return JournalEntry(
        at=at,
        garden=GARDEN,
        local_date=at.date(),
        kind=EntryKind.SERVICE,
        text=f"row {number}",
        data={"random": random.Random(number).randbytes(900).hex()},
    )


def message(number: int, at: datetime = NOW) -> OutboxRow:
    return queued(number, at, 9000)


def fill(path: Path) -> None:
    """Three days of use with a copy of yesterday, ended in order."""
    with SqliteStore(path, NOW, owner=True) as store:
        old = NOW - timedelta(days=2)
        store.write([entry(number, old) for number in range(20)])
        store.enqueue([message(number, old) for number in range(3)])
        store.backup(NOW - timedelta(days=1))
        store.write([entry(number) for number in range(20, 40)])
        store.enqueue([message(number) for number in range(3, 6)])


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("filled") / "strawbell.db"
    fill(path)
    return path.parent


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The files as a kill leaves them: the last changes are only in the write-ahead file."""
    folder = tmp_path_factory.mktemp("killed")
    source = tmp_path_factory.mktemp("living") / "strawbell.db"
    fill(source)
    with SqliteStore(source, NOW, owner=True) as store:
        store.write([entry(number) for number in range(40, 50)])
        store.enqueue([message(number) for number in range(6, 9)])
        shutil.copytree(source.parent, folder / "state")
    return folder / "state"


@pytest.fixture
def state(filled: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(filled, tmp_path / "state")) / "strawbell.db"


@pytest.fixture
def killed_state(killed: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(killed, tmp_path / "state")) / "strawbell.db"


def texts(store: SqliteStore) -> list[str]:
    return [row.text for row in store.journal(GARDEN)]


def every_row(store: SqliteStore) -> object:
    journal = [(row, dict(row.data)) for row in store.journal(GARDEN)]
    return journal, store.outbox(GARDEN, date.min)


def set_aside(path: Path) -> list[Path]:
    found = path.parent.glob("*.damaged-*")
    return [one for one in found if not one.name.endswith(("-wal", "-shm"))]


def check_mended(path: Path, damaged: bytes | None) -> SqliteStore:
    """Detected, kept, restored, told once, and old messages stay unsent."""
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


def random_bytes(seed: int, size: int) -> bytes:
    return random.Random(seed).randbytes(size)


def overwrite(path: Path, at: int, content: bytes) -> None:
    with path.open("r+b") as file:
        file.seek(at)
        file.write(content)


def test_a_sound_store_opens_without_a_word(state: Path) -> None:
    """Nothing is moved, nothing is told, and all rows are there."""
    before = state.read_bytes()
    with SqliteStore(state, NOW, owner=True) as store:
        assert store.incident == ""
        assert len(texts(store)) == 40
        assert len(store.due(NOW, ["email"])) == 6
    assert set_aside(state) == []
    assert len(before) > 20 * PAGE_BYTES


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


@pytest.mark.parametrize("seed", SEEDS)
def test_a_damaged_page_is_found_or_harmless(state: Path, seed: int) -> None:
    """Any page overwritten: mended, or every row still reads as before."""
    with SqliteStore(state, NOW) as store:
        before = every_row(store)
    pages = state.stat().st_size // PAGE_BYTES
    page = random.Random(seed).randrange(1, pages)
    overwrite(state, page * PAGE_BYTES, random_bytes(seed, PAGE_BYTES))
    damaged = state.read_bytes()
    with SqliteStore(state, NOW, owner=True) as store:
        if store.incident == "":
            assert every_row(store) == before
            return
        assert texts(store)[:20] == [f"row {number}" for number in range(20)]
        assert [one.read_bytes() for one in set_aside(state)] == [damaged]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_truncated_store_is_mended(state: Path, seed: int) -> None:
    """Cut anywhere, at a page or within one."""
    size = random.Random(seed).randrange(1, state.stat().st_size - PAGE_BYTES)
    if seed % 2:
        size = max(size // PAGE_BYTES, 1) * PAGE_BYTES
    os.truncate(state, size)
    damaged = state.read_bytes()
    with check_mended(state, damaged) as store:
        assert len(texts(store)) >= 20


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


def test_a_copy_made_under_a_clock_in_the_future_does_not_stay_the_newest(state: Path) -> None:
    """What counts is how much a copy holds, not the date in its name."""
    with SqliteStore(state, NOW, owner=True) as store:
        store.backup(NOW.replace(year=2099))
        store.write([entry(41)])
        store.backup(NOW)
    future, today, *_ = copies(state)
    assert "2099" in future.name
    assert newest_good(state) == today


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


def garbage_wal(wal: Path) -> None:
    overwrite(wal, 0, random_bytes(5, wal.stat().st_size))


def missing_wal(wal: Path) -> None:
    wal.unlink()


def cut_wal_header(wal: Path) -> None:
    os.truncate(wal, 17)


def damaged_wal_header(wal: Path) -> None:
    overwrite(wal, 12, b"\xff\xff\xff\xff")


def foreign_wal(wal: Path) -> None:
    """The write-ahead file of another store of ours, sound in itself."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "other.db"
        fill(path)
        with SqliteStore(path, NOW, owner=True) as store:
            store.write([entry(number) for number in range(70, 90)])
            store.enqueue([message(number) for number in range(20, 30)])
            shutil.copyfile(path.with_name("other.db-wal"), wal)


def damaged_first_frame(wal: Path) -> None:
    overwrite(wal, 32 + 24 + 100, random_bytes(6, 500))


@pytest.mark.parametrize(
    "harm",
    [
        garbage_wal,
        missing_wal,
        cut_wal_header,
        damaged_wal_header,
        foreign_wal,
        damaged_first_frame,
    ],
)
def test_a_harmed_write_ahead_file_is_found(
    killed_state: Path, harm: Callable[[Path], None]
) -> None:
    """SQLite would pass over it in silence, or fold a stranger's into the store."""
    harm(killed_state.with_name("strawbell.db-wal"))
    with check_mended(killed_state, killed_state.read_bytes()) as store:
        assert len(texts(store)) == 41, "what the main file held, not only yesterday's copy"


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
    bad = Migration(
        NEWEST_VERSION + 1, "bad", ("ALTER TABLE journal ADD COLUMN soil TEXT", "NONSENSE")
    )
    opening = sys.modules["strawbell.edges.store.opening"]
    monkeypatch.setattr(opening, "MIGRATIONS", (*schema.MIGRATIONS, bad))
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
    backups = sys.modules["strawbell.edges.store.backups"]
    with SqliteStore(state, NOW, owner=True) as store:
        monkeypatch.setattr(backups, "problem_of", lambda _: "row missing")
        with pytest.raises(OperationalError, match="row missing"):
            store.backup(NOW)
    found = {copy.name: copy.read_bytes() for copy in (state.parent / "backups").iterdir()}
    assert found == kept


def test_a_good_step_of_the_layout_is_applied_once(
    state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rows stay, the version grows, and opening again changes nothing."""
    good = Migration(NEWEST_VERSION + 1, "soil", ("ALTER TABLE journal ADD COLUMN soil TEXT",))
    for name in ("opening", "examine", "backups"):
        module = sys.modules[f"strawbell.edges.store.{name}"]
        monkeypatch.setattr(module, "NEWEST_VERSION", good.number)
    opening = sys.modules["strawbell.edges.store.opening"]
    monkeypatch.setattr(opening, "MIGRATIONS", (*schema.MIGRATIONS, good))
    for _ in range(2):
        with SqliteStore(state, NOW, owner=True) as store:
            assert store.incident == ""
            assert len(texts(store)) == 40


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


@pytest.mark.parametrize("owner", [True, False])
def test_a_folder_in_the_place_of_the_file_is_refused(tmp_path: Path, owner: bool) -> None:
    """Path and remedy in one sentence."""
    with pytest.raises(GrowerError, match=r"folder, not a file.*\[state\] path") as refusal:
        SqliteStore(tmp_path, NOW, owner=owner)
    assert str(tmp_path) in str(refusal.value)


def test_a_file_in_the_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    """The folder cannot be made."""
    (tmp_path / "state").touch()
    with pytest.raises(GrowerError, match="folder cannot be made"):
        SqliteStore(tmp_path / "state" / "strawbell.db", NOW, owner=True)


def test_a_pipe_in_the_place_of_the_file_is_refused(tmp_path: Path) -> None:
    """It is not waited for."""
    os.mkfifo(tmp_path / "strawbell.db")
    with pytest.raises(GrowerError, match="regular file"):
        SqliteStore(tmp_path / "strawbell.db", NOW, owner=True)


NOBODY = 65534

AS_NOBODY = """
import os, sys
from datetime import datetime, UTC
from pathlib import Path
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import GrowerError
if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
try:
    SqliteStore(Path(sys.argv[1]), datetime(2027, 4, 9, tzinfo=UTC), owner=True).close()
except GrowerError as error:
    print(error)
    sys.exit(2)
"""


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that another user can reach."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)


@pytest.mark.parametrize("case", ["file", "folder", "theirs", "missing-parent"])
def test_without_permission_the_path_and_a_remedy_are_named(case: str, open_folder: Path) -> None:
    """Read-only file, read-only folder, another user's file, a folder that cannot be made."""
    state = open_folder / "state"
    path = state / "strawbell.db"
    fill(path)
    for one in [state, *state.rglob("*")]:
        one.chmod(0o755 if one.is_dir() else 0o644)
        if os.geteuid() == 0 and case != "theirs":
            os.chown(one, NOBODY, NOBODY)
    if case == "file":
        path.chmod(0o444)
    elif case == "folder":
        state.chmod(0o555)
    elif case == "missing-parent":
        state.chmod(0o555)
        path = state / "deeper" / "strawbell.db"
    if os.geteuid() != 0 and case == "theirs":
        pytest.skip("only root can make a file of another user")
    done = subprocess.run(
        [sys.executable, "-c", AS_NOBODY, str(path)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    state.chmod(0o755)
    assert done.returncode == 2, done.stderr
    assert str(path) in done.stdout
    assert "[state] path" in done.stdout


FULL_DISK = """
import random, sys
from datetime import datetime, timedelta, UTC
from pathlib import Path
from strawbell.app.outbox import Memory, drain_channel
from strawbell.edges.clock import SystemClock
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import OperationalError
from strawbell.model.notice import *

folder = Path(sys.argv[1])
ballast = folder / "ballast"
NOW = datetime.now(UTC)

def message(key):
    return OutboxRow(key, "email", "g", f"<{key}>", random.Random(key).randbytes(1500), "s",
        "G", NOW.date(), NoticeKind.MORNING, OutboxState.DUE, 0, NOW, NOW,
        NOW + timedelta(days=1))

def fill_up():
    with ballast.open("ab", buffering=0) as file:
        for size in (65536, 4096, 512, 1):
            try:
                while True:
                    file.write(b"x" * size)
            except OSError:
                pass

class Channel:
    name, recipients = "email", ("g",)
    sent = []
    fill_while_sending = False
    def send(self, row):
        self.sent.append(row.unique_key)
        if self.fill_while_sending:
            fill_up()
        return Delivery(Outcome.ACCEPTED)
    def close(self):
        pass

store = SqliteStore(folder / "strawbell.db", NOW, owner=True)
channel, memory, clock, rng = Channel(), Memory(), SystemClock(), random.Random(1)

# Full while a message is written: it is not there, and the error is a sentence.
fill_up()
refused = 0
for number in range(40):
    try:
        store.enqueue([message(f"full{number}")])
    except OperationalError as error:
        assert str(folder) in str(error)
        refused += 1
assert refused > 0, "the disk was full"
# What cannot be claimed is not sent.
before = len(channel.sent)
report = drain_channel(store, channel, clock, rng, memory)
assert report.trouble or len(channel.sent) - before == report.count(OutboxState.ACCEPTED)
ballast.unlink()
drain_channel(store, channel, clock, rng, memory)
# Full while the server accepts: not sent again when there is room.
store.enqueue([message(f"later{number}") for number in range(20)])
channel.fill_while_sending = True
for _ in range(3):
    report = drain_channel(store, channel, clock, rng, memory)
channel.fill_while_sending = False
ballast.unlink()
for _ in range(2):
    report = drain_channel(store, channel, clock, rng, memory)
    assert report.trouble == ()
rows = store.outbox("G", NOW.date())
assert {row.state for row in rows} == {OutboxState.ACCEPTED}
lost = len({row.unique_key for row in rows} - set(channel.sent))
doubled = len(channel.sent) - len(set(channel.sent))
unknown = len(set(channel.sent) - {row.unique_key for row in rows})
store.backup(NOW)
store.close()
SqliteStore(folder / "strawbell.db", NOW, owner=True).close()
print("held", refused, len(rows), lost, doubled, unknown)
"""


def namespace(command: str, size_kib: int, folder: Path) -> list[str]:
    program = shutil.which("unshare")
    if program is None:
        pytest.skip("unshare is not installed")
    mount = f"mount -t tmpfs -o size={size_kib}k tmpfs {folder}"
    words = [program, "--user", "--map-root-user", "--mount", "sh", "-c"]
    if subprocess.run([*words, mount], capture_output=True, check=False).returncode != 0:
        pytest.skip("this machine allows no file system of one's own")
    return [*words, f"{mount} && exec {command}"]


@pytest.mark.parametrize("size_kib", [768, 1024, 2048])
def test_a_full_disk_loses_and_doubles_nothing(tmp_path: Path, size_kib: int) -> None:
    """Full while queueing, claiming and recording; with room again all goes out once."""
    script = tmp_path / "full.py"
    script.write_text(textwrap.dedent(FULL_DISK), encoding="utf-8")
    disk = tmp_path / "disk"
    disk.mkdir()
    command = namespace(f"{sys.executable} {script} {disk}", size_kib, disk)
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    word, *numbers = done.stdout.split()
    assert word == "held"
    refused, messages, lost, doubled, unknown = map(int, numbers)
    disk_of = f"disk of {size_kib} KiB"
    record(8, f"{disk_of}: refused in a sentence", refused, target=">= 1", varies=True)
    record(8, f"{disk_of}: messages when there is room", messages, target=">= 20", varies=True)
    wrong = lost + doubled + unknown
    record(8, f"{disk_of}: lost, doubled or sent without a record", wrong, target="= 0")


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


def test_an_answer_that_cannot_be_unpacked_counts_as_none(state: Path) -> None:
    """A damaged cache costs a request, not the morning."""
    with SqliteStore(state, NOW) as store:
        store.keep(CachedAnswer("u", None, None, None, NOW, b"{}"))
        hand = sqlite3.connect(state, isolation_level=None)
        hand.execute("UPDATE answers SET body = x'00'")
        hand.close()
        assert store.load("u") is None


def test_a_locked_store_is_an_operational_error(
    state: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever holds the file too long makes a sentence, not a traceback."""
    connection = sys.modules["strawbell.edges.store.connection"]
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
