"""What can happen to the files of a store, each as one act on a store of some days' use."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from strawbell.edges.store.connection import NEWEST_VERSION
from strawbell.edges.store.safeguards import copies, marker_path
from strawbell.edges.store.sqlite_store import SqliteStore
from support.used_store import (
    IN_ALL,
    IN_THE_COPY,
    NOW,
    PAGE_BYTES,
    entry,
    fill,
    message,
    overwrite,
    random_bytes,
)

MAGIC_BYTES = 16
WAL_HEADER_BYTES, FRAME_HEADER_BYTES = 32, 24
"""SQLite documentation, "Database File Format", 1.3, 4.1 and 4.2."""
RANDOM_PAGES = RANDOM_CUTS = range(20)
FEWER = range(10)


@dataclass(frozen=True)
class Damage:
    """One damage, and what a mending saves of the journal at least.

    `killed`: it is done to what a kill leaves, with a write-ahead file; else to what was ended in
    order. `refused`: what is said where no mending is for it.
    """

    name: str
    harm: Callable[[Path], object]
    keeps: int = IN_THE_COPY
    killed: bool = False
    refused: str = ""


def beginning(at: int, size: int, path: Path) -> None:
    """Put noise over a part of the first page."""
    overwrite(path, at, random_bytes(1, size))


def random_page(seed: int, path: Path) -> None:
    """Put noise over any page but the first."""
    overwrite(path, _any_page(seed, path) * PAGE_BYTES, random_bytes(seed, PAGE_BYTES))


def page_of_zeros(seed: int, path: Path) -> None:
    """Lose any page but the first, as a disk does that never wrote it."""
    overwrite(path, _any_page(seed, path) * PAGE_BYTES, bytes(PAGE_BYTES))


def page_of_another_place(seed: int, path: Path) -> None:
    """Put a sound page where another was, as a disk does that mixes its addresses up."""
    dice = random.Random(seed)
    pages = path.stat().st_size // PAGE_BYTES
    source, target = dice.sample(range(1, pages), 2)
    content = path.read_bytes()[source * PAGE_BYTES : (source + 1) * PAGE_BYTES]
    overwrite(path, target * PAGE_BYTES, content)


def _any_page(seed: int, path: Path) -> int:
    return random.Random(seed).randrange(1, path.stat().st_size // PAGE_BYTES)


def cut(seed: int, path: Path) -> None:
    """Cut the file anywhere: every other time at the end of a page."""
    size = random.Random(seed).randrange(1, path.stat().st_size - PAGE_BYTES)
    if seed % 2:
        size = max(size // PAGE_BYTES, 1) * PAGE_BYTES
    os.truncate(path, size)


def one_bit(seed: int, path: Path) -> None:
    """Turn one bit anywhere."""
    dice = random.Random(seed)
    at = dice.randrange(path.stat().st_size)
    (byte,) = path.read_bytes()[at : at + 1]
    overwrite(path, at, bytes([byte ^ 1 << dice.randrange(8)]))


def a_moment_that_is_none(path: Path) -> None:
    """One letter in the moment of a message's next attempt."""
    with closing(sqlite3.connect(path)) as hand, hand:
        hand.execute("UPDATE outbox SET next_attempt_at = '2027-03-3q' WHERE unique_key = 'k1'")


def the_text_of_a_message_gone(path: Path) -> None:
    """A message that waits would go out empty."""
    with closing(sqlite3.connect(path)) as hand, hand:
        hand.execute("DROP TRIGGER body_stays_until_the_end")
        hand.execute("DELETE FROM bodies WHERE unique_key = 'k1'")


def a_name_that_is_no_text(path: Path) -> None:
    """One letter of a name in the table of tables, which SQLite then quotes."""
    name = b"indexjournal_of_garden"
    overwrite(path, path.read_bytes().index(name) + len(name) - 1, b"\xa0")


def emptied(path: Path) -> None:
    """Leave a file of no bytes; SQLite opens it as a healthy database."""
    os.truncate(path, 0)


def vanished(path: Path) -> None:
    """Take the file away."""
    path.unlink()


def of_another_program(path: Path) -> None:
    """Put a database of another program in its place."""
    path.unlink()
    with closing(sqlite3.connect(path)) as other, other:
        other.execute("CREATE TABLE songs (name)")


def of_notes(path: Path) -> None:
    """Put a text in its place."""
    path.write_text("my notes\n" * 100, encoding="ascii")


def of_another_garden(path: Path) -> None:
    """Put another store of ours in its place, sound in itself."""
    with tempfile.TemporaryDirectory() as folder:
        other = Path(folder) / path.name
        fill(other)
        shutil.copyfile(other, path)


def never_ours(path: Path) -> None:
    """Name the database of another program as the store, where no store of ours was."""
    for one in path.parent.iterdir():
        shutil.rmtree(one) if one.is_dir() else one.unlink()
    path.touch()
    of_another_program(path)


def newer(path: Path) -> None:
    """Let a newer version have written it."""
    with closing(sqlite3.connect(path)) as hand, hand:
        hand.execute(f"PRAGMA user_version = {NEWEST_VERSION + 1}")


def without_copies(harm: Callable[[Path], object], path: Path) -> None:
    """Do some damage where no copy is left either."""
    shutil.rmtree(path.parent / "backups")
    harm(path)


def with_a_damaged_copy(harm: Callable[[Path], object], path: Path) -> None:
    """Do some damage where the newest copy is damaged as well."""
    (copy,) = copies(path)
    newest = copy.with_name(f"{path.stem}-2099-01-01.db")
    shutil.copyfile(copy, newest)
    overwrite(newest, PAGE_BYTES, random_bytes(3, PAGE_BYTES))
    harm(path)


def with_a_damaged_marker(harm: Callable[[Path], object], path: Path) -> None:
    """Do some damage where the file that remembers the store's rows is noise as well."""
    marker_path(path).write_bytes(random_bytes(4, 80))
    harm(path)


def wal_of(path: Path) -> Path:
    """Return the write-ahead file of a store."""
    return path.with_name(f"{path.name}-wal")


def garbage_wal(path: Path) -> None:
    """Noise of the same length."""
    overwrite(wal_of(path), 0, random_bytes(5, wal_of(path).stat().st_size))


def missing_wal(path: Path) -> None:
    """Copied without it, for example."""
    wal_of(path).unlink()


def cut_wal_header(path: Path) -> None:
    """Half of a header is left."""
    os.truncate(wal_of(path), WAL_HEADER_BYTES // 2 + 1)


def cut_wal(seed: int, path: Path) -> None:
    """The commits at its end are gone."""
    wal = wal_of(path)
    step = FRAME_HEADER_BYTES + PAGE_BYTES
    frames = (wal.stat().st_size - WAL_HEADER_BYTES) // step
    kept = random.Random(seed).randrange(frames)
    os.truncate(wal, WAL_HEADER_BYTES + kept * step + (seed % 2) * PAGE_BYTES // 2)


def damaged_wal_header(path: Path) -> None:
    """Four bytes of it."""
    overwrite(wal_of(path), 12, b"\xff\xff\xff\xff")


def damaged_first_frame(path: Path) -> None:
    """SQLite stops at it and passes over all that follows."""
    overwrite(wal_of(path), WAL_HEADER_BYTES + FRAME_HEADER_BYTES + 100, random_bytes(6, 500))


def foreign_wal(path: Path) -> None:
    """The write-ahead file of another store of ours, sound in itself."""
    with tempfile.TemporaryDirectory() as folder:
        other = Path(folder) / "other.db"
        fill(other)
        with SqliteStore(other, NOW, owner=True) as store:
            store.write([entry(number) for number in range(70, 90)])
            store.enqueue([message(number) for number in range(20, 30)])
            shutil.copyfile(wal_of(other), wal_of(path))


def wal_of_another_program(path: Path) -> None:
    """The write-ahead file of a stranger's database, sound in itself."""
    with tempfile.TemporaryDirectory() as folder:
        other = Path(folder) / "other.db"
        with closing(sqlite3.connect(other, isolation_level=None)) as stranger:
            stranger.execute("PRAGMA journal_mode = WAL")
            stranger.execute("CREATE TABLE songs (name)")
            stranger.execute("INSERT INTO songs VALUES ('a')")
            shutil.copyfile(wal_of(other), wal_of(path))


WAL_HARMS = (
    garbage_wal,
    missing_wal,
    cut_wal_header,
    damaged_wal_header,
    foreign_wal,
    damaged_first_frame,
)

DAMAGES: tuple[Damage, ...] = (
    Damage("the magic", partial(beginning, 0, MAGIC_BYTES)),
    Damage("page 1", partial(beginning, 0, PAGE_BYTES)),
    Damage("the mark of the program", partial(beginning, 68, 4)),
    Damage("the table of tables", partial(beginning, 100, 400)),
    *(Damage(f"random page {n}", partial(random_page, n)) for n in RANDOM_PAGES),
    *(Damage(f"page of zeros {n}", partial(page_of_zeros, n)) for n in FEWER),
    *(Damage(f"page of another place {n}", partial(page_of_another_place, n)) for n in FEWER),
    *(Damage(f"cut {n}", partial(cut, n)) for n in RANDOM_CUTS),
    Damage("a moment that is none", a_moment_that_is_none),
    Damage("the text of a message gone", the_text_of_a_message_gone),
    Damage("a name that is no text", a_name_that_is_no_text),
    Damage("zero length", emptied),
    Damage("vanished", vanished),
    Damage("vanished, without copies", partial(without_copies, vanished), 0),
    Damage("zero length, without copies", partial(without_copies, emptied), 0),
    Damage("page 1, without copies", partial(without_copies, partial(beginning, 0, PAGE_BYTES)), 0),
    Damage("zero length, newest copy damaged", partial(with_a_damaged_copy, emptied)),
    Damage("zero length, marker damaged", partial(with_a_damaged_marker, emptied)),
    Damage("vanished, marker damaged", partial(with_a_damaged_marker, vanished)),
    Damage("database of another program", of_another_program),
    Damage("a text", of_notes),
    Damage("another store of ours", of_another_garden),
    Damage("never ours", never_ours, 0, refused="not a store of Strawbell"),
    Damage("newer layout", newer, IN_ALL, refused="newer version of Strawbell"),
    *(Damage(harm.__name__, harm, IN_ALL, killed=True) for harm in WAL_HARMS),
    Damage("wal_of_another_program", wal_of_another_program, IN_ALL, killed=True),
    *(Damage(f"cut_wal {n}", partial(cut_wal, n), IN_ALL, killed=True) for n in FEWER),
    *(
        Damage(f"random page {n}, with a write-ahead file", partial(random_page, n), killed=True)
        for n in FEWER
    ),
    Damage("zero length, with a write-ahead file", emptied, killed=True),
    Damage("vanished, with a write-ahead file", vanished, killed=True),
)

BITS: tuple[Damage, ...] = tuple(Damage(f"bit {n}", partial(one_bit, n)) for n in range(60))
"""Apart from the others: SQLite keeps no checksums, so one letter of a text cannot be told from
another."""
